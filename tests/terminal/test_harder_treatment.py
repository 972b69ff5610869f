"""More of what terminals, people and other programs do to a running console, until it is left as it was begun."""

from __future__ import annotations

import random
import re
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

import labcheck as program
from tests.faults.invariants import heads
from tests.faults.long_form import long_only, short
from tests.terminal.harness import Terminal, labcheck
from tests.terminal.test_faults_on_screen import Desk, begun

pytestmark = pytest.mark.terminal

NOISY = """
import logging, sys, threading, time, warnings
import labcheck.cli
def noise():
    while True:
        time.sleep(0.2)
        print("NOISE from print")
        sys.stdout.write("NOISE from stdout\\n")
        sys.stderr.write("NOISE from stderr\\n")
        logging.getLogger("library").error("NOISE from logging")
        warnings.warn("NOISE from warnings")
threading.Thread(target=noise, daemon=True).start()
sys.argv = ["labcheck", "--ledger", sys.argv[1]]
labcheck.cli.run()
"""


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Desk]:
    folder = tmp_path_factory.mktemp("treated") / "ledger"
    with begun(folder, [sys.executable, "-c", NOISY, str(folder)]) as terminal:
        yield Desk(folder, terminal)


def still_whole(desk: Desk, what: str, before: dict[int, str]) -> None:
    """It lives, records one mark for one key, and all that was saved still is."""
    for _ in range(3):
        desk.terminal.press("escape")
        desk.terminal.settle(0.2, 0.5)
    desk.record()
    assert desk.events()[-1].kind == "mark.set"
    desk.hold(what, before)


@pytest.mark.parametrize(
    "sent",
    [
        pytest.param(b"\x1b[48;36;120;0;0t\x1b[?1016;1$y\x1b[<35;1;1M", id="zero-pixels"),
        pytest.param(b"\x1b[?1016;2$y\x1b[48;0;0;0;0t\x1b[<0;0;0M\x1b[<0;0;0m", id="zero-size", marks=long_only),
        pytest.param(b"\x1b[8;0;0t\x1b[4;0;0t", id="size-reports", marks=long_only),
    ],
)
def test_a_mouse_counted_in_pixels_of_no_size_changes_nothing(desk: Desk, sent: bytes) -> None:
    """Textualize/textual#6706."""
    before = heads(desk.folder, desk.key)
    desk.terminal.raw(sent)
    desk.terminal.settle(0.3, 1)
    # A size of nothing is believed, as from a real window; the next size brings the picture back.
    desk.terminal.resize(119, 36)
    desk.terminal.pump(0.2)
    desk.terminal.resize(120, 36)
    desk.terminal.wait_for("STEPS")
    still_whole(desk, "pixel mouse", before)


def test_a_held_key_with_the_usual_delay_of_a_keyboard_opens_no_more_than_the_second_stage(desk: Desk) -> None:
    """The first repeat comes after half a second, like a press of its own; the rest come thirty a second."""
    before = heads(desk.folder, desk.key)
    number = len(before)
    desk.terminal.pump(0.6)
    desk.terminal.press("enter")
    desk.terminal.pump(0.5)
    for _ in range(40):
        desk.terminal.press("enter")
        desk.terminal.pump(0.033)
    desk.terminal.settle(0.3, 1)
    opened = [event for event in desk.events()[number:] if event.kind == "stage.opened"]
    # One more only where this machine paused, so that two of the forty came as far apart as a hand presses.
    assert len(opened) <= 2
    assert "Enter NOT TAKEN" in desk.terminal.text()
    still_whole(desk, "held", before)


def test_text_pasted_without_brackets_neither_ends_it_nor_runs_through_the_stages(desk: Desk) -> None:
    """Every letter is a key then, and every line end is Enter."""
    before = heads(desk.folder, desk.key)
    number = len(before)
    desk.terminal.pump(0.6)
    desk.terminal.raw(b"call energy undo\r\nthe wire is through\r\n" * 12)
    seen = -1
    while seen != len(desk.events()):
        seen = len(desk.events())
        desk.terminal.pump(1.5)
    new = desk.events()[number:]
    assert sum(event.kind == "stage.opened" for event in new) <= 1
    assert not any(event.kind.startswith(("energy", "bailout", "case.sealed")) for event in new)
    assert len({event.id for event in desk.events()}) == len(desk.events())
    still_whole(desk, "paste", before)


