"""A hand that is faster than the screens: no key press vanishes. Each is recorded, or the screen says it was not taken.

The long form: ``LABCHECK_ROUNDS=300 pytest tests/terminal/test_fast_hands.py``.
"""

from __future__ import annotations

import os
import random
import re
import time
from collections import Counter
from contextlib import closing
from pathlib import Path

import pytest

from labcheck.ledger.store import open_ledger
from tests.terminal.harness import Terminal, labcheck

pytestmark = pytest.mark.terminal

ROUNDS = int(os.environ.get("LABCHECK_ROUNDS", "10"))
NOT_TAKEN = re.compile(r"(\S+) NOT TAKEN(?: \((\d+) presses\))?")
GAPS_S = (0.0, 0.005, 0.02, 0.05, 0.15)


def pressed(terminal: Terminal, keys: tuple[str, ...], gaps: random.Random) -> None:
    for key in keys:
        terminal.press(key)
        terminal.pump(gaps.choice(GAPS_S))


def not_taken(text: str) -> int:
    found = NOT_TAKEN.search(" ".join(text.split()))
    return int(found[2] or 1) if found else 0


def kinds(ledger: Path, key: str) -> Counter[str]:
    with closing(open_ledger(ledger, read_only=True)) as opened:
        return Counter(event.kind for event in opened.events(key))


def case_key(terminal: Terminal) -> str:
    terminal.wait(lambda text: re.match(r" [A-Z2-9]{4}-[A-Z2-9]{2} ", text) is not None, "a case")
    return terminal.text()[1:8]


def to_the_first_screen(terminal: Terminal) -> None:
    terminal.press("ctrl+q")
    terminal.wait_for("to the first screen")
    terminal.press("2")
    terminal.wait_for("new case")
    terminal.settle()


def test_keys_typed_through_the_screens_are_recorded_or_named(tmp_path: Path) -> None:
    gaps = random.Random(11)
    ledger = tmp_path / "ledger"
    with Terminal(labcheck("--ledger", str(ledger)), size=(80, 24), env={"NO_COLOR": "1"}) as terminal:
        terminal.wait_for("new case")
        seen: set[str] = set()
        for _ in range(ROUNDS):
            pressed(terminal, ("n", "f2", "enter", "f2"), gaps)
            key = case_key(terminal)
            assert key not in seen
            seen.add(key)
            terminal.pump(0.3)
            told, had = not_taken(terminal.text()), kinds(ledger, key)
            recorded = had["stage.opened"] + had["press.bounced"] + had["mark.set"]
            assert recorded + told == 2, (had, terminal.text())
            to_the_first_screen(terminal)


def test_keys_typed_over_panels_are_recorded_or_named_and_escape_always_leaves(tmp_path: Path) -> None:
    gaps = random.Random(12)
    ledger = tmp_path / "ledger"
    with Terminal(labcheck("--ledger", str(ledger)), size=(80, 24)) as terminal:
        terminal.wait_for("new case")
        terminal.press("n")
        terminal.wait_for("cusps, in order")
        terminal.press("f2")
        key = case_key(terminal)
        terminal.pump(0.6)
        marks = 0
        for _ in range(max(3, ROUNDS // 3)):
            pressed(terminal, ("f2", "l", "escape", "f2", "s", "escape", "d", "f2", "escape"), gaps)
            terminal.pump(0.35)
            text = terminal.text()
            assert "STEPS" in text or "FIGURES" in text  # no panel is left open
            had = kinds(ledger, key)
            assert had["mark.set"] - marks + not_taken(text) == 3, (had, text)
            assert had["stage.opened"] == 0
            marks = had["mark.set"]
            terminal.pump(0.8)
            terminal.press("x")  # whoever presses a key after a while has read the line
            terminal.wait(lambda text: "NOT TAKEN" not in text, "the line about the keys to go")
            terminal.press("escape")
            terminal.wait(lambda text: "FIGURES" in text, "the panel to close")


def test_keys_pressed_before_the_ledger_is_open_are_named(tmp_path: Path) -> None:
    with Terminal(labcheck("--ledger", str(tmp_path / "ledger")), size=(80, 24)) as terminal:
        until = time.monotonic() + 20
        while "opening the ledger" not in terminal.text() and time.monotonic() < until:
            terminal.pump(0.005)
        terminal.press("n")
        text = terminal.wait(
            lambda text: "not taken" in text or "cusps, in order" in text, "the plan, or that N was not taken"
        )
        assert "N not taken" in text or "cusps, in order" in text
