"""Reading TOML that nobody vouches for into plain values, within limits that keep it quick.

Also used for plans and scripts: whatever a person can hand over as a file passes through here.
"""

from __future__ import annotations

import tomllib
import unicodedata
from decimal import Decimal, InvalidOperation
from typing import Any

from labcheck.checklist.complaint import ChecklistError, Complaint, shown

MAX_BYTES = 256 * 1024
MAX_DEPTH = 12
MAX_LIST = 2000
MAX_KEYS = 100
MAX_DIGITS = 30
MAX_DOTS_IN_LINE = 12
MAX_DOTS = 10_000
"""Most full stops outside comments. The parser's work grows with the square of a dotted key's length."""

_FREE_TEXT = "note"
"""The one key whose text may run over several lines."""

_BIDI_AND_INVISIBLE = frozenset(
    [
        0x061C, *range(0x202A, 0x202F), *range(0x2066, 0x206A), 0x200B, 0x200E, 0x200F, 0x2028, 0x2029, 0x2060, 0xFEFF,
        *range(0xE0000, 0xE0080),
    ]
)  # fmt: skip


def parse_toml(text: bytes | str, name: str) -> dict[str, Any]:
    """The tables of a TOML file. Numbers keep the digits that were written; lists become tuples.

    Raises ``ChecklistError`` with one complaint for anything that is not TOML, is too large or too deep,
    or hides control characters. ``name`` is the file's name in the complaint.
    """

    def refuse(text: str, where: tuple[str, ...] = ()) -> ChecklistError:
        return ChecklistError((Complaint(name, where, text),))

    body = _decoded(text, refuse)
    _few_dots(body, refuse)
    try:
        data = tomllib.loads(body, parse_float=_decimal)
    except RecursionError:
        raise refuse("is nested too deeply to be read") from None
    except ValueError as error:  # TOMLDecodeError is one; so is a number with thousands of digits
        raise refuse(f"is not valid TOML: {shown_message(error)}") from None
    return _walk(data, (), refuse)  # type: ignore[no-any-return]


def shown_message(error: Exception) -> str:
    """The parser's own words, without control characters, on one line."""
    text = str(error)
    if "integer string conversion" in text:
        return "a whole number has too many digits"
    return "".join(c if c.isprintable() else " " for c in text)[:160]


def _decoded(text: bytes | str, refuse: Any) -> str:
    size = len(text) if isinstance(text, bytes) else len(text.encode("utf-8", "surrogatepass"))
    if size > MAX_BYTES:
        raise refuse(f"is larger than {MAX_BYTES // 1024} KiB ({size} bytes); a checklist is never that long")
    if isinstance(text, bytes):
        try:
            text = text.decode("utf-8")
        except UnicodeDecodeError as error:
            raise refuse(f"is not UTF-8 text (byte {error.start + 1}); save it as UTF-8") from None
    # Some editors put a byte order mark first; the parser would call it an invalid statement.
    return text.removeprefix("\ufeff")


def _few_dots(body: str, refuse: Any) -> None:
    total = 0
    for number, line in enumerate(body.split("\n"), 1):
        dots = 0 if line.lstrip().startswith("#") else line.count(".")
        total += dots
        if dots > MAX_DOTS_IN_LINE:
            raise refuse(f"line {number} holds more than {MAX_DOTS_IN_LINE} full stops; break it up")
    if total > MAX_DOTS:
        raise refuse(f"holds more than {MAX_DOTS} full stops")


def _decimal(text: str) -> Decimal:
    try:
        value = Decimal(text)
    except InvalidOperation:
        raise ValueError(f"the number {shown(text)} is outside any sensible size") from None
    if not value.is_finite():
        raise ValueError(f"{shown(text)} is not a number that can be used here")
    return value


def _walk(value: Any, where: tuple[str, ...], refuse: Any) -> Any:
    if len(where) > MAX_DEPTH:
        raise refuse(f"is nested more than {MAX_DEPTH} deep", where[:2])
    if isinstance(value, dict):
        if len(value) > MAX_KEYS:
            raise refuse(f"has more than {MAX_KEYS} keys", where)
        for key in value:
            _plain(key, (*where, "a key"), refuse, several_lines=False)
        return {key: _walk(item, (*where, f"key {key}"), refuse) for key, item in value.items()}
    if isinstance(value, list):
        if len(value) > MAX_LIST:
            raise refuse(f"has more than {MAX_LIST} entries", where)
        return tuple(_walk(item, (*where, f"number {n}"), refuse) for n, item in enumerate(value, 1))
    if isinstance(value, str):
        _plain(value, where, refuse, several_lines=bool(where) and where[-1] == f"key {_FREE_TEXT}")
        # An accent may be written apart from its letter; the ledger keeps one spelling only.
        return unicodedata.normalize("NFC", value)
    elif isinstance(value, int) and value.bit_length() > 63:
        raise refuse("is a whole number outside any sensible size", where)
    elif isinstance(value, Decimal) and len(value.as_tuple().digits) > MAX_DIGITS:
        raise refuse(f"has more than {MAX_DIGITS} digits", where)
    return value


def _plain(text: str, where: tuple[str, ...], refuse: Any, *, several_lines: bool) -> None:
    for char in text:
        code = ord(char)
        if char == "\n" and several_lines:
            continue
        surrogate = 0xD800 <= code < 0xE000
        if code < 0x20 or 0x7F <= code < 0xA0 or surrogate or code in _BIDI_AND_INVISIBLE:
            raise refuse(f"holds the control character U+{code:04X}; take it out", where)
