"""What proving costs: ``python -m tests.bench.proving [--cases N]``.

Verify of many cases of 162 entries (6173 of them are a million entries), against reading and hashing the same rows
and doing nothing with them; its growth with size; open and verify of one case of 300 entries. Times are of this
machine and its company: compare the ratios. Processor time is of all processes together; on idle cores the wall
clock shows it divided by their number.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import sqlite3
import tempfile
import time
from collections.abc import Callable
from contextlib import closing
from itertools import product
from pathlib import Path

from labcheck.ledger.keys import LETTERS
from labcheck.ledger.proving import cores
from labcheck.ledger.resume import load
from labcheck.ledger.store import FileLedger, open_ledger
from labcheck.ledger.verify import verify
from tests.bench import many
from tests.ledger.making import CHECKLIST, Maker

ENTRIES = 150


def main() -> None:
    """Measure and print."""
    asked = argparse.ArgumentParser(prog="python -m tests.bench.proving", description=__doc__)
    asked.add_argument("--cases", type=int, default=2_000)
    cases: int = asked.parse_args().cases
    with tempfile.TemporaryDirectory() as scratch:
        halves = Path(scratch) / "half", Path(scratch) / "whole"
        each = []
        for folder, count in zip(halves, (cases // 2, cases), strict=True):
            entries = many.fill(folder, count)
            bare, bare_cpu = best(lambda folder=folder: hash_only(folder / "ledger.db"))  # type: ignore[misc]
            took, cpu = best(lambda folder=folder: demand_sound(folder))  # type: ignore[misc]
            each.append(cpu / entries)
            print(
                f"verify {entries} entries with mirrors, {cores()} cores: {took:.2f} s; a million: "
                f"{took / entries * 1e6:.1f} s, {cpu / entries * 1e6:.1f} s of processor time; read and hash "
                f"alone {bare / entries * 1e6:.1f} s; ratio {took / bare:.1f}, in work {cpu / bare_cpu:.1f}"
            )
        print(f"twice as many entries cost {each[1] / each[0]:.2f} times as much each (linear is 1)")
        one_case(Path(scratch) / "one")
        took, cpu = best(lambda: one_case(Path(scratch) / "one"), rounds=15)
        print(
            f"open, load and verify a case of 300 entries: {took * 1000:.1f} ms, of it {cpu * 1000:.1f} ms of work"
        )
        for name, step in parts(Path(scratch) / "one").items():
            print(f"  {name:24}{step * 1000:6.1f} ms")


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
    if faults := verify(folder, processes=cores()):
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


def parts(folder: Path) -> dict[str, float]:
    """The quickest of some runs of each step of ``one_case``, in seconds."""
    found: dict[str, float] = {}

    def step(name: str, work: Callable[[], object]) -> None:
        start = time.perf_counter()
        work()
        found[name] = min(found.get(name, 9.0), time.perf_counter() - start)

    for _ in range(15):
        opened: list[FileLedger] = []
        step("open", lambda opened=opened: opened.append(open_ledger(folder)))  # type: ignore[misc]
        ledger = opened[0]
        key = ledger.cases()[0].case
        step("hold against the mirror", lambda ledger=ledger, key=key: ledger.settle(key))  # type: ignore[misc]
        step("read as events", lambda ledger=ledger, key=key: ledger.events(key))  # type: ignore[misc]
        step("verify", lambda ledger=ledger, key=key: verify(ledger, key))  # type: ignore[misc]
        step("close", ledger.close)
    return found


def best(work: Callable[[], None], rounds: int = 3) -> tuple[float, float]:
    """The shortest of some runs, in seconds by the clock and of processor time: the others had company."""
    found = []
    for _ in range(rounds):
        start, before = time.perf_counter(), os.times()
        work()
        took, after = time.perf_counter() - start, os.times()
        found.append((took, sum(after[:4]) - sum(before[:4])))
    return min(took for took, _ in found), min(cpu for _, cpu in found)


if __name__ == "__main__":
    main()
