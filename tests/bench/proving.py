"""What proving costs: ``python -m tests.bench.proving [--cases N]``.

Verify of many cases of 150 entries, against reading and hashing the same rows and doing nothing with them; its
growth with size; open and verify of one case of 300 entries. Times are of this machine: compare the ratios.
"""

from __future__ import annotations

import argparse
import hashlib
import sqlite3
import tempfile
import time
from collections.abc import Callable
from contextlib import closing
from itertools import product
from pathlib import Path

from labcheck.ledger.keys import LETTERS
from labcheck.ledger.resume import load
from labcheck.ledger.store import FileLedger, open_ledger
from labcheck.ledger.verify import verify
from tests.ledger.making import CHECKLIST, Maker

ENTRIES = 150


def main() -> None:
    """Measure and print."""
    asked = argparse.ArgumentParser(prog="python -m tests.bench.proving", description=__doc__)
    asked.add_argument("--cases", type=int, default=2_000)
    cases: int = asked.parse_args().cases
    with tempfile.TemporaryDirectory() as scratch:
        halves = Path(scratch) / "half", Path(scratch) / "whole"
        times = []
        for folder, count in zip(halves, (cases // 2, cases), strict=True):
            ledger = open_ledger(folder)
            fill(ledger, count)
            ledger.close()
            took = best(lambda folder=folder: demand_sound(folder))  # type: ignore[misc]
            times.append(took / (count * ENTRIES) * 1e6)
            bare = best(lambda folder=folder: hash_only(folder / "ledger.db"))  # type: ignore[misc]
            per_million = bare / (count * ENTRIES) * 1e6
            print(
                f"verify {count * ENTRIES} entries with mirrors: {took:.2f} s, {times[-1]:.1f} s a million; "
                f"reading and hashing alone {per_million:.1f} s a million; ratio {took / bare:.1f}"
            )
        print(f"twice as many entries cost {times[1] / times[0]:.2f} times as much each (linear is 1)")
        print(
            f"open, load and verify a case of 300 entries: "
            f"{best(lambda: one_case(Path(scratch) / 'one')) * 1000:.1f} ms"
        )


def fill(ledger: FileLedger, count: int, entries: int = ENTRIES) -> None:
    """So many cases."""
    ledger.keep_checklist(CHECKLIST)
    keys = ("".join(letters) for letters in product(LETTERS, repeat=3))
    for number, letters in zip(range(count), keys, strict=False):
        maker = Maker(f"{letters}2-M4", start=number * 1000)
        notes = [maker.note("as long as notes tend to be in a case") for _ in range(entries - 1)]
        maker.seq = 0
        opening = maker.opening()
        notes = [tuple(e.model_copy(update={"seq": e.seq + 1}) for e in note) for note in notes]
        ledger.append_case([opening, *notes])


def demand_sound(folder: Path) -> None:
    """Verify, and insist."""
    if faults := verify(folder):
        raise RuntimeError(str(faults[0]))


def hash_only(path: Path) -> None:
    """The least a verification can do."""
    with closing(sqlite3.connect(path)) as connection:
        for body, _ in connection.execute("SELECT CAST(body AS BLOB), hash FROM event"):
            hashlib.sha256(body).digest()


def one_case(folder: Path) -> None:
    """What resuming costs the ledger."""
    if not folder.exists():
        ledger = open_ledger(folder)
        fill(ledger, 1, 300)
        ledger.close()
    ledger = open_ledger(folder)
    (line,) = ledger.cases()
    load(ledger, line.case)
    if verify(ledger, line.case):
        raise RuntimeError("not sound")
    ledger.close()


def best(work: Callable[[], None], rounds: int = 3) -> float:
    """The shortest of some runs, in seconds: the others had company."""
    found = []
    for _ in range(rounds):
        start = time.perf_counter()
        work()
        found.append(time.perf_counter() - start)
    return min(found)


if __name__ == "__main__":
    main()
