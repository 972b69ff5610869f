"""The five promises of ``tests.faults.promises``, looked at in one place: every row of the matrix calls ``judge``."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from labcheck.caselog.events import ClockNoticed, Event
from labcheck.caselog.stamps import span
from labcheck.ledger.chain import Record
from labcheck.ledger.mirror import read
from labcheck.ledger.resume import load
from labcheck.ledger.store import FileLedger, open_ledger
from labcheck.ledger.verify import verify
from tests.faults.promises import LOOKED_AT, PROMISES
from tests.ledger.making import CASE

HALF = ".new"
"""A file that is being made has this ending until it is whole."""
CLOSE_US = 500_000
"""How far wall and boot clock may part unnoticed: the program tells every step of half a second."""


@dataclass
class Tally:
    """Counts of a sweep: what was tried and what came of it."""

    tried: int = 0
    acknowledged: int = 0
    lost: int = 0
    broken: int = 0
    extra: dict[str, int] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)

    def count(self, name: str, by: int = 1) -> None:
        """Count something of its own kind."""
        self.extra[name] = self.extra.get(name, 0) + by

    @property
    def clean(self) -> bool:
        """Did every promise hold, in at least one try?"""
        return self.tried > 0 and self.lost == 0 and self.broken == 0

    def __str__(self) -> str:
        more = "".join(f", {name} {count}" for name, count in sorted(self.extra.items()))
        return (
            f"tried {self.tried}, acknowledged entries checked {self.acknowledged}, "
            f"lost {self.lost}, broken {self.broken}{more}"
        )


def acks(said: str) -> dict[int, str]:
    """Entry number to head, of every acknowledgement in a child's output."""
    found: dict[int, str] = {}
    for line in said.splitlines():
        words = line.split()
        if len(words) == 3 and words[0] == "ack":
            found[int(words[1])] = words[2]
    return found


def heads(folder: Path, case: str = CASE) -> dict[int, str]:
    """Every entry of a case with its digest: what a case that is saved now must still hold afterwards."""
    ledger = open_ledger(folder, read_only=True)
    try:
        return {record.seq: record.hash.hex() for record in ledger.records(case)}
    finally:
        ledger.close()


def judge(
    folder: Path,
    acknowledged: Mapping[int, str],
    tally: Tally,
    what: str,
    *,
    case: str = CASE,
    made: bool = True,
    extra: int | None = None,
) -> None:
    """Take the ledger up as a console would, and count every promise that does not hold.

    ``made``: the entries are those of ``tests.ledger.making``, whose press numbers say how far apart they are.
    ``extra``: so many presses at most may be there that were never acknowledged.
    """
    tally.tried += 1
    tally.acknowledged += len(acknowledged)
    LOOKED_AT.update(PROMISES)
    try:
        ledger = open_ledger(folder)
    except Exception as refused:
        tally.broken += 1
        tally.notes.append(f"{what}: cannot be opened: {refused}")
        return
    try:
        if left := sorted(str(path.relative_to(folder)) for path in folder.rglob("*") if HALF in path.suffixes):
            tally.broken += 1
            tally.notes.append(f"{what}: half-made files stay: {left}")
        if not ledger.has(case):
            if acknowledged:
                tally.lost += len(acknowledged)
                tally.notes.append(f"{what}: the whole case is gone")
            else:
                tally.count("nothing acknowledged yet")
            return
        records = ledger.records(case)
        if unheard := {r.event_id[:32] for r in records if r.seq > max(acknowledged, default=0)}:
            tally.count("one press committed and not yet acknowledged")
            if extra is not None and len(unheard) > extra:
                tally.broken += 1
                tally.notes.append(f"{what}: {len(unheard)} presses are there that were never acknowledged")
        for promise, text in _broken(ledger, case, records, acknowledged, made):
            if promise in ("I1", "I3"):
                tally.lost += 1
            else:
                tally.broken += 1
            tally.notes.append(f"{what}: {promise}: {text}")
    except Exception as failed:
        tally.broken += 1
        tally.notes.append(f"{what}: {type(failed).__name__}: {failed}")
    finally:
        ledger.close()


def hold(
    folder: Path,
    acknowledged: Mapping[int, str],
    what: str,
    *,
    case: str = CASE,
    made: bool = True,
    extra: int | None = None,
) -> None:
    """Fail unless all five promises hold here."""
    tally = Tally()
    judge(folder, acknowledged, tally, what, case=case, made=made, extra=extra)
    assert tally.clean, tally.notes


def _broken(
    ledger: FileLedger, case: str, records: tuple[Record, ...], acknowledged: Mapping[int, str], made: bool
) -> Iterator[tuple[str, str]]:
    stored = {record.seq: record.hash.hex() for record in records}
    for seq, head in acknowledged.items():
        if seq not in stored:
            yield "I1", f"entry {seq} was acknowledged and is not there"
        elif stored[seq] != head:
            yield "I3", f"entry {seq} is not what was called saved"
    load(ledger, case)
    # A case by itself is not asked about the pages of the file, nor about the list of cases.
    for fault in dict.fromkeys(map(str, (*verify(ledger, case), *verify(ledger)))):
        yield "I2", fault
    yield from _doubled(ledger, case, records)
    events = [record.event() for record in records]
    yield from _intervals_as_made(events) if made else _intervals_as_clocked(events)


def _doubled(ledger: FileLedger, case: str, records: tuple[Record, ...]) -> Iterator[tuple[str, str]]:
    """Numbers without a gap, no id twice, and the second copy line for line the same."""
    if [record.seq for record in records] != list(range(1, len(records) + 1)):
        yield "I5", "the numbers have a gap or a double"
    ids = [record.event_id for record in records]
    if len(set(ids)) != len(ids):
        yield "I5", "an entry stands twice"
    lines, torn = read(ledger.mirror.path(case))
    if torn or [(line.hash_hex, line.body) for line in lines] != [(r.hash.hex(), r.body) for r in records]:
        yield "I5", "the second copy is not the same"


def _intervals_as_made(events: list[Event]) -> Iterator[tuple[str, str]]:
    """Made presses are a second apart for each number between them, and the press id holds the number."""
    first = events[0]
    for event in events[1:]:
        apart = (int(event.press[8:], 16) - int(first.press[8:], 16)) * 1_000_000
        found = span(first.happened, event.happened)
        if event.happened.boot_id == "made-boot" and (found.us, found.basis) != (apart, "boot"):
            yield "I4", f"entry {event.seq} is {found.us} us after the first, by {found.basis}; it was {apart}"


def _intervals_as_clocked(events: list[Event]) -> Iterator[tuple[str, str]]:
    """Within a boot, time by the boot clock; wall time agrees with it but for what the log says of the clocks."""
    last: Event | None = None
    told_us = 0
    for event in events:
        if isinstance(event.what, ClockNoticed) and event.what.notice in ("step", "drift"):
            told_us += event.what.amount_us
        if event.mode != "live":
            continue
        if last is not None and event.entered.boot_id == last.entered.boot_id:
            passed = span(last.entered.moment(), event.entered.moment())
            walled = event.entered.wall_us - last.entered.wall_us - told_us
            # It may be earlier: a press keeps the stamp of its key, also when a tick was written before it.
            if passed.basis != "boot":
                yield "I4", f"entry {event.seq} came {passed.us} us after the one before, by {passed.basis}"
            elif abs(walled - passed.us) > CLOSE_US:
                yield "I4", f"entry {event.seq}: wall {walled} us and boot {passed.us} us since the one before"
        last, told_us = event, 0
