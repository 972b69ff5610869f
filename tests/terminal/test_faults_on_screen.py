"""The faults of the matrix in front of the real console: what the screen calls saved is in the ledger, and no more.

The long form is ``LABCHECK_LONG=1``, as ``python -m tests.faults.full screens`` runs it: stops of 30 s, a file held
for 10 s.
"""

from __future__ import annotations

import os
import re
import signal
import sqlite3
import subprocess
import time
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
from pathlib import Path

import pytest

from labcheck.caselog.events import ClockNoticed, Event
from labcheck.console.keys import KEYS
from labcheck.ledger.store import open_ledger
from tests.faults.invariants import heads, hold
from tests.faults.long_form import LONG, long_only, short
from tests.faults.tracing import STRACE, needs_strace
from tests.terminal.harness import Terminal, labcheck
from tests.terminal.restored import left_on

pytestmark = pytest.mark.terminal

STOP_S = 30 if LONG else 4.5
HELD_S = 10 if LONG else 1.5
SAVED = re.compile(r"SAVED (\d+)")
KEY = re.compile(r"[B-Z2-9]{4}-[B-Z2-9]{2}")
BYTES = {"enter": b"\r", "space": b" ", "right": b"\x1b[C", "f2": b"\x1bOQ", "f5": b"\x1b[15~", "f7": b"\x1b[18~",
         "f8": b"\x1b[19~", "f9": b"\x1b[20~"}  # fmt: skip


class Desk:
    """One console on one case, and what it has said is saved."""

    def __init__(self, folder: Path, terminal: Terminal) -> None:
        self.folder, self.terminal = folder, terminal
        found = KEY.search(terminal.text())
        assert found is not None, terminal.text()
        self.key = found[0]

    def said(self) -> int:
        """The number of the last entry the screen calls saved."""
        found = SAVED.findall(self.terminal.text())
        return int(found[-1]) if found else 0

    def events(self) -> tuple[Event, ...]:
        """What is in the ledger."""
        with closing(open_ledger(self.folder, read_only=True)) as ledger:
            return ledger.events(self.key)

    def record(self, key: str = "f2") -> int:
        """Press a key that records, and wait until the screen says so."""
        before = self.said()
        self.terminal.pump(0.5)  # a key within 0.4 s of a new screen is not taken, and the screen says so
        self.terminal.press(key)
        self.terminal.wait(lambda _: self.said() > before, f"an entry after {before} to be saved")
        self.terminal.settle()
        return self.said()

    def hold(self, what: str, acknowledged: dict[int, str]) -> None:
        """All five promises, and that the screen claims no entry that is not there."""
        self.terminal.settle()
        said, stored = self.said(), heads(self.folder, self.key)
        assert said <= max(stored), f"the screen says {said} is saved, the ledger ends at {max(stored)}"
        hold(self.folder, {**acknowledged, said: stored[said]}, what, case=self.key, made=False, extra=1)


def begun(folder: Path, program: Sequence[str] = ()) -> Terminal:
    """A rehearsal by hand in its first stage; ``program``: what to start instead of labcheck itself."""
    terminal = Terminal(program or labcheck("--ledger", str(folder)), size=(120, 36))
    terminal.wait_for("new case")
    terminal.press("h")
    terminal.wait_for("no patient numbers")
    terminal.press("f2")
    terminal.wait_for("SAVED 1")
    terminal.pump(0.6)
    terminal.press("enter")
    terminal.wait_for("SAVED 2")
    return terminal


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Desk]:
    """One console that bears everything from which it must recover."""
    folder = tmp_path_factory.mktemp("desk") / "ledger"
    with begun(folder) as terminal:
        yield Desk(folder, terminal)


@contextmanager
def failing(desk: Desk, inject: str) -> Iterator[None]:
    """System calls of the running console fail or wait as long as this is held."""
    pid = desk.terminal.child.pid
    command = [str(STRACE), "-f", "-p", str(pid), "-o", os.devnull, "-e", inject]
    with subprocess.Popen(command, stderr=subprocess.PIPE, text=True) as tracer:
        assert tracer.stderr is not None
        threads = len(os.listdir(f"/proc/{pid}/task"))
        for _ in range(threads):
            line = tracer.stderr.readline()
            if "attached" not in line:
                pytest.skip(f"only on a machine where a running process may be traced: {line.strip()}")
            if "with" in line:
                break
        try:
            yield
        finally:
            tracer.send_signal(signal.SIGINT)
            tracer.wait(20)


