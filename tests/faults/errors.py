"""Making the n-th system call of the workload fail, and judging what it said and what it left."""

from __future__ import annotations

import shutil
from pathlib import Path

from labcheck.ledger.store import open_ledger
from tests.faults.invariants import Tally, acks, judge
from tests.faults.tracing import traced
from tests.ledger.making import CHECKLIST

FAILED_SYNC = ("fdatasync,fsync", "EIO")
ENOSPC_AT_WRITE = ("pwrite64,ftruncate", "ENOSPC")
MOST = 2_000


def sweep(
    fault: tuple[str, str],
    scratch: Path,
    *,
    presses: int,
    every: int,
    lasting: bool = False,
    first_start: bool = False,
    on: str | None = None,
) -> Tally:
    """Fail call 1, then ``1 + every``, ... until a run is untouched; ``lasting``: that call and all after it.

    Calls are counted by thread. ``first_start``: the ledger does not exist yet, so the failing call is one of its
    making first; otherwise it exists and opens without a sync, and the n-th call of the writer thread fails.
    ``on``: only calls on this file of the ledger count.
    """
    calls, error = fault
    tally = Tally()
    for number in range(1, MOST, every):
        folder, log = scratch / f"ledger-{number}", scratch / "trace"
        if not first_start:
            prepare(folder)
        when = f"{number}+" if lasting else str(number)
        chosen = () if on is None else ("-P", str(folder / on))
        run = traced(
            folder,
            "threaded",
            presses,
            log,
            "-e",
            f"trace={calls}",
            "-e",
            f"inject={calls}:error={error}:when={when}",
            *chosen,
        )
        injected = log.read_text(errors="replace").count("(INJECTED)")
        what = f"call {when} of {calls} fails with {error}"
        if run.returncode != 0 or "done" not in run.stdout:
            tally.broken += 1
            tally.notes.append(f"{what}: the program ended with {run.returncode}: {run.stderr[-300:]}")
        tally.count("errors injected", injected)
        tally.count("presses called not saved", run.stdout.count("not-saved"))
        tally.count("starts refused", run.stdout.count("refused"))
        judge(folder, acks(run.stdout), tally, what)
        shutil.rmtree(folder, ignore_errors=True)
        if injected == 0:
            break
    else:
        tally.broken += 1
        tally.notes.append(f"{calls}: no end of the sweep after {MOST} calls")
    return tally


def prepare(folder: Path) -> None:
    """An existing ledger, closed."""
    ledger = open_ledger(folder)
    ledger.keep_checklist(CHECKLIST)
    ledger.close()
