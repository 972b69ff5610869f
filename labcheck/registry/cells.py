"""How a value becomes a CSV cell, so that no spreadsheet takes a text for a formula, a number or a date.

Text that a spreadsheet might take for something else gets one apostrophe in front; so does text that begins
with one. A reader undoes it by taking one leading apostrophe away. Numbers are never touched, so a negative
number stays one; times and ids have their own form (``...T...+01:00``, a leading letter) and need no guard.
"""

from __future__ import annotations

import json
import re
from decimal import Decimal
from typing import Any

GUARD = "'"
_LOOKS_LIKE_MORE = re.compile(
    r"(true|false|(jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]*[\s.,/-]*\d.*)",
    re.IGNORECASE | re.DOTALL,
)
_CONTROLS = dict.fromkeys([*range(9), 11, 12, 13, *range(14, 32), 127, *range(0x80, 0xA0)], "\ufffd")
"""C0 and C1 controls but tab and newline: no CSV reader, terminal or XML parser takes them all."""
_UNSEEN = dict.fromkeys(
    [
        0x061C, 0x200B, 0x200E, 0x200F, *range(0x2028, 0x202F), 0x2060, *range(0x2066, 0x206A), 0xFEFF,
        *range(0xE0000, 0xE0080),
    ],
    "\ufffd",
)  # fmt: skip
"""Signs that turn text round, break its line or hide in it; the joiners of some scripts are not among them."""
_INERT = _CONTROLS | _UNSEEN
_STEERING = frozenset([*map(chr, range(0x7F, 0xA0)), *map(chr, _UNSEEN)])
_BEYOND_ASCII = re.compile("[^\x00-\x7e]+")


def inert(text: str) -> str:
    """The text with control and direction signs replaced by U+FFFD; tab and newline stay."""
    return text if text.isascii() and text.isprintable() else text.translate(_INERT)


def escaped(json_text: str) -> str:
    """JSON with those signs as escapes: the same values to every reader, and no act on a terminal that shows it."""
    # Two hundred searches for one sign each are two hundred times faster than one search for any of them.
    found = any(sign in json_text for sign in _STEERING)
    return _BEYOND_ASCII.sub(_escape, json_text) if found else json_text


def _escape(found: re.Match[str]) -> str:
    return "".join(json.dumps(sign)[1:-1] if sign in _STEERING else sign for sign in found[0])


def guarded(text: str) -> str:
    """The text as a cell that every spreadsheet keeps as text."""
    text = inert(text)
    if not text or (text[0].isalpha() and not _LOOKS_LIKE_MORE.fullmatch(text)):
        return text
    return GUARD + text


def unguarded(cell: str) -> str:
    """The text behind a guarded cell."""
    return cell[1:] if cell.startswith(GUARD) else cell


def cell(value: Any, *, text: bool) -> str:
    """One value as a cell. ``text``: the column holds words, not an id, a time or one of a fixed list."""
    if isinstance(value, str):
        return guarded(value) if text else value
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    return plain(value) if isinstance(value, float) else str(value)


def plain(value: float) -> str:
    """A number without exponent and without needless zeros."""
    if value.is_integer() and abs(value) < 1e15:
        return str(int(value))
    return format(Decimal(repr(value)), "f")
