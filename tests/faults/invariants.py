"""What must hold after every fault.

I1 what was acknowledged is there, I2 the chain proves itself, I3 nothing was called saved that is not,
I4 intervals are right, I5 nothing was rewritten. I1, I3 and I5 are one comparison here: every acknowledged head
must still be the digest of its entry.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from labcheck.ledger.resume import load
from labcheck.ledger.store import open_ledger
from labcheck.ledger.verify import verify
from tests.ledger.making import CASE


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


def judge(folder: Path, acknowledged: dict[int, str], tally: Tally, what: str) -> None:
    """Take the ledger up as a console would, and count every promise that does not hold."""
    tally.tried += 1
    tally.acknowledged += len(acknowledged)
    try:
        ledger = open_ledger(folder)
    except Exception as refused:
        tally.broken += 1
        tally.notes.append(f"{what}: cannot be opened: {refused}")
        return
    try:
        if not ledger.has(CASE):
            if acknowledged:
                tally.lost += len(acknowledged)
                tally.notes.append(f"{what}: the whole case is gone")
            else:
                tally.count("nothing acknowledged yet")
            return
        stored = {record.seq: record.hash.hex() for record in ledger.records(CASE)}
        gone = [seq for seq, head in acknowledged.items() if stored.get(seq) != head]
        tally.lost += len(gone)
        if gone:
            tally.notes.append(f"{what}: entries {gone} are not as acknowledged")
        if len(stored) > max(acknowledged, default=0):
            tally.count("one press committed and not yet acknowledged")
        load(ledger, CASE)
        if faults := verify(ledger):
            tally.broken += 1
            tally.notes.append(f"{what}: {faults[0]}")
    except Exception as failed:
        tally.broken += 1
        tally.notes.append(f"{what}: {type(failed).__name__}: {failed}")
    finally:
        ledger.close()
