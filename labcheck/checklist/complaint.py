"""What is wrong with a checklist: each fault in one line that says where, with the nearest right word."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from difflib import get_close_matches

SHOWN = 60
"""Longest piece of somebody else's text that a complaint quotes, in characters."""


def shown(value: object) -> str:
    """``value`` as safe text: control and format characters escaped, cut to ``SHOWN`` characters."""
    if isinstance(value, int) and value.bit_length() > 200:
        return "a huge number"
    text = value if isinstance(value, str) else str(value)
    cut = text[:SHOWN]
    safe = "".join(c if c.isprintable() else f"\\u{ord(c):04x}" for c in cut)
    return safe + "..." if len(text) > SHOWN else safe


def nearest(word: str, right: Iterable[str]) -> str | None:
    """The right spelling that is closest to ``word``, or None where nothing comes near."""
    close = get_close_matches(word[:SHOWN], list(right), n=1, cutoff=0.6)
    return close[0] if close else None


@dataclass(frozen=True, slots=True)
class Complaint:
    """One fault. ``where`` leads from the table to the key, as in ``("stage traverse", "key title")``."""

    file: str
    where: tuple[str, ...]
    text: str
    nearest: str | None = None

    def __str__(self) -> str:
        place = ", ".join(shown(part) for part in self.where)
        line = f"{shown(self.file)}: {place}: {self.text}" if place else f"{shown(self.file)}: {self.text}"
        return f'{line}; the nearest right spelling is "{self.nearest}"' if self.nearest else line


class ChecklistError(ValueError):
    """The file cannot be used. ``complaints`` says why; each prints as one line."""

    def __init__(self, complaints: tuple[Complaint, ...]) -> None:
        super().__init__("\n".join(str(complaint) for complaint in complaints))
        self.complaints = complaints
