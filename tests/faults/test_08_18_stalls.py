"""Faults 8 and 18: a sync that takes two seconds, and a console that is stopped and goes on."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from tests.faults import stopping
from tests.faults.errors import prepare
from tests.faults.invariants import hold
from tests.faults.second_console import Console
from tests.faults.tracing import STRACE, needs_strace


@pytest.mark.fault(8)
@needs_strace
def test_a_sync_of_two_seconds_leaves_the_console_alive_and_saves_one_event(tmp_path: Path) -> None:
    folder = tmp_path / "ledger"
    prepare(folder)
    slow = "inject=fdatasync,fsync:delay_enter=2s:when=2"
    tracer = (str(STRACE), "-f", "-o", os.devnull, "-P", str(folder / "ledger.db-wal"), "-e", slow)
    console = Console(folder, "desk one", before=tracer)
    beats = [console.ask("open")["beats"]]
    beats += [console.ask("note", f"note {number}")["beats"] for number in range(3)]
    console.end()
    # The console's own loop went on beating while the writer stood: a frozen one would not have counted.
    assert max(beats) > 20
    assert sorted(console.acknowledged) == [1, 2, 3, 4]
    hold(folder, console.acknowledged, "slow sync", extra=0)


@pytest.mark.fault(18)
def test_a_stopped_console_goes_on_without_doubling_anything_and_keeps_its_case(tmp_path: Path) -> None:
    tally = stopping.sweep(tmp_path, stops=4, seconds=0.1)
    assert tally.clean, tally.notes
    assert tally.acknowledged == 5
