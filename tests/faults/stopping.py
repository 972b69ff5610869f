"""Stopping a console with SIGSTOP in the middle of a press, and looking what it does when it goes on."""

from __future__ import annotations

import os
import signal
import time
from pathlib import Path

from labcheck.ledger.errors import Busy
from labcheck.ledger.lease import Lease
from labcheck.ledger.store import open_ledger
from tests.faults.invariants import Tally, judge
from tests.faults.second_console import Console
from tests.ledger.making import CASE


def look(folder: Path) -> dict[str, object]:
    """What a second console is told about the case, in this process: who holds it, or that the file is in use."""
    try:
        ledger = open_ledger(folder)
    except Busy:
        return {"busy": True}
    lease = Lease(folder, "desk two")
    epoch = ledger.head(CASE).epoch
    free = lease.acquire(CASE, epoch, since_us=0)
    holder = lease.held_by(CASE, epoch)
    lease.close()
    ledger.close()
    return {"free": free, "held_by": holder.console if holder else None}


def sweep(scratch: Path, stops: int, seconds: float) -> Tally:
    """Stop a console ``stops`` times for so long, each time with a press under way.

    ``lost`` also counts a stopped console that lost its case to one that only looked, or doubled a press.
    """
    folder, tally = scratch / "ledger", Tally()
    console = Console(folder, "desk one")
    console.ask("open")
    for number in range(stops):
        console.tell("note", f"note {number}")
        # Somewhere in the middle of it: before, while and after it is written.
        time.sleep(number % 4 * 0.001)
        os.kill(console.process.pid, signal.SIGSTOP)
        looked = look(folder)
        time.sleep(seconds)
        os.kill(console.process.pid, signal.SIGCONT)
        if console.answer().get("saved") != [number + 2]:
            tally.lost += 1
            tally.notes.append(f"stop {number + 1}: the press was not saved once")
        if looked.get("held_by") == "desk one":
            tally.count("told who holds the case")
        elif looked.get("busy"):
            tally.count("told to try again, for it was stopped while it wrote")
        else:
            tally.lost += 1
            tally.notes.append(f"stop {number + 1}: the lease was not held: {looked}")
    # The lease is still held, and the interval over all stops is there.
    console.end()
    judge(folder, console.acknowledged, tally, "stopped", extra=0)
    tally.count("stops", stops)
    return tally
