"""Laying out plain lines of text for a terminal or a pipe."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence

GLUE = "\N{NO-BREAK SPACE}"
WIDTH = 80
"""Columns: what a remote shell has."""


def inert(line: str) -> str:
    """A line without anything that could steer a terminal: control and direction signs become blanks."""
    return "".join(c if c.isprintable() else " " for c in line).rstrip()


def heading(title: str) -> list[str]:
    """A part's title with a blank line above it and a rule below."""
    return ["", title, "-" * len(title)]


def wrapped(text: str, first: str = "", rest: str | None = None) -> list[str]:
    """Text broken at blanks, the first line behind ``first``, the others behind ``rest`` (or as far in)."""
    indent = " " * len(first) if rest is None else rest
    # A per cent sign stays with its number.
    lines = textwrap.wrap(
        text.replace(" %", f"{GLUE}%"),
        WIDTH,
        initial_indent=first,
        subsequent_indent=indent,
        break_on_hyphens=False,
    )
    return [line.replace(GLUE, " ") for line in lines] or [first.rstrip()]


def bullets(texts: Iterable[str]) -> list[str]:
    """One wrapped line each, with a sign in front; "none" where there is nothing."""
    out = [line for text in texts for line in wrapped(text, "  - ")]
    return out or ["  none"]


def table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> list[str]:
    """Columns set beside each other; the last one takes what is left of the width and wraps."""
    body = [head, *rows]
    if len(body) == 1:
        return ["  none"]
    widths = [max(len(row[n]) for row in body) for n in range(len(head) - 1)]
    out: list[str] = []
    for row in body:
        cells = "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=False))
        out.extend(wrapped(row[-1], f"  {cells}  ") if row[-1] else [f"  {cells}"])
    return out