@needs_strace
@pytest.mark.parametrize(
    "inject",
    [
        pytest.param("inject=fdatasync,fsync:error=EIO", marks=pytest.mark.fault(4), id="sync fails"),
        pytest.param("inject=pwrite64:error=ENOSPC", marks=[pytest.mark.fault(5), long_only], id="disk full"),
    ],
)
def test_a_disk_that_fails_is_shown_as_not_saved_until_it_is_saved(desk: Desk, inject: str) -> None:
    number = desk.record()
    before = heads(desk.folder, desk.key)
    with failing(desk, inject):
        desk.terminal.pump(0.3)
        desk.terminal.press("f2")
        text = desk.terminal.wait_for("NOT SAVED")
        assert f"SAVED {number + 1} " not in text.replace(f"NOT SAVED {number + 1} ", "")
        assert "use paper" in text
        assert (desk.folder / f"unsaved-{desk.key}.jsonl").exists()
    desk.terminal.wait(lambda text: "NOT SAVED" not in text and desk.said() == number + 1, "the press to be saved")
    assert [event.kind for event in desk.events()][number:] == ["mark.set"]
    assert not (desk.folder / f"unsaved-{desk.key}.jsonl").exists()
    desk.hold("failing disk", before)


@pytest.mark.fault(8)
@needs_strace
def test_a_slow_disk_is_shown_as_slow_and_the_clocks_go_on(desk: Desk) -> None:
    number = desk.record()
    before = heads(desk.folder, desk.key)
    clocks: set[str] = set()
    with failing(desk, "inject=fdatasync,fsync:delay_enter=2s"):
        desk.terminal.pump(0.3)
        desk.terminal.press("f2")
        desk.terminal.wait_for("still writing")
        for _ in range(20):
            desk.terminal.pump(0.1)
            if "still writing" in desk.terminal.text():
                clocks.update(re.findall(r"\d\d:\d\d:\d\d", desk.terminal.text().splitlines()[0]))
    assert len(clocks) > 1, "no clock moved while the disk was slow"
    desk.terminal.wait(lambda _: desk.said() == number + 1, "the press to be saved")
    assert [event.kind for event in desk.events()][number:] == ["mark.set"]
    desk.hold("slow disk", before)


@pytest.mark.fault(12)
def test_a_file_that_another_program_holds_is_a_bounded_wait_and_then_saved(desk: Desk) -> None:
    number = desk.record()
    before = heads(desk.folder, desk.key)
    with closing(sqlite3.connect(desk.folder / "ledger.db", isolation_level=None)) as foreign:
        foreign.execute("BEGIN IMMEDIATE")
        desk.terminal.pump(0.3)  # not so soon that it would be the repeat of the key before
        desk.terminal.press("f2")
        desk.terminal.wait_for("NOT SAVED")
        desk.terminal.pump(HELD_S)
        assert "NOT SAVED" in desk.terminal.text()
        assert desk.said() != number + 1
        foreign.execute("ROLLBACK")
    desk.terminal.wait(lambda text: "NOT SAVED" not in text and desk.said() == number + 1, "the press to be saved")
    assert [event.kind for event in desk.events()][number:] == ["mark.set"]
    desk.hold("file held", before)


@pytest.mark.fault(13)
@pytest.mark.parametrize("key", short((line.keys[0] for line in KEYS if line.logs), "enter", "f2"))
def test_a_logging_key_that_comes_twice_at_once_never_gives_one_id_twice(desk: Desk, key: str) -> None:
    number = desk.record()
    before = heads(desk.folder, desk.key)
    desk.terminal.pump(0.5)
    desk.terminal.raw(BYTES[key] * 2)
    desk.terminal.settle(0.3, 2)
    desk.terminal.press("escape")
    desk.terminal.settle(0.3, 1)
    new = desk.events()[number:]
    # One that counts; a second so soon is the key's own repeat, which is told and does nothing.
    assert len({event.press for event in new if event.kind != "press.bounced"}) <= 1, [event.kind for event in new]
    assert len({event.id for event in desk.events()}) == len(desk.events())
    desk.hold("pressed twice", before)


@pytest.mark.fault(18)
def test_a_stopped_console_catches_up_and_its_log_tells_how_long_it_stood(desk: Desk) -> None:
    number = desk.record()
    before = heads(desk.folder, desk.key)
    desk.terminal.pump(1.2)
    os.kill(desk.terminal.child.pid, signal.SIGSTOP)
    desk.terminal.raw(BYTES["f2"])  # pressed while it stood
    time.sleep(STOP_S)
    os.kill(desk.terminal.child.pid, signal.SIGCONT)
    desk.terminal.wait(lambda _: desk.said() >= number + 2, "the press and the notice to be saved")
    desk.terminal.pump(1.5)
    new = desk.events()[number:]
    (stalled,) = [event.what for event in new if isinstance(event.what, ClockNoticed)]
    assert stalled.notice == "stalled"
    assert stalled.amount_us > (STOP_S - 2) * 1_000_000
    assert [event.kind for event in new].count("mark.set") == 1
    shown = re.findall(r"\d\d:\d\d:\d\d", desk.terminal.text().splitlines()[0])
    now = time.time()
    assert {time.strftime("%H:%M:%S", time.localtime(now - ago)) for ago in range(-1, 5)} & set(shown)
    desk.record()
    desk.hold("stopped", before)


