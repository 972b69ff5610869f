"""A quick look at a stored row, for the many rows that are in order.

``fits`` asks whether the body is canonical and says what the columns say. The envelope every body shares is one
pattern: its keys in their order, numbers in their only spelling, text without escapes. What was said (``what``) is
parsed and written out again by the fast encoder: bytes that come back the same have no odd spaces, spellings or
doubled keys, and what is left is the order of the keys and the kinds of the values. A flat ``what`` that passed
shows the keys of its kind; from then on one pattern asks for envelope and payload together. Whatever this cannot
settle is looked at closely by ``checking``, which also names what is wrong.
"""

from __future__ import annotations

import re
import unicodedata
from binascii import hexlify
from functools import lru_cache
from typing import Any

from pydantic_core import from_json, to_json

from labcheck.caselog.events import KINDS
from labcheck.caselog.stamps import SAFE
from labcheck.ledger.chain import Record

Row = tuple[bytes, int, bytes, int, bytes, int | None, bytes, bytes, bytes]
"""A stored row in the order of ``Record``, text as the bytes that lie in the file."""

# Possessive, and one branch for each first digit: nothing here is ever tried twice.
_PLAIN = rb"[^\"\\\x00-\x1f]*+"
_TEXT = rb'"%b"' % _PLAIN
_NUMBER = rb"(?:[1-8][0-9]{0,15}+|9[0-9]{0,14}+|0|-[1-8][0-9]{0,15}+|-9[0-9]{0,14}+)"
"""Below 9 * 10**15, which is below 2**53; the few above are looked at closely."""
_VALUE = b"null|true|false|" + _TEXT + b"|" + _NUMBER
_MOMENT = (("boot_id", b"null|" + _TEXT), ("boot_us", b"null|" + _NUMBER), ("off_s", _NUMBER), ("tz", _TEXT))
_STAMP = (("boot_id", _TEXT), ("boot_us", _NUMBER), ("mono_us", _NUMBER), ("off_s", _NUMBER), ("tz", _TEXT))


def _object(*members: tuple[str, bytes]) -> bytes:
    named = (b'"%b":(?:%b)' % (re.escape(name).encode(), pattern) for name, pattern in members)
    return rb"\{%b\}" % b",".join(named)


def _body(what: bytes) -> re.Pattern[bytes]:
    """Bodies with such a payload. Groups: case, epoch, id, prev, seq, and what the payload captures."""
    return re.compile(
        _object(
            ("case", b'"(%b)"' % _PLAIN),
            ("entered", _object(*_STAMP, ("wall_us", _NUMBER), ("win_us", _NUMBER))),
            ("epoch", b"(%b)" % _NUMBER),
            ("from_mark", b"null|" + _NUMBER),
            ("happened", _object(*_MOMENT, ("wall_us", _NUMBER))),
            ("id", b'"(%b)"' % _PLAIN),
            ("late_reason", b"null|" + _TEXT),
            ("mode", _TEXT),
            ("precision_s", _NUMBER),
            ("press", _TEXT),
            ("prev", b'"(%b)"' % _PLAIN),
            ("recorder", _TEXT),
            ("seq", b"(%b)" % _NUMBER),
            ("v", b"1"),
            ("what", what),
        )
    )


_ANY = _body(rb"(\{.*\})")
_FLAT = frozenset({str, bool, int, type(None)})
_KINDS = frozenset(kind.encode() for kind in KINDS)
_learnt: dict[bytes, re.Pattern[bytes]] = {}


def as_row(record: Record) -> Row:
    """The record as a row of bytes."""
    case, seq, event_id, epoch, kind, target, body, prev, digest = record
    return case.encode(), seq, event_id.encode(), epoch, kind.encode(), target, body, prev, digest


def settled(record: Record) -> bool:
    """``fits`` for a record; False as well where a column holds no text that could be in a body."""
    try:
        return fits(as_row(record))
    except (AttributeError, UnicodeEncodeError):
        return False


def fits(row: Row) -> bool:
    """True: canonical, and every column agrees with the body. False says nothing yet: look closely."""
    case, seq, event_id, epoch, kind, target, body, prev, _ = row
    try:
        columns = (case, b"%d" % epoch, event_id, hexlify(prev), b"%d" % seq)
        pattern = _learnt.get(kind)
        if pattern is not None and (found := pattern.fullmatch(body)) is not None:
            sound = found.groups() == (columns if target is None else (*columns, b"%d" % target))
        elif (found := _ANY.fullmatch(body)) is not None:
            sound = found.group(1, 2, 3, 4, 5) == columns and _says(found[6], kind, target)
        else:
            return False
        return sound and (body.isascii() or unicodedata.is_normalized("NFC", body.decode()))
    except (ValueError, TypeError, KeyError, AttributeError):
        return False


def _says(said: bytes, kind: bytes, target: int | None) -> bool:
    """Is the payload canonical, of this kind, and about this target?"""
    what = from_json(said)
    if what["kind"].encode() != kind or what.get("target") != target or to_json(what) != said:
        return False
    if not _inside(what):
        return False
    if kind in _KINDS and kind not in _learnt and _FLAT.issuperset(map(type, what.values())):
        _learnt[kind] = _body(_object(*((name, _asked(name, kind)) for name in what)))
    return True


def _asked(name: str, kind: bytes) -> bytes:
    if name == "kind":
        return b'"%b"' % re.escape(kind)
    # Where there is a target it is a whole number; one that is null is left to the other pattern.
    return b"(%b)" % _NUMBER if name == "target" else _VALUE


def _inside(value: Any) -> bool:
    """Inside the canonical profile: keys in order, no floats, safe whole numbers."""
    kind = type(value)
    if kind is dict:
        return _sorted(tuple(value)) and all(map(_inside, value.values()))
    if kind is list:
        return all(map(_inside, value))
    return kind is str or value is None or kind is bool or (kind is int and -SAFE <= value <= SAFE)


@lru_cache(maxsize=1024)
def _sorted(names: tuple[str, ...]) -> bool:
    return list(names) == sorted(names) and all(map(str.isascii, names))
