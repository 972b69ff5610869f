"""Faults 8 and 18: a sync that takes two seconds, and a console that is stopped and goes on."""

from __future__ import annotations

import os
import signal
from pathlib import Path

from labcheck.ledger.store import open_ledger
from tests.faults.errors import prepare
from tests.faults.invariants import Tally, judge
from tests.faults.second_console import Console
from tests.faults.tracing import STRACE, needs_strace
from tests.ledger.making import CASE


@needs_strace
def test_a_sync_of_two_seconds_leaves_the_console_alive_and_saves_one_event(tmp_path: Path) -> None:
    folder = tmp_path / "ledger"
    prepare(folder)
    slow = "inject=fdatasync:delay_enter=2s:when=3"
    tracer = (str(STRACE), "-f", "-o", os.devnull, "-e", "trace=fdatasync", "-e", slow)
    console = Console(folder, "desk one", before=tracer)
    beats = [console.ask("open")["beats"]]
    beats += [console.ask("note", f"note {number}")["beats"] for number in range(3)]
    console.end()
    # The console's own loop went on beating while the writer stood: a frozen one would not have counted.
    assert max(beats) > 20
    tally = Tally()
    judge(folder, {}, tally, "slow sync")
    assert tally.broken == 0, tally.notes
    assert stored_entries(folder) == 4


def test_a_stopped_console_goes_on_without_doubling_anything(tmp_path: Path) -> None:
    folder = tmp_path / "ledger"
    console = Console(folder, "desk one")
    console.ask("open")
    for number in range(5):
        console.tell("note", f"note {number}")
        os.kill(console.process.pid, signal.SIGSTOP)
        os.kill(console.process.pid, signal.SIGCONT)
        assert console.answer()["saved"] == [number + 2]
    console.end()
    assert stored_entries(folder) == 6


def stored_entries(folder: Path) -> int:
    ledger = open_ledger(folder)
    try:
        return ledger.head(CASE).seq
    finally:
        ledger.close()