def test_a_note_in_wide_and_combined_letters_is_drawn_in_its_columns(desk: Desk) -> None:
    """Textualize/textual#5243."""
    before = heads(desk.folder, desk.key)
    desk.terminal.press("n")
    desk.terminal.wait_for("Enter records it")
    desk.terminal.raw("\x1b[200~導線 wire e\u0301 \u0e01\u0e33 ok\x1b[201~".encode())
    desk.terminal.wait_for("ok")
    desk.terminal.press("enter")
    desk.terminal.wait_for(f"SAVED {len(before) + 1}")
    desk.terminal.press("e")
    desk.terminal.wait_for("ENTRIES")
    desk.terminal.wait_for("wire")
    desk.terminal.settle()
    for line in desk.terminal.screen.display:
        assert len(line) <= desk.terminal.columns + 4
    still_whole(desk, "wide letters", before)


@pytest.mark.parametrize("where", short(("case", "panel", "typing"), "panel"))
def test_a_storm_of_sizes_with_a_panel_open_is_survived(desk: Desk, where: str) -> None:
    """Textualize/textual#5568, #2502."""
    before = heads(desk.folder, desk.key)
    desk.terminal.press(*{"case": (), "panel": ("e",), "typing": ("n",)}[where])
    desk.terminal.settle()
    storm(desk.terminal)
    still_whole(desk, "sizes", before)


def storm(terminal: Terminal) -> None:
    """Many sizes, the smallest among them, and back."""
    sizes = random.Random(11)
    for _ in range(30):
        terminal.resize(sizes.randint(1, 220), sizes.randint(1, 70))
        terminal.pump(0.01)
    for size in ((1, 1), (80, 1), (1, 40), (2, 2), (120, 36)):
        terminal.resize(*size)
        terminal.pump(0.05)
    terminal.child.setwinsize(0, 0)
    terminal.pump(0.2)
    terminal.resize(120, 36)
    terminal.settle(0.2, 2)


@long_only
def test_a_storm_of_sizes_on_the_first_screen_and_on_the_plan_is_survived(tmp_path: Path) -> None:
    with Terminal(labcheck("--ledger", str(tmp_path / "ledger")), size=(100, 30)) as terminal:
        terminal.wait_for("new case")
        storm(terminal)
        terminal.wait_for("new case")
        terminal.press("n")
        terminal.wait_for("no patient numbers")
        storm(terminal)
        terminal.press("escape")
        terminal.wait_for("once more leaves")
        terminal.press("escape")
        terminal.wait_for("new case")


def test_a_terminal_that_is_not_read_for_long_does_not_move_the_time_of_a_press(desk: Desk) -> None:
    """terok-ai/terok#1187: the program's output has nowhere to go, its loop stands, the key comes all the same."""
    before = heads(desk.folder, desk.key)
    number = len(before)
    sizes = random.Random(3)
    for _ in range(25):  # fill what lies between: every size is a whole screen, and nobody reads
        desk.terminal.child.setwinsize(sizes.randint(30, 60), sizes.randint(100, 200))
        time.sleep(0.05)
    time.sleep(1.5)
    pressed = time.time()
    desk.terminal.press("f2")
    time.sleep(3)
    desk.terminal.resize(120, 36)
    desk.terminal.wait(lambda _: len(desk.events()) > number, "the press to be saved")
    desk.terminal.settle(0.3, 2)
    (mark,) = [event for event in desk.events()[number:] if event.kind == "mark.set"]
    assert abs(mark.happened.wall_us / 1e6 - pressed) < 2
    still_whole(desk, "not read", before)


def test_noise_on_the_streams_does_not_reach_the_screen(desk: Desk) -> None:
    """Textualize/textual#5219: what other code prints lands on the screen of a plain program. Here all the time."""
    before = heads(desk.folder, desk.key)
    desk.terminal.pump(0.5)
    assert "NOISE" not in desk.terminal.text()
    still_whole(desk, "noise", before)


def test_the_program_starts_no_other_program() -> None:
    """A child that writes to the terminal would draw over the screen. (A pool of our own processes prints nothing.)"""
    starting = re.compile(r"\b(subprocess|pty|os\.(system|popen|exec\w+|posix_spawn\w*|fork\w*))\b")
    for path in Path(program.__file__).parent.rglob("*.py"):
        assert not starting.search(path.read_text(encoding="utf-8")), path
