"""Two quick looks at a stored row, for the many rows that are in order.

``agrees`` asks only whether the body says what the columns say: enough beside the digest when a million entries
are proved, because damage cannot leave a digest right. ``settled`` asks as well whether the body is canonical:
parsed and written out again by the fast encoder, a body that comes back byte for byte has no odd spaces, spellings
or doubled keys, and what is left is the order of the keys and the kinds of the values. Whatever they cannot settle
is looked at closely by ``checking``, which also names what is wrong.
"""

from __future__ import annotations

from typing import Any

from pydantic_core import from_json, to_json

from labcheck.caselog.events import Event
from labcheck.caselog.stamps import SAFE, Moment, Stamp
from labcheck.ledger.chain import Record

_ENVELOPE = tuple(sorted((*Event.model_fields, "prev")))
_STAMP = tuple(sorted(Stamp.model_fields))
_MOMENT = tuple(sorted(Moment.model_fields))
_FLAT = frozenset({str, bool, int, type(None)})
_KINDS = _FLAT | {dict}


def agrees(record: Record) -> bool:
    """True: the columns are what the body says. False says nothing yet: look closely.

    A quote inside JSON text is always escaped, so these pieces can only be keys of the envelope and their values.
    """
    body = record.body
    if record.target is not None or b'"fact":{' in body:
        return False
    return (
        body.startswith(b'{"case":"%b","entered":{' % record.case.encode())
        and b'},"id":"%b","late_reason":' % record.event_id.encode() in body
        and b',"prev":"%b","recorder":"' % record.prev.hex().encode() in body
        and b',"seq":%d,"v":1,"what":{' % record.seq in body
        and b',"epoch":%d,"from_mark":' % record.epoch in body
        and b'"kind":"%b"' % record.kind.encode() in body
    )


def settled(record: Record) -> bool:
    """True: canonical, and every column agrees with the body. False says nothing yet: look closely."""
    body = record.body
    if not body.isascii():
        return False
    try:
        value = from_json(body)
        if (
            tuple(value) != _ENVELOPE
            or value["seq"] != record.seq
            or value["id"] != record.event_id
            or value["case"] != record.case
            or value["epoch"] != record.epoch
            or value["prev"] != record.prev.hex()
        ):
            return False
        what, entered, happened = value["what"], value["entered"], value["happened"]
        return (
            what["kind"] == record.kind
            and what.get("target") == record.target
            and tuple(entered) == _STAMP
            and tuple(happened) == _MOMENT
            and to_json(value) == body
            and _plain(entered)
            and _plain(happened)
            and _KINDS.issuperset(map(type, value.values()))
            and ((_plain(what) and list(what) == sorted(what)) or _in_order(what))
        )
    except (ValueError, TypeError, KeyError, AttributeError):
        return False


def _plain(flat: dict[str, Any]) -> bool:
    """Text, truth values, nulls and safe whole numbers only; nothing nested, no floats."""
    return _FLAT.issuperset(map(type, flat.values())) and all(
        -SAFE <= number <= SAFE for number in flat.values() if type(number) is int
    )


def _in_order(value: Any) -> bool:
    kind = type(value)
    if kind is dict:
        names = list(value)
        return names == sorted(names) and all(map(_in_order, value.values()))
    if kind is list:
        return all(map(_in_order, value))
    return kind in _FLAT and (kind is not int or -SAFE <= value <= SAFE)
