"""The long form of the sweeps: ``python -m tests.faults.full [NAME...]``, about three quarters of an hour.

Prints one line for each, with counts, and ends with 1 if any promise was broken. The short forms run with the
other tests. Names: cuts, kills, errors, flips, tampering, stops, screens.
"""

from __future__ import annotations

import re
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from labcheck.ledger.verify import verify
from tests.faults import errors, flips, kills, powercut, stopping
from tests.faults.invariants import Tally
from tests.faults.tampering import CHAIN_SHOWS, ONLY_A_HEAD_SHOWS, unguarded
from tests.faults.tracing import ROOT, environment
from tests.ledger.making import CASE

Sweep = Callable[[Path], Tally]


def cuts(scratch: Path) -> Tally:
    """Every operation of a run of 60 presses: dropped, kept, torn three times."""
    operations = powercut.record(scratch / "ledger", scratch / "trace", presses=60)
    return powercut.sweep(operations, every=1, torn=3)


def killing(scratch: Path) -> Tally:
    """Five hundred kills."""
    return kills.sweep(scratch, 500)


def failing(fault: tuple[str, str], **how: object) -> Sweep:
    """Every n of one kind of failure."""

    def sweep(scratch: Path) -> Tally:
        return errors.sweep(fault, scratch, presses=6, every=1, **how)  # type: ignore[arg-type]

    return sweep


def flipping(scratch: Path) -> Tally:
    """Three thousand flips."""
    return flips.sweep(scratch, 3000)


def tampering(scratch: Path) -> Tally:
    """Every class: found, and where the chain can show it, at the entry that was touched."""
    tally = Tally()
    for number, change in enumerate((*CHAIN_SHOWS, *ONLY_A_HEAD_SHOWS)):
        folder = scratch / str(number)
        head = flips.make_plain(folder)
        with unguarded(folder / "ledger.db") as connection:
            change(connection)
        found = {(fault.where, fault.seq) for fault in verify(folder / "ledger.db", heads={CASE: head})}
        wanted = CHAIN_SHOWS.get(change, ("head", None))
        tally.tried += 1
        tally.count("found without any head", bool(verify(folder / "ledger.db")))
        if wanted not in found:
            tally.lost += 1
            tally.notes.append(f"{change.__name__}: found {found}")
    return tally


def stopping_long(scratch: Path) -> Tally:
    """Four stops of half a minute, with a press under way and a second console looking."""
    return stopping.sweep(scratch, stops=4, seconds=30)


def screens(_scratch: Path) -> Tally:
    """Every test of the matrix and of the terminal in its long form, in front of the real console."""
    command = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "tests/faults", "tests/terminal"]
    done = subprocess.run(
        command, capture_output=True, text=True, check=False, cwd=ROOT, env={**environment(), "LABCHECK_LONG": "1"}
    )
    tally = Tally()
    for count, what in re.findall(r"(\d+) (passed|failed|error|skipped)", done.stdout.splitlines()[-1]):
        tally.count(what, int(count))
    tally.tried = sum(tally.extra.values())
    tally.broken = tally.tried - tally.extra.get("passed", 0) - tally.extra.get("skipped", 0)
    tally.notes += [line for line in done.stdout.splitlines() if line.startswith(("FAILED", "ERROR", "SKIPPED"))]
    return tally


SWEEPS: dict[str, dict[str, Sweep]] = {
    "cuts": {"power cut at every operation": cuts},
    "kills": {"SIGKILL at random": killing},
    "errors": {
        "n-th sync EIO": failing(errors.FAILED_SYNC),
        "n-th sync EIO, on the log only": failing(errors.FAILED_SYNC, on="ledger.db-wal"),
        "n-th sync EIO, at the first start": failing(errors.FAILED_SYNC, first_start=True),
        "every sync from the n-th EIO": failing(errors.FAILED_SYNC, lasting=True),
        "n-th write ENOSPC": failing(errors.ENOSPC_AT_WRITE),
        "n-th write ENOSPC, on the log only": failing(errors.ENOSPC_AT_WRITE, on="ledger.db-wal"),
        "n-th write ENOSPC, at the first start": failing(errors.ENOSPC_AT_WRITE, first_start=True),
        "every write from the n-th ENOSPC": failing(errors.ENOSPC_AT_WRITE, lasting=True),
        "n-th write or sync of the mirror": failing(
            ("pwrite64,fdatasync,fsync", "EIO"), on=f"mirror/{CASE}.log"
        ),
    },
    "flips": {"one flipped bit": flipping},
    "tampering": {"tampering": tampering},
    "stops": {"SIGSTOP for 30 s": stopping_long},
    "screens": {"the tests in their long form": screens},
}


def main(chosen: list[str]) -> int:
    """Run what was named, or everything."""
    unknown = set(chosen) - SWEEPS.keys()
    if unknown:
        print(f"no such sweep: {', '.join(sorted(unknown))}; there are {', '.join(SWEEPS)}", file=sys.stderr)
        return 2
    clean = True
    for group in chosen or SWEEPS:
        for name, sweep in SWEEPS[group].items():
            start = time.monotonic()
            with tempfile.TemporaryDirectory() as scratch:
                tally = sweep(Path(scratch))
            clean = clean and tally.clean
            print(f"{name}: {tally} ({time.monotonic() - start:.0f} s)", flush=True)
            for note in tally.notes[:10]:
                print(f"  {note}", flush=True)
    return 0 if clean else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
