"""Fault 24: a hostile checklist file ends in one line, within half a second of work, and nothing of it is stored."""

from __future__ import annotations

import signal
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from labcheck.console.bench import Shelf
from labcheck.console.panels.panel import Press
from labcheck.console.plan_screen import PlanScreen
from labcheck.ledger.clocks import SystemClock
from tests.checklist.test_hostile import HOSTILE
from tests.faults.flips import make_plain
from tests.faults.full_disk import contents
from tests.faults.invariants import heads, hold
from tests.faults.planting import steering
from tests.faults.running import run

pytestmark = pytest.mark.fault(24)

MOST_S = 0.5
"""Processor time, not the time on the wall: a busy machine changes nothing."""
SCRIPT = """
format = 1
title = "beside a checklist of the house"
checklist = "local"
date = "2031-03-04"
utc_offset = "+01:00"

[plan]
technique = "small"
substrate = "surgical"
targets = ["left"]

[[entry]]
at = "09:00:00"
do = "stage.open"
"""


class _TooLongError(BaseException):
    """Not one that anything in the program catches."""


@contextmanager
def within(seconds: float) -> Iterator[None]:
    """Stop what takes more processor time than that."""

    def stop(*_: object) -> None:
        raise _TooLongError

    before = signal.signal(signal.SIGPROF, stop)
    signal.setitimer(signal.ITIMER_PROF, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.signal(signal.SIGPROF, before)


@pytest.fixture
def kept(tmp_path: Path) -> Iterator[Path]:
    """A ledger with a case in it; afterwards all of it is as it was."""
    folder = tmp_path / "ledger"
    make_plain(folder)
    before, stood = heads(folder), contents(folder)
    yield folder
    assert contents(folder) == stood
    hold(folder, before, "hostile", extra=0)


def placed(folder: Path) -> Iterator[tuple[str, Path]]:
    """Every hostile file, in a folder of its own with a script that names it."""
    for number, (name, text) in enumerate(HOSTILE.items()):
        house = folder / f"house-{number}"
        house.mkdir()
        data = text if isinstance(text, bytes) else text.encode("utf-8", "surrogatepass")
        (house / "local.toml").write_bytes(data)
        (house / "script.toml").write_text(SCRIPT, encoding="utf-8")
        yield name, house


@pytest.mark.parametrize("word", ["check", "transcribe", "rehearse"])
def test_every_command_that_reads_one_refuses_it_in_one_line(kept: Path, tmp_path: Path, word: str) -> None:
    run(kept, "check", str(Path(__file__).with_name("none.toml")))  # what is only loaded once is loaded now
    for name, house in placed(tmp_path):
        file = house / ("local.toml" if word == "check" else "script.toml")
        before = contents(house)
        with within(MOST_S):
            ran = run(kept, word, str(file))
        assert ran.status in (1, 2), name
        assert ran.out == "", name
        assert ran.err.startswith("labcheck: local.toml"), (name, ran.err)
        assert ran.err.count("\n") == 1, (name, ran.err)
        assert contents(house) == before, name


class _House:
    """A shelf on which only hostile checklists stand."""

    def names(self) -> tuple[str, ...]:
        return tuple(f"{number} {name}" for number, name in enumerate(HOSTILE))

    def text(self, name: str) -> bytes:
        text = HOSTILE[name.partition(" ")[2]]
        return text if isinstance(text, bytes) else text.encode("utf-8", "surrogatepass")


def test_the_consoles_plan_says_what_is_wrong_with_it_and_opens_no_case(kept: Path) -> None:
    shelf: Shelf = _House()
    with within(MOST_S * 2):
        screen = PlanScreen(shelf, rehearsal=False)
    for name in shelf.names():
        with within(MOST_S):
            screen._choose(shelf.names().index(name))
            drawn = screen._draw(100, 24).plain
        assert screen.checklist is None, name
        assert steering(drawn) == []
        (line,) = [row for row in drawn.splitlines() if ".toml" in row]
        assert line.strip().startswith(name[:20].strip()), line
        # There is nothing to begin: the key does nothing, and no console is needed for that.
        screen._begin(Press("f2", None, SystemClock().stamp()))
