"""However the console ends, the terminal is as it was, the exit status says how, and the case is whole."""

from __future__ import annotations

import os
import signal
import sys
import termios
import time
from pathlib import Path

import pytest

from tests.faults.invariants import heads, hold
from tests.faults.long_form import long_only
from tests.faults.tracing import needs_strace
from tests.terminal.harness import Terminal, labcheck
from tests.terminal.restored import left_on, line_settings
from tests.terminal.test_faults_on_screen import Desk, begun, failing

pytestmark = pytest.mark.terminal

BROKEN = """
import sys
import labcheck.cli
from labcheck.console import {module}
def fail(*_):
    raise RuntimeError("made to fail")
{module}.{what} = fail
sys.argv = ["labcheck", "--ledger", sys.argv[1]]
labcheck.cli.run()
"""


def ended(terminal: Terminal) -> int | None:
    """Read to the end, then the status."""
    until = time.monotonic() + 20
    while terminal.child.isalive() and time.monotonic() < until:
        terminal.pump(0.1)
    return terminal.status()


@pytest.mark.parametrize(
    ("how", "status"),
    [
        ("sigterm twice", 143),
        pytest.param("quit", 0, marks=long_only),
        pytest.param("sigterm", 143, marks=long_only),
        pytest.param("sighup", 129, marks=long_only),
        pytest.param("quit at home", 0, marks=long_only),
    ],
)
def test_every_way_out_gives_the_terminal_back_and_leaves_the_case_whole(
    tmp_path: Path, how: str, status: int
) -> None:
    """Textualize/textual#5140."""
    folder = tmp_path / "ledger"
    with begun(folder) as terminal:
        desk = Desk(folder, terminal)
        number = desk.record()
        if how.startswith("sig"):
            for _ in how.split():
                os.kill(terminal.child.pid, signal.SIGHUP if how == "sighup" else signal.SIGTERM)
        elif how == "quit":
            terminal.press("ctrl+q")
            terminal.wait_for("quit the program")
            terminal.press("1")
        else:
            terminal.press("ctrl+q")
            terminal.wait_for("first screen")
            terminal.press("2")
            terminal.wait_for("NOT FINISHED")
            terminal.press("ctrl+q")
        assert ended(terminal) == status
        assert left_on(bytes(terminal.output)) == set()
    stored = heads(folder, desk.key)
    assert max(stored) >= number
    hold(folder, stored, how, case=desk.key, made=False)


@needs_strace
@long_only
def test_a_signal_while_the_disk_is_slow_and_presses_wait_loses_none_of_them(tmp_path: Path) -> None:
    folder = tmp_path / "ledger"
    with begun(folder) as terminal:
        desk = Desk(folder, terminal)
        number = desk.record()
        with failing(desk, "inject=fdatasync,fsync:delay_enter=1s"):
            for key in ("f2", "f7", "f8"):
                terminal.pump(0.3)
                terminal.press(key)
            terminal.pump(0.2)
            assert desk.said() <= number, terminal.text()
            for how in (signal.SIGHUP, signal.SIGTERM):
                os.kill(terminal.child.pid, how)
                terminal.pump(0.5)  # the second one comes when the event loop is gone
            assert ended(terminal) == 128 + signal.SIGHUP
    assert [event.kind for event in desk.events()[number:]] == ["mark.set", "run.started", "run.started"]
    hold(folder, heads(folder, desk.key), "signal", case=desk.key, made=False)


def test_the_line_settings_are_as_before(tmp_path: Path) -> None:
    folder = tmp_path / "ledger"
    shell = ["/bin/sh", "-c", f"{' '.join(labcheck('--ledger', str(folder)))}; read line"]
    with Terminal(shell, size=(100, 30)) as terminal:
        terminal.wait_for("new case")
        during = line_settings(terminal.child.fileno())
        terminal.press("ctrl+q")
        terminal.wait(lambda _: line_settings(terminal.child.fileno()) != during, "the terminal to be given back")
        terminal.pump(0.5)
        _, _, _, local = line_settings(terminal.child.fileno())
        assert local & termios.ECHO
        assert local & termios.ICANON
        assert local & termios.ISIG
        assert left_on(bytes(terminal.output)) == set()


@pytest.mark.parametrize(
    ("module", "what", "status"),
    [
        ("app", "Console._equip", 70),
        pytest.param("app", "Console.on_mount", 1, marks=long_only),
        pytest.param("home", "HomeScreen._draw", 1, marks=long_only),
    ],
)
def test_a_fault_of_ours_that_ends_it_gives_the_terminal_back_and_a_status(
    tmp_path: Path, module: str, what: str, status: int
) -> None:
    """Textualize/textual#4325, #3189: a plain program ends with 0 after a crash."""
    code = BROKEN.format(module=module, what=what)
    with Terminal([sys.executable, "-c", code, str(tmp_path / "ledger")], size=(100, 30)) as terminal:
        assert ended(terminal) == status
        assert left_on(bytes(terminal.output)) == set()
