"""A quick look at a stored row: is its body canonical beyond doubt, and does it say what the columns say?

A million entries must be verified in seconds. The envelope of an event always has the same keys in the same
order, so one pattern settles it; only the payload is parsed. Whatever this cannot settle (an escape, a letter
beyond ASCII, anything odd) is looked at closely by ``checking``, which also names what is wrong.
"""

from __future__ import annotations

import re
from typing import Any

from pydantic_core import from_json, to_json

from labcheck.caselog.stamps import SAFE
from labcheck.ledger.chain import Record

_WHOLE = rb"(?:0|[1-9][0-9]{0,14}|[1-8][0-9]{15})"
"""Whole numbers that are surely below 2**53; a wall time has sixteen digits until the year 2255."""
_TEXT = rb'"[^"\\\x00-\x1f]*"'
_STAMP = (
    rb'\{"boot_id":%(t)b,"boot_us":%(w)b,"mono_us":%(w)b,"off_s":-?%(w)b,"tz":%(t)b,'
    rb'"wall_us":%(w)b,"win_us":%(w)b\}'
)
_MOMENT = rb'\{"boot_id":(?:null|%(t)b),"boot_us":(?:null|%(w)b),"off_s":-?%(w)b,"tz":%(t)b,"wall_us":%(w)b\}'
_PARTS = {b"t": _TEXT, b"w": _WHOLE}
_BODY = re.compile(
    rb'\{"case":"([^"\\]*)","entered":'
    + _STAMP % _PARTS
    + rb',"epoch":([1-9][0-9]*),"from_mark":(?:null|%(w)b),"happened":' % _PARTS
    + _MOMENT % _PARTS
    + rb',"id":"([^"\\]*)","late_reason":(?:null|%(t)b),"mode":"[a-z]+","precision_s":%(w)b,"press":"[0-9a-f]{32}",'
    % _PARTS
    + rb'"prev":"([0-9a-f]{64})","recorder":"[A-Za-z0-9]+","seq":([1-9][0-9]*),"v":1,"what":(\{.*\})\}'
)


def settled(record: Record) -> bool:
    """True: canonical, and every column agrees with the body. False says nothing yet: look closely."""
    body = record.body
    if b"\\" in body or not body.isascii():
        return False
    found = _BODY.fullmatch(body)
    if found is None:
        return False
    case, epoch, event_id, prev, seq, what = found.groups()
    if (
        case.decode() != record.case
        or int(seq) != record.seq
        or event_id.decode() != record.event_id
        or int(epoch) != record.epoch
        or prev.decode() != record.prev.hex()
    ):
        return False
    try:
        payload = from_json(what)
    except ValueError:
        return False
    return bool(
        payload.get("kind") == record.kind
        and payload.get("target") == record.target
        and to_json(payload) == what
        and _in_order(payload)
    )


def _in_order(value: Any) -> bool:
    kind = type(value)
    if kind is dict:
        names = list(value)
        return names == sorted(names) and all(map(_in_order, value.values()))
    if kind is list:
        return all(map(_in_order, value))
    if kind is int:
        return bool(-SAFE <= value <= SAFE)
    return kind is not float
