"""Fault 25 in the real program: text that acts, drawn in a real terminal, leaves no byte that acts in what it gets."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from labcheck.caselog.events import NoteWritten
from labcheck.console.keys import KEYS
from labcheck.ledger.store import open_ledger
from tests.faults import planted_ledger
from tests.faults.invariants import heads, hold
from tests.faults.long_form import short
from tests.faults.planted_ledger import KINDS, STORY
from tests.faults.planting import ACTING, TAG, steering
from tests.terminal.harness import Terminal, labcheck

pytestmark = [pytest.mark.terminal, pytest.mark.fault(25)]

OWN = re.compile(
    r"\x1b\[[0-9;:<>=?$]*[A-Za-z`@~]"  # colours, places, modes
    r"|\x1b\]22;default\x07"  # the library gives the terminal its own pointer back
    r"|\x1b[=>78]"
)
"""Every sequence the program itself writes. Any other comes out of a text."""
PANELS = [line for line in KEYS if "case" in line.where and not line.logs and line.id not in ("quit", "up", "down")]
BYTES = {"f1": "f1", "question_mark": "?"}


@pytest.fixture(scope="module")
def ledger(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("planted") / "ledger"
    planted_ledger.make(folder)
    return folder


@pytest.fixture(scope="module")
def console(ledger: Path) -> Iterator[Terminal]:
    with Terminal(labcheck("--ledger", str(ledger)), size=(140, 44)) as terminal:
        terminal.wait_for("new case")
        yield terminal


def nothing_acts(terminal: Terminal) -> None:
    """Of all bytes so far: no sequence but the program's own, and no sign that steers beside them."""
    text = terminal.output.decode("utf-8")
    assert [found for found in OWN.findall(text) if TAG in found] == []
    assert set(steering(OWN.sub("", text))) - {"U+000D"} == set()


def left(terminal: Terminal, *, title: str = "Esc leaves") -> None:
    """Leave whatever panel is open."""
    for _ in range(4):
        if title not in terminal.text():
            return
        terminal.press("escape")
        terminal.settle(0.15, 0.6)
    raise AssertionError(f"a panel stays open:\n{terminal.text()}")


def opened(terminal: Terminal, case: str) -> None:
    """Open a case from the first screen, a closed one after asking for the closed ones."""
    if case not in terminal.text():
        terminal.press("down", "down", "down", "enter", gap=0.1)
    terminal.wait_for(case)
    terminal.press("enter")
    terminal.wait_for("STEPS")
    terminal.pump(0.5)  # a press so soon after the screen opened belongs to the screen before


def test_the_plan_form_and_every_panel_draw_planted_text_inertly(console: Terminal, ledger: Path) -> None:
    before = heads(ledger, STORY)
    console.press("n")
    console.wait_for("no patient numbers")
    for kind in ACTING.values():
        console.press("down", "down")
        console.raw(b"\x1b[200~" + kind.encode() + b"\x1b[201~")
        console.settle()
    nothing_acts(console)
    console.press("escape")
    console.wait_for("once more leaves")
    console.pump(0.3)  # as far apart as a hand presses; closer it is taken for a key that bounces
    console.press("escape")
    console.wait_for(STORY)
    opened(console, STORY)
    assert TAG in console.text()
    for line in PANELS:
        console.press(BYTES.get(line.keys[0], line.keys[0]))
        console.settle()
        console.press("down", "pagedown", "up")
        console.settle()
        left(console)
    nothing_acts(console)
    assert not (ledger / "faults.log").exists()
    hold(ledger, before, "drawn", case=STORY, made=False)


@pytest.mark.parametrize("kind", short(ACTING, "escape"))
def test_pasted_text_is_kept_cleaned(console: Terminal, ledger: Path, kind: str) -> None:
    before = heads(ledger, STORY)
    if "STEPS" not in console.text():
        opened(console, STORY)
    console.press("n")
    console.wait_for("Enter records it")
    console.raw(b"\x1b[200~" + ACTING[kind].encode() + b"\x1b[201~")
    console.wait_for(TAG)
    console.press("enter")
    console.wait(lambda text: f"SAVED {len(before) + 1}" in text, "the note to be saved")
    with closing(open_ledger(ledger, read_only=True)) as opened_again:
        last = opened_again.events(STORY)[-1].what
    assert isinstance(last, NoteWritten)
    assert TAG in last.text
    assert last.text.isprintable()
    nothing_acts(console)
    hold(ledger, before, "pasted", case=STORY, made=False)


def test_a_closed_case_is_looked_back_on_inertly(ledger: Path) -> None:
    before = heads(ledger, KINDS)
    with Terminal(labcheck("--ledger", str(ledger)), size=(100, 30)) as terminal:
        terminal.wait_for("closed cases")
        terminal.press("down", "down", "down", "enter", gap=0.2)
        terminal.wait_for(KINDS)
        terminal.press("enter")
        terminal.wait_for("TAIL" if "TAIL" in terminal.text() else "STEPS")
        terminal.pump(0.5)
        for key in ("e", "g", "i", "f1"):
            terminal.press(key)
            terminal.settle()
            terminal.press("pageup", "down", "pagedown")
            terminal.settle()
            left(terminal)
        nothing_acts(terminal)
        assert terminal.output.count(TAG.encode()) > 20
    assert not (ledger / "faults.log").exists()
    hold(ledger, before, "looked back", case=KINDS, made=False)
