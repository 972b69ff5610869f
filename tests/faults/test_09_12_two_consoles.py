"""Faults 9 to 12: two consoles on one case, a takeover, a lock that is deleted, a lock that is held."""

from __future__ import annotations

import os
import signal
import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest

from labcheck.caselog.events import NoteWritten
from labcheck.ledger.store import open_ledger
from labcheck.ledger.verify import verify
from tests.faults.invariants import hold
from tests.faults.second_console import Console
from tests.ledger.making import CASE


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path / "ledger"


@pytest.fixture
def first(folder: Path) -> Iterator[Console]:
    console = Console(folder, "desk one")
    console.ask("open")
    console.ask("note", "from desk one")
    yield console
    console.end()


@pytest.fixture
def second(folder: Path, first: Console) -> Iterator[Console]:
    console = Console(folder, "desk two", start=500)
    yield console
    console.end()


def texts(folder: Path) -> list[str]:
    """The notes of the case in order, after the ledger has proved itself."""
    ledger = open_ledger(folder)
    try:
        assert verify(ledger) == []
        return [event.what.text for event in ledger.events(CASE) if isinstance(event.what, NoteWritten)]
    finally:
        ledger.close()


def acknowledged(*consoles: Console) -> dict[int, str]:
    """All that any of them was told is saved."""
    return {seq: head for console in consoles for seq, head in console.acknowledged.items()}


@pytest.mark.fault(9)
def test_a_second_console_is_told_who_has_the_case_and_since_when(
    folder: Path, first: Console, second: Console
) -> None:
    assert second.ask("open") == {"read_only": True, "held_by": "desk one", "since_us": 1_000}
    assert first.ask("note", "not disturbed")["saved"] == [3]
    hold(folder, acknowledged(first, second), "second console", extra=0)


@pytest.mark.fault(9)
def test_a_console_that_was_killed_frees_its_case(folder: Path, first: Console, second: Console) -> None:
    first.process.kill()
    first.process.wait(30)
    assert second.ask("open") == {"entries": 2}
    assert second.ask("note", "from desk two")["saved"] == [3]
    assert texts(folder) == ["from desk one", "from desk two"]
    hold(folder, acknowledged(first, second), "killed", extra=0)


@pytest.mark.fault(10)
def test_a_takeover_of_a_stopped_console_fences_it_when_it_goes_on(
    folder: Path, first: Console, second: Console
) -> None:
    os.kill(first.process.pid, signal.SIGSTOP)
    first.tell("note", "pressed at desk one while it stood still")
    assert second.ask("open")["read_only"]
    assert second.ask("take_over")["saved"] == [3]
    assert second.ask("note", "from desk two")["saved"] == [4]
    os.kill(first.process.pid, signal.SIGCONT)
    refused = first.answer()
    assert (refused["error"], refused["state"]) == ("StaleEpoch", "fenced")
    assert first.ask("unsaved") == {"unsaved": ["pressed at desk one while it stood still"]}
    assert first.ask("note", "once more")["error"] == "StaleEpoch"
    assert second.ask("note", "undisturbed")["saved"] == [5]
    assert texts(folder) == ["from desk one", "from desk two", "undisturbed"]
    hold(folder, acknowledged(first, second), "takeover", extra=0)


@pytest.mark.fault(10)
def test_only_one_of_two_takes_a_case_over(folder: Path, first: Console, second: Console) -> None:
    third = Console(folder, "desk three", start=900)
    os.kill(first.process.pid, signal.SIGSTOP)
    answers = [second.ask("take_over"), third.ask("open")]
    os.kill(first.process.pid, signal.SIGCONT)
    third.end()
    assert answers[1] == {"read_only": True, "held_by": "desk two", "since_us": 2_000}
    assert answers[0]["saved"] == [3]
    hold(folder, acknowledged(first, second), "two takeovers", extra=0)


@pytest.mark.fault(11)
def test_a_deleted_lock_file_lets_nobody_write_over_the_other(
    folder: Path, first: Console, second: Console
) -> None:
    for lock in (folder / "lease").iterdir():
        lock.unlink()
    assert second.ask("open") == {"entries": 2}
    assert second.ask("note", "from desk two")["saved"] == [3]
    refused = first.ask("note", "from desk one again")
    assert (refused["error"], refused["state"]) == ("Fenced", "fenced")
    assert first.ask("unsaved") == {"unsaved": ["from desk one again"]}
    assert texts(folder) == ["from desk one", "from desk two"]
    # With the lock gone a takeover is still a takeover: the epoch in the ledger fences whoever is behind.
    for lock in (folder / "lease").iterdir():
        lock.unlink()
    third = Console(folder, "desk three", start=900)
    assert third.ask("take_over")["saved"] == [4]
    refused = second.ask("note", "from desk two again")
    assert (refused["error"], refused["state"]) == ("StaleEpoch", "fenced")
    third.end()
    hold(folder, acknowledged(first, second, third), "lock deleted", extra=0)


@pytest.mark.fault(12)
def test_a_foreign_program_that_holds_the_file_costs_a_bounded_wait(folder: Path, first: Console) -> None:
    foreign = sqlite3.connect(folder / "ledger.db", isolation_level=None)
    foreign.execute("BEGIN IMMEDIATE")
    held = first.ask("note", "while it was held")
    assert (held["error"], held["state"]) == ("Busy", "held")
    behind = first.ask("note", "behind it")
    assert behind["error"] == "Busy"
    foreign.execute("ROLLBACK")
    foreign.close()
    assert first.ask("retry")["saved"] == [4]
    assert first.ask("note", "afterwards")["saved"] == [5]
    assert texts(folder) == ["from desk one", "while it was held", "behind it", "afterwards"]
    assert not list(folder.glob("unsaved-*"))
    hold(folder, acknowledged(first), "file held", extra=0)
