"""The real program in a real pseudo-terminal: leaving, standing still, two consoles, and a terminal without UTF-8."""

from __future__ import annotations

import os
import re
import signal
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.terminal.harness import Terminal, labcheck

pytestmark = pytest.mark.terminal

@pytest.fixture
def ledger(tmp_path: Path) -> Path:
    return tmp_path / "ledger"


@pytest.fixture
def console(ledger: Path) -> Iterator[Terminal]:
    with Terminal(labcheck("--ledger", str(ledger)), size=(80, 24)) as terminal:
        terminal.wait_for("new case")
        yield terminal


def begin(terminal: Terminal) -> None:
    """A rehearsal by hand, opened, with its first stage."""
    terminal.press("h")
    terminal.wait_for("no patient numbers")
    terminal.press("f2")
    terminal.wait_for("SAVED 1")
    time.sleep(0.5)
    terminal.press("enter")
    terminal.wait_for("SAVED 2")


def test_quitting_ends_with_zero_and_the_case_is_offered_first_at_the_next_start(
    console: Terminal, ledger: Path
) -> None:
    begin(console)
    console.press("ctrl+q")
    console.wait_for("quit the program")
    console.press("1")
    assert console.status() == 0
    with Terminal(labcheck("--ledger", str(ledger)), size=(80, 24)) as again:
        again.wait_for("NOT FINISHED")
        again.press("enter")
        again.wait_for("record resumed")


def test_a_stopped_program_goes_on_and_the_log_says_how_long_it_stood(console: Terminal) -> None:
    begin(console)
    console.pump(1.5)
    os.kill(console.child.pid, signal.SIGSTOP)
    time.sleep(6)
    os.kill(console.child.pid, signal.SIGCONT)
    console.wait_for("SAVED 3")
    assert re.search(r"(stood still|stalled|stopped|not answer)", console.text()), console.text()


def test_a_second_console_is_told_who_holds_the_case_and_may_take_it_over(console: Terminal, ledger: Path) -> None:
    begin(console)
    with Terminal(labcheck("--ledger", str(ledger)), size=(100, 30)) as second:
        second.wait_for("NOT FINISHED")
        second.press("enter")
        second.wait_for("READ ONLY: open on")
        second.pump(0.5)
        second.press("t")
        second.wait_for("TAKE THE CASE OVER?")
        second.press("1")
        second.wait_for("SAVED")
        console.press("f2")
        console.wait_for("NOT SAVED")
        assert "another console" in console.text()


def test_an_ascii_terminal_gets_ascii_alone(ledger: Path) -> None:
    env = {"LC_ALL": "C", "LANG": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0", "PYTHONIOENCODING": "ascii"}
    with Terminal(labcheck("--ledger", str(ledger)), size=(80, 24), env=env) as terminal:
        terminal.wait_for("new case")
        begin(terminal)
        assert "\\u" not in terminal.text()
        assert terminal.text().isascii()
