"""All stored rows as one CSV, against the sqlite3 command line's own: ``python -m tests.bench.rows [--cases N]``.

Ours proves every row, digest, chain and mirror on the way; sqlite3 proves nothing. It is asked for the same columns
(three of them lie inside the JSON), and for the columns that are stored alone. 9260 cases are 1.5 million entries.
Processor time is of all processes together; on idle cores the clock shows it divided by their number.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path

from tests.bench import many

STORED = "SELECT case_id, seq, kind, body, lower(hex(hash)) FROM event ORDER BY case_id, seq"
SAME = (
    "SELECT case_id, seq, kind, json_extract(body, '$.happened.wall_us'), json_extract(body, '$.entered.wall_us'), "
    "json_extract(body, '$.mode'), target_seq, body, lower(hex(hash)) FROM event ORDER BY case_id, seq"
)


def main() -> None:
    """Measure and print."""
    asked = argparse.ArgumentParser(prog="python -m tests.bench.rows", description=__doc__)
    asked.add_argument("--cases", type=int, default=1_000)
    asked.add_argument("--rounds", type=int, default=3)
    asked.add_argument("--ledger", type=Path, default=None, help="a ledger that many.fill has made")
    chosen = asked.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        folder = chosen.ledger or Path(scratch) / "ledger"
        if chosen.ledger is None:
            print(f"{many.fill(folder, chosen.cases)} entries")
        out = Path(scratch) / "out"
        ours = [sys.executable, "-m", "labcheck", "--ledger", str(folder), "events", "--profile", "hospital"]
        jobs = {
            "sqlite3, stored columns": ["sqlite3", "-csv", str(folder / "ledger.db"), STORED],
            "sqlite3, same columns": ["sqlite3", "-csv", str(folder / "ledger.db"), SAME],
            "labcheck, proved": [*ours, "--rehearsals", "--to", str(out)],
        }
        times: dict[str, list[tuple[float, float]]] = {name: [] for name in jobs}
        for _ in range(chosen.rounds):
            for name, words in jobs.items():
                times[name].append(timed(words, Path(scratch) / "sqlite.csv"))
        report(times)


def timed(words: Sequence[str], to: Path) -> tuple[float, float]:
    """Seconds by the clock and of processor time; standard output goes into a file."""
    start, before = time.perf_counter(), os.times()
    with to.open("wb") as file:
        subprocess.run(words, stdout=file, check=True)
    after = os.times()
    return time.perf_counter() - start, sum(after[2:4]) - sum(before[2:4])


def report(times: dict[str, list[tuple[float, float]]]) -> None:
    """The quickest of each, and how many times longer ours took than either of the others."""
    quickest = {name: tuple(map(min, zip(*found, strict=True))) for name, found in times.items()}
    *others, ours = quickest
    print(f"{'':28}{'clock':>10}{'processor':>12}   ours to it, by the clock and in work")
    for name in quickest:
        clock, work = quickest[name]
        ratios = (
            f"   {quickest[ours][0] / clock:.1f}, {quickest[ours][1] / work:.1f}" if name in others else ""
        )
        print(f"{name:28}{clock:>8.2f} s{work:>10.2f} s{ratios}")


if __name__ == "__main__":
    main()