@pytest.mark.fault(9, 10)
def test_a_second_console_only_reads_says_who_and_since_when_and_a_takeover_fences_the_stopped_one(desk: Desk) -> None:
    desk.record()
    before = heads(desk.folder, desk.key)
    with Terminal(labcheck("--ledger", str(desk.folder)), size=(110, 30)) as second:
        second.wait_for("NOT FINISHED")
        second.press("enter")
        text = second.wait_for("READ ONLY: open on")
        assert re.search(rf"open on console {desk.terminal.child.pid}, since \d\d:\d\d", text), text
        second.pump(0.5)
        second.press("f2")
        second.wait_for("not recorded. READ ONLY")
        assert heads(desk.folder, desk.key) == before  # neither looking nor the key wrote anything
        number = desk.record()
        second.wait_for(f"{number} ")  # what is recorded there is seen here
        before = heads(desk.folder, desk.key)
        second.press("t")
        second.wait_for("TAKE THE CASE OVER?")
        os.kill(desk.terminal.child.pid, signal.SIGSTOP)
        desk.terminal.raw(BYTES["f2"])
        second.press("1")
        second.wait_for("SAVED")
        other = Desk(desk.folder, second)
        other.record()
        os.kill(desk.terminal.child.pid, signal.SIGCONT)
        text = desk.terminal.wait_for("NOT SAVED")
        assert "another console" in text
        kept = heads(desk.folder, desk.key)
        desk.terminal.press("f2")  # and it stays so
        desk.terminal.pump(1.0)
        assert "NOT SAVED" in desk.terminal.text()
        assert heads(desk.folder, desk.key) == kept
        other.record()
        hold(desk.folder, {**before, **kept}, "takeover", case=desk.key, made=False, extra=1)
    assert not (desk.folder / "faults.log").exists()


@pytest.mark.fault(1, 19)
def test_a_killed_console_shows_its_last_entries_again_and_a_lost_log_stops_it(tmp_path: Path) -> None:
    folder = tmp_path / "ledger"
    with begun(folder) as terminal:
        desk = Desk(folder, terminal)
        desk.record()
        terminal.press("f2")  # perhaps saved, perhaps not: never said
        terminal.kill()
        broken = bytes(terminal.output)
        assert left_on(broken) != set()  # nothing can run after SIGKILL (Textualize/textual#6292)
        before = {seq: head for seq, head in heads(folder, desk.key).items() if seq <= desk.said()}
    with Terminal(labcheck("--ledger", str(folder)), size=(110, 36)) as again:
        again.wait_for("NOT FINISHED")
        again.press("enter")
        text = again.wait_for("record resumed")
        resumed = Desk(folder, again)
        assert len(re.findall(r"mark", text)) >= 1, text
        assert 3 <= max(before) <= resumed.said() <= max(before) + 3
        resumed.hold("resumed", before)
        resumed.record()
        known = heads(folder, desk.key)
        again.kill()
    (folder / "ledger.db-wal").unlink()
    with Terminal(labcheck("--ledger", str(folder)), size=(110, 30)) as behind:
        text = behind.wait(lambda text: "rebuild" in text or "NOT FINISHED" in text, "the first screen or a complaint")
        if "rebuild" not in text:
            behind.press("enter")
            behind.wait_for("labcheck rebuild")
        behind.press("ctrl+q")
        assert behind.status() == 0
        # Whoever starts again after a kill gets the terminal back whole; 0: the terminal forgets it by itself.
        assert left_on(broken + bytes(behind.output)) - {0} == set()
    done = subprocess.run(labcheck("--ledger", str(folder), "rebuild", "--to", str(tmp_path / "new")), check=False)
    assert done.returncode == 0
    hold(tmp_path / "new", known, "rebuilt", case=desk.key, made=False, extra=0)


@pytest.mark.fault(22)
@long_only
def test_a_ledger_without_its_guards_never_gets_a_screen(tmp_path: Path) -> None:
    folder = tmp_path / "ledger"
    with begun(folder) as terminal:
        key = Desk(folder, terminal).key
        terminal.kill()
    before = heads(folder, key)
    with closing(sqlite3.connect(folder / "ledger.db", isolation_level=None)) as foreign:
        (guard,) = foreign.execute("SELECT sql FROM sqlite_schema WHERE name = 'event_no_update'").fetchone()
        foreign.execute("DROP TRIGGER event_no_update")
    with Terminal(labcheck("--ledger", str(folder)), size=(110, 30)) as refused:
        assert refused.status() == 1
        text = refused.output.decode().rpartition("\x1b[?1049l")[2]
        assert "event_no_update is missing" in text
    with closing(sqlite3.connect(folder / "ledger.db", isolation_level=None)) as foreign:
        foreign.execute(guard)
    hold(folder, before, "guard back", case=key, made=False, extra=0)
