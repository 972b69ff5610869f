"""What terminals, people and computers do to a running console, in a real pseudo-terminal.

Most of these end or damage a plain program of the same library (its public bug reports; the test says which).
"""

from __future__ import annotations

import os
import random
import signal
import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from labcheck.caselog.events import Event
from labcheck.ledger.store import open_ledger
from tests.terminal.harness import Terminal, labcheck
from tests.terminal.nurse import Nurse

pytestmark = pytest.mark.terminal


@pytest.fixture
def ledger(tmp_path: Path) -> Path:
    return tmp_path / "ledger"


@pytest.fixture
def running(ledger: Path) -> Iterator[Nurse]:
    """A case in the stage "position", taken over from the rehearsal script."""
    with started(ledger) as terminal:
        yield taken_over(terminal)


@pytest.fixture(scope="module")
def long_ledger(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("treated") / "ledger"


@pytest.fixture(scope="module")
def treated(long_ledger: Path) -> Iterator[Nurse]:
    """One console that bears everything which must leave it running."""
    with started(long_ledger) as terminal:
        yield taken_over(terminal)


def started(ledger: Path, **options: object) -> Terminal:
    words = labcheck("rehearse", "--pace", "400", "--ledger", str(ledger))
    return Terminal(words, **options)  # type: ignore[arg-type]


def taken_over(terminal: Terminal) -> Nurse:
    terminal.wait_for("Guide and snare in place", patience=60)
    terminal.press("f12")
    terminal.wait_for("you have the keys")
    terminal.pump(0.6)
    return Nurse(terminal)


def events_of(ledger: Path, key: str) -> tuple[Event, ...]:
    with closing(open_ledger(ledger, read_only=True)) as opened:
        return opened.events(key)


def still_records(nurse: Nurse) -> None:
    """The console lives: a mark is recorded."""
    nurse.terminal.pump(0.3)
    nurse.record("f2")


@pytest.mark.parametrize(("number", "status"), [(signal.SIGTERM, 143), (signal.SIGHUP, 129)])
def test_a_signal_ends_it_with_its_own_status_and_the_terminal_whole(
    running: Nurse, number: signal.Signals, status: int
) -> None:
    """Textualize/textual#5140: without a handler the terminal stays broken."""
    terminal = running.terminal
    last = bytearray()
    os.kill(terminal.child.pid, number)
    until = time.monotonic() + 15
    while terminal.child.isalive() and time.monotonic() < until:
        try:
            last += terminal.child.read_nonblocking(65536, 0.1)
        except Exception:
            continue
    assert terminal.status() == status
    assert b"\x1b[?1049l" in last  # the usual screen is back
    assert b"\x1b[?25h" in last  # and the cursor


def test_after_a_signal_the_next_start_offers_the_case(running: Nurse, ledger: Path) -> None:
    key, number = running.key, running.record("f2")
    os.kill(running.terminal.child.pid, signal.SIGTERM)
    running.terminal.status()
    assert len(events_of(ledger, key)) == number
    with Terminal(labcheck("--ledger", str(ledger))) as terminal:
        terminal.wait_for(f"{key} REHEARSAL electrosurgical")
        terminal.wait_for("NOT FINISHED")


def test_a_stopped_and_continued_console_takes_the_next_key(treated: Nurse) -> None:
    """Textualize/textual#5464: a hang after sleep. Only one thread may read the keys afterwards."""
    pid = treated.terminal.child.pid
    threads = len(os.listdir(f"/proc/{pid}/task"))
    for _ in range(2):
        os.kill(pid, signal.SIGSTOP)
        time.sleep(1.5)
        os.kill(pid, signal.SIGCONT)
        treated.terminal.pump(1.0)
        still_records(treated)
    assert len(os.listdir(f"/proc/{pid}/task")) == threads


@pytest.mark.parametrize(
    "noise",
    [
        b"\xff\xfe\x80",
        b"\x1b[M" + bytes([32, 200, 200]),
        b"\x1b[<64;500;500M",
        b"\x1b[99~\x1b[1;99Z",
        b"\x1b[25~\x1b[26~\x1b[28~\x1b[29~\x1b[31~\x1b[32~\x1b[33~\x1b[34~",
        b"\x1b]10;rgb:0000/0000/0000\x07",
        b"\x00",
        b"\x1b[5;7R",
    ],
    ids=["not-utf8", "old-mouse", "far-mouse", "unknown", "f13-f20", "colour-report", "nul", "cursor-report"],
)
def test_noise_from_the_terminal_neither_ends_it_nor_records(
    treated: Nurse, long_ledger: Path, noise: bytes
) -> None:
    """Textualize/textual#6668, #4376, #6242, #872: such bytes end a plain program, or arrive as keys."""
    key, number = treated.key, treated.record("f2")
    treated.terminal.raw(noise)
    treated.terminal.pump(0.5)
    treated.terminal.press("escape")  # a letter may have opened a panel, no more
    treated.terminal.pump(0.5)
    treated.terminal.press("escape")
    treated.terminal.pump(0.5)
    assert treated.record("f2") == number + 1
    assert [event.kind for event in events_of(long_ledger, key)][-2:] == ["mark.set", "mark.set"]


def test_a_held_call_key_does_not_run_through_the_stages(treated: Nurse, long_ledger: Path) -> None:
    key = treated.key
    before = sum(1 for event in events_of(long_ledger, key) if event.kind == "stage.opened")
    treated.terminal.raw(b"\r" * 300)
    treated.terminal.pump(1.5)
    after = sum(1 for event in events_of(long_ledger, key) if event.kind == "stage.opened")
    assert after - before <= 1
    treated.terminal.press("escape")
    still_records(treated)


def test_text_pasted_by_mistake_records_nothing(treated: Nurse, long_ledger: Path) -> None:
    """Un-bracketed, each letter is a key; letters only open panels, and Enter inside a list picks nothing."""
    key, number = treated.key, treated.record("f2")
    treated.terminal.raw(b"\x1b[200~" + b"call energy undo\r\n" * 500 + b"\x1b[201~")
    treated.terminal.pump(0.8)
    assert len(events_of(long_ledger, key)) == number
    still_records(treated)


def test_no_single_letter_records(treated: Nurse, long_ledger: Path) -> None:
    key, number = treated.key, treated.record("f2")
    for letter in "abcdefghijklmnopqrstuvwxyz0123456789.,;":
        treated.terminal.press(letter)
        treated.terminal.pump(0.06)
        # A lone Escape is told from the beginning of a sequence by what does not follow it.
        treated.terminal.press("escape")
        treated.terminal.pump(0.15)
    assert len(events_of(long_ledger, key)) == number


def test_a_storm_of_sizes_is_survived_and_the_marked_step_stays(treated: Nurse) -> None:
    """Textualize/textual#5568, #2502."""
    terminal = treated.terminal
    marked = treated.marked().split("  ")[0:1]
    sizes = random.Random(7)
    for _ in range(60):
        terminal.resize(sizes.randint(1, 220), sizes.randint(1, 70))
        terminal.pump(0.02)
    for size in ((1, 1), (80, 1), (1, 40), (40, 12), (120, 40)):
        terminal.resize(*size)
        terminal.pump(0.1)
    terminal.wait_for("STEPS")
    terminal.settle()
    assert treated.marked().split("  ")[0:1] == marked
    still_records(treated)


def test_a_reader_that_stalls_does_not_cost_the_press(treated: Nurse, long_ledger: Path) -> None:
    """terok-ai/terok#1187: output that nobody reads stops a plain program."""
    key = treated.key
    before = treated.record("f2")
    time.sleep(8)
    treated.terminal.press("f2")
    time.sleep(3)
    treated.terminal.pump(1.0)
    treated.saved_after(before)
    last = events_of(long_ledger, key)[-1]
    assert (last.kind, len(events_of(long_ledger, key))) == ("mark.set", before + 1)


@pytest.mark.parametrize(
    "env",
    [
        {"NO_COLOR": "1"},
        {"TERM": "linux"},
        {"TERM": "vt100"},
        {"TERM": "dumb"},
        {"LC_ALL": "C", "LANG": "C"},
        {"LC_ALL": "C", "PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"},
        {"TEXTUAL_ANIMATIONS": "none", "COLORTERM": ""},
    ],
    ids=lambda env: ",".join(f"{key}={value}" for key, value in env.items()),
)
def test_it_runs_and_records_in_plainer_terminals(ledger: Path, env: dict[str, str]) -> None:
    with started(ledger, env=env) as terminal:
        nurse = taken_over(terminal)
        assert "STEPS" in terminal.text()
        assert "\\u" not in terminal.text()
        assert "\\x" not in terminal.text()
        still_records(nurse)


def test_a_window_that_is_closed_ends_the_program_and_loses_nothing(running: Nurse, ledger: Path) -> None:
    key, number = running.key, running.record("f2")
    assert running.terminal.hang_up()
    assert len(events_of(ledger, key)) == number
