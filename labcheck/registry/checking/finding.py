"""What is wrong with a file, and where."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from labcheck.checklist.complaint import shown


@dataclass(frozen=True, slots=True)
class Finding:
    """One fault: where in the file, and what is wrong. Prints as one line."""

    where: str
    text: str

    def __str__(self) -> str:
        return f"{_place(self.where)}: {self.text}" if self.where else self.text


LONGEST_PLACE = 240


def _place(where: str) -> str:
    """The place on one line, whole: a place that is cut short leads nowhere."""
    safe = "".join(c if c.isprintable() else f"\\u{ord(c):04x}" for c in where[:LONGEST_PLACE])
    return safe + "..." if len(where) > LONGEST_PLACE else safe


_ANY_RFC3339 = re.compile(r"\d{4}-\d{2}-\d{2}T\d{2}:\d{2}:\d{2}(\.\d+)?(Z|[+-]\d{2}:\d{2})")


def instant(text: Any) -> datetime:
    """Any RFC 3339 time with an offset, calendar checked. Raises ``ValueError`` saying what is wrong with it."""
    if not isinstance(text, str) or not _ANY_RFC3339.fullmatch(text):
        raise ValueError(f'"{shown(text)}" is not a date and time with an offset')
    if text.endswith("-00:00"):
        raise ValueError(f'"{text}" hides its offset (-00:00)')
    try:
        # More than six decimals are legal but finer than anything here measures.
        return datetime.fromisoformat(re.sub(r"(\.\d{6})\d+", r"\1", text))
    except ValueError:
        raise ValueError(f'"{text}" is not in the calendar') from None
