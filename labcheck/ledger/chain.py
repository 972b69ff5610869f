"""The hash chain: each entry's digest covers its canonical bytes, which name the digest before it.

``hash = SHA-256(TAG + 0x00 + body)``; the body of entry 1 names 32 zero bytes. Only a head kept elsewhere (on
paper, in the mirror) shows a cut tail or a chain made anew, so the head has a short form for people to copy.
"""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from labcheck.caselog.events import Event, from_json, to_body
from labcheck.ledger import canonical

TAG = b"labcheck-event-v1"
SEED = TAG + b"\x00"
"""What stands before the body when it is hashed."""
FIRST_PREV = bytes(32)
BODY_LIMIT = 16_384
"""Bytes of one body: the opening event carries the whole plan with its measurements."""

SHORT_LETTERS = 16
"""Base32 letters on paper: 80 bits, enough against accident and casual change; files carry the full head."""


class Record(NamedTuple):
    """One stored row. ``body`` holds canonical bytes; ``prev`` and ``hash`` are 32 bytes each."""

    case: str
    seq: int
    event_id: str
    epoch: int
    kind: str
    target: int | None
    body: bytes
    prev: bytes
    hash: bytes

    def event(self) -> Event:
        """The event as it was appended."""
        return read_event(self.body, self.prev)


@dataclass(frozen=True, slots=True)
class Head:
    """Where a case stands: number and digest of its last entry, the epoch in force. Zero before entry 1."""

    seq: int
    hash_hex: str
    epoch: int

    @property
    def short(self) -> str:
        """The head as written on paper."""
        return short_head(self.hash_hex)


NO_HEAD = Head(seq=0, hash_hex=FIRST_PREV.hex(), epoch=0)


def digest(body: bytes) -> bytes:
    """The 32-byte digest of one body."""
    return hashlib.sha256(SEED + body).digest()


def link(event: Event, prev: bytes) -> Record:
    """Chain one event to the entry before it. Raises ``NotCanonical`` if it has no canonical bytes."""
    value = to_body(event)
    value["prev"] = prev.hex()
    body = canonical.encode(value)
    if len(body) > BODY_LIMIT:
        raise canonical.NotCanonical(f"entry {event.seq} takes {len(body)} bytes; the limit is {BODY_LIMIT}")
    return Record(
        case=event.case,
        seq=event.seq,
        event_id=event.id,
        epoch=event.epoch,
        kind=event.kind,
        target=event.target,
        body=body,
        prev=prev,
        hash=digest(body),
    )


def link_all(events: Iterable[Event], prev: bytes) -> list[Record]:
    """Chain the events of one press."""
    records: list[Record] = []
    for event in events:
        records.append(link(event, prev))
        prev = records[-1].hash
    return records


def same_content(record: Record, event: Event) -> bool:
    """Is the stored record this very event (whatever came before it)?"""
    return link(event, record.prev).body == record.body


def read_event(body: bytes, prev: bytes) -> Event:
    """The event inside a body.

    The chain's own field is cut out of the bytes: a quote inside a JSON string is always escaped, so these
    bytes can only be the key itself. Raises ``ValueError`` when the body is not an event.
    """
    inner = body.replace(b',"prev":"' + prev.hex().encode() + b'"', b"", 1)
    return from_json(inner)


def short_head(hash_hex: str) -> str:
    """The first 80 bits in base32 (RFC 4648: no 0, 1, 8, 9), in groups of four, to be copied by hand."""
    letters = base64.b32encode(bytes.fromhex(hash_hex)[:10]).decode()
    return "-".join(letters[at : at + 4] for at in range(0, SHORT_LETTERS, 4))


def same_head(typed: str, hash_hex: str) -> bool:
    """Does a head typed from paper (short form or full hex; any case, any spacing) match?"""
    plain = "".join(letter for letter in typed if letter.isalnum())
    if len(plain) == SHORT_LETTERS:
        return plain.upper() == short_head(hash_hex).replace("-", "")
    return plain.lower() == hash_hex


def head_of(records: Sequence[Record]) -> Head:
    """The head after these records."""
    if not records:
        return NO_HEAD
    last = records[-1]
    return Head(seq=last.seq, hash_hex=last.hash.hex(), epoch=last.epoch)
