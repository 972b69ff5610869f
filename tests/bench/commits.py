"""A durable commit against the least a durable write can cost: append a line to a file and fsync it.

``python -m tests.bench.commits [--rounds N]``. Three kinds of save are taken in turns, so that whatever else the
machine does falls on all of them: the bare line, a press into a ledger without its mirror, a press with it.
"""

from __future__ import annotations

import argparse
import os
import tempfile
import time
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path
from statistics import median, quantiles

from labcheck.caselog.events import Event
from labcheck.commands import shelf
from labcheck.ledger.chain import Record
from labcheck.ledger.mirror import Mirror
from labcheck.ledger.store import FileLedger, open_ledger
from tests.bench.ledgers import long_presses

ROUNDS = 400
Presses = list[tuple[Event, ...]]


class NoMirror(Mirror):
    """Says yes and writes nothing."""

    def agree(self, case: str, entries: int, stored: Callable[[], Sequence[Record]]) -> int:
        """Nothing is ever missing."""
        return 0

    def append(self, case: str, records: Sequence[Record]) -> None:
        """Not written."""


def measure(folder: Path, rounds: int = ROUNDS) -> tuple[list[float], list[float], list[float]]:
    """Seconds of each append+fsync, each ledger append without and with its mirror, taken in turns."""
    alone, alone_presses = ready(folder / "alone", rounds)
    alone.mirror = NoMirror(folder / "alone")
    both, both_presses = ready(folder / "both", rounds)
    line = b"x" * 420 + b"\n"
    descriptor = os.open(folder / "plain", os.O_CREAT | os.O_WRONLY | os.O_APPEND, 0o600)

    def plain() -> None:
        os.write(descriptor, line)
        os.fsync(descriptor)

    times: tuple[list[float], list[float], list[float]] = ([], [], [])
    for first, second in zip(alone_presses, both_presses, strict=True):
        jobs: tuple[Callable[[], object], ...] = (
            plain,
            partial(alone.append, first),
            partial(both.append, second),
        )
        for found, job in zip(times, jobs, strict=True):
            start = time.perf_counter()
            job()
            found.append(time.perf_counter() - start)
    os.close(descriptor)
    alone.close()
    both.close()
    return times


def ready(folder: Path, rounds: int) -> tuple[FileLedger, Presses]:
    """A ledger and the presses of one long case."""
    _, text, _ = shelf.checklist("electrosurgical")
    ledger = open_ledger(folder)
    ledger.keep_checklist(text)
    return ledger, long_presses(ledger, rounds)


def main() -> None:
    """Measure and print."""
    asked = argparse.ArgumentParser(prog="python -m tests.bench.commits", description=__doc__)
    asked.add_argument("--rounds", type=int, default=1_000)
    with tempfile.TemporaryDirectory() as scratch:
        plain, alone, both = measure(Path(scratch), asked.parse_args().rounds)
    print(
        f"{'durable save, ms':28}{'median':>9}{'ratio':>7}{'p95':>9}{'ratio':>7}{'p99':>9}{'ratio':>7}{'quickest':>10}"
    )
    for name, times in (("append and fsync", plain), ("ledger", alone), ("ledger with mirror", both)):
        figures = [median(times), quantiles(times, n=20)[-1], quantiles(times, n=100)[-1]]
        bare = [median(plain), quantiles(plain, n=20)[-1], quantiles(plain, n=100)[-1]]
        shown = "".join(
            f"{ours * 1000:9.2f}{ours / least:7.2f}" for ours, least in zip(figures, bare, strict=True)
        )
        print(f"{name:28}{shown}{min(times) * 1000:10.2f}")
    print("aims: ledger 3 or less, with mirror 4 or less, p99 50 ms or less")


if __name__ == "__main__":
    main()
