"""What a single row, and a row after another, must be. Used by verify on live ledgers and on archives.

SQLite's own check stays silent on most changes of content; here every column is held against the hashed body,
every digest against the body, and every row against the one before.
"""

from __future__ import annotations

from binascii import hexlify
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from hashlib import sha256
from typing import Any, Literal

from labcheck.caselog.events import AFTER_SEAL, KINDS, CaseSealed, Event
from labcheck.ledger import canonical
from labcheck.ledger.chain import FIRST_PREV, SEED, Head, Record, digest, read_event
from labcheck.ledger.envelope import Row, fits, settled

Where = Literal[
    "file",
    "schema",
    "row",
    "column",
    "canonical",
    "hash",
    "chain",
    "seal",
    "checklist",
    "list",
    "mirror",
    "head",
]


ORDINARY = frozenset(kind.encode() for kind in KINDS) - {b"case.opened", b"case.sealed", b"lease.taken"}
"""Kinds that change neither epoch nor what may follow."""
_AFTER_SEAL = frozenset(kind.encode() for kind in AFTER_SEAL)


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is wrong, and where: which case and entry, if it is one of them."""

    where: Where
    text: str
    case: str | None = None
    seq: int | None = None

    def __str__(self) -> str:
        place = f"case {self.case}" if self.case else "ledger"
        if self.seq is not None:
            place += f", entry {self.seq}"
        return f"{place}: {self.where}: {self.text}"


@dataclass(slots=True)
class Walk:
    """The state of a walk along one case: what the next row must follow, and what was learnt on the way.

    ``closely``: ask of every body as well whether it is an event of this program. Damage cannot leave a digest
    right, so this finds no more damage; it is for single cases and archives.
    """

    case: str
    closely: bool = True
    seq: int = 0
    epoch: int = 1
    prev: bytes = FIRST_PREV
    opening: Event | None = None
    sealed: Record | None = None
    rows: int = 0

    @property
    def head(self) -> Head:
        """The head so far."""
        return Head(self.seq, self.prev.hex(), self.epoch)

    def passes(self, row: Row) -> bool:
        """Is the next row beyond doubt? One question for the many; ``step`` says what is wrong with the few."""
        _, seq, _, epoch, kind, _, body, prev, found = row
        if (
            seq != self.seq + 1
            or prev != self.prev
            or epoch != self.epoch
            or kind not in ORDINARY
            or (self.sealed is not None and kind not in _AFTER_SEAL)
            or type(body) is not bytes
            or found != sha256(SEED + body).digest()
            or not fits(row)
            or (self.closely and not _is_event(body, prev))
        ):
            return False
        self.seq, self.prev = seq, found
        return True

    def step(self, record: Record) -> Iterator[Fault]:
        """The faults of the next row."""
        record = _readable(record)
        if record.hash != digest(record.body):
            yield self._fault(record, "hash", "the digest does not belong to the body")
        if record.seq != self.seq + 1:
            yield self._fault(record, "chain", f"follows entry {self.seq}; entries are missing or doubled")
        if record.prev != self.prev:
            yield self._fault(record, "chain", "does not name the digest of the entry before it")
        yield from self._content(record)
        self.seq, self.epoch, self.prev = record.seq, record.epoch, record.hash

    def _content(self, record: Record) -> Iterator[Fault]:
        if not settled(record):
            try:
                value = canonical.decode(record.body)
            except canonical.NotCanonical as odd:
                yield self._fault(record, "canonical", str(odd))
                return
            yield from self._columns(record, value)
        event: Event | None = None
        if self.closely or record.kind in ("case.opened", "case.sealed"):
            try:
                event = read_event(record.body, record.prev)
            except ValueError as odd:
                yield self._fault(record, "row", f"is no event of this program ({_brief(odd)})")
        yield from self._order(record, event)

    def _columns(self, record: Record, value: dict[str, Any]) -> Iterator[Fault]:
        what = value.get("what")
        inner = what if isinstance(what, dict) else {}
        for column, stored, hashed in (
            ("case_id", record.case, value.get("case")),
            ("seq", record.seq, value.get("seq")),
            ("event_id", record.event_id, value.get("id")),
            ("epoch", record.epoch, value.get("epoch")),
            ("kind", record.kind, inner.get("kind")),
            ("target_seq", record.target, inner.get("target") if "target" in inner else None),
            ("prev", record.prev.hex(), value.get("prev")),
        ):
            if stored != hashed:
                yield self._fault(
                    record, "column", f"{column} is {stored!r}, the hashed body says {hashed!r}"
                )

    def _order(self, record: Record, event: Event | None) -> Iterator[Fault]:
        first = self.seq == 0
        if first != (record.kind == "case.opened"):
            yield self._fault(record, "chain", "a case begins with one case.opened")
        leased = record.kind == "lease.taken" and record.epoch == self.epoch + 1 and not first
        if record.epoch != self.epoch and not leased:
            yield self._fault(record, "chain", f"epoch {record.epoch} after {self.epoch} without a lease")
        if self.sealed is not None and record.kind not in AFTER_SEAL:
            yield self._fault(record, "seal", f"{record.kind} after the seal (entry {self.sealed.seq})")
        if event is not None and first:
            self.opening = event
        if event is not None and isinstance(event.what, CaseSealed):
            self.sealed = record
            if event.what.entries != self.seq:
                yield self._fault(
                    record, "seal", f"counts {event.what.entries} entries, {self.seq} stand before it"
                )

    def _fault(self, record: Record, where: Where, text: str) -> Fault:
        return Fault(where, text, case=self.case, seq=record.seq)


def walk(case: str, rows: Iterable[Row], *, closely: bool = True) -> tuple[Walk, list[Fault], bytes]:
    """Walk along one case from its first row; the state at its end, the faults, and its mirror as it should be."""
    state = Walk(case, closely)
    faults: list[Fault] = []
    lines: list[bytes] = []
    for row in rows:
        body, found = row[6], row[8]
        if not state.passes(row):
            record = _readable(as_record(row))
            faults.extend(state.step(record))
            body, found = record.body, record.hash
        lines.append(b"%b %b\n" % (hexlify(found), body))
    state.rows = len(lines)
    return state, faults, b"".join(lines)


def _is_event(body: bytes, prev: bytes) -> bool:
    try:
        read_event(body, prev)
    except ValueError:
        return False
    return True


def as_record(row: Row) -> Record:
    """The row as a record. Damaged text must be named, not refused for its spelling."""
    case, seq, event_id, epoch, kind, target, body, prev, found = row
    return Record(_text(case), seq, _text(event_id), epoch, _text(kind), target, body, prev, found)


def _text(stored: object) -> str:
    return stored.decode("utf-8", "backslashreplace") if isinstance(stored, bytes) else str(stored)


def _readable(record: Record) -> Record:
    """A damaged row with something of the right type in every place, so that it can be named."""
    return record._replace(
        seq=record.seq if isinstance(record.seq, int) else -1,
        epoch=record.epoch if isinstance(record.epoch, int) else -1,
        body=record.body if isinstance(record.body, bytes) else b"",
        prev=record.prev if isinstance(record.prev, bytes) else b"",
        hash=record.hash if isinstance(record.hash, bytes) else b"",
    )


def _brief(error: ValueError) -> str:
    lines = [line.strip() for line in str(error).splitlines()]
    return ", ".join(lines[1:3]) if len(lines) > 2 else str(error)
