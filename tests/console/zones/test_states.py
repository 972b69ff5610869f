"""Every state can be told from every other without colour."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations
from typing import get_args

import pytest

from labcheck.caselog.figures import Figure
from labcheck.caselog.steps import StepLine, StepState
from labcheck.caselog.watches import Level
from labcheck.checklist.model import Step
from labcheck.console.view import Save, SaveState, TailLine, View
from labcheck.console.zones.layout import ZoneName
from tests.console.zones.drawing import lines, monochrome, reversed_text, zone
from tests.console.zones.scenes import SCENES

SIZES = ((80, 24), (120, 40))


def step_line(state: StepState, *, killer: bool = False, words: str = "") -> StepLine:
    step = Step(id="x", say="Snare open", killer=killer, owner="nurse")
    return StepLine(step, "position", "left", state, words, None)


def step_views() -> dict[str, View]:
    """One other step is held, so that the step in question stands in its own state."""
    ready = SCENES["ready"]()
    held = step_line("open")
    states = {
        "open": step_line("open"),
        "killer": step_line("open", killer=True),
        "done": step_line("done", words="done"),
        "done killer": step_line("done", killer=True, words="done"),
        "not done": step_line("not_done", words="not done: scrubbing"),
        "not applicable": step_line("not_applicable", words="not applicable"),
        "value": step_line("value", words="274 s"),
    }
    views = {name: replace(ready, steps=(line, held), step_at=1) for name, line in states.items()}
    return views | {"held": replace(ready, steps=(held, held), step_at=0)}


def save_views() -> dict[str, View]:
    ready = SCENES["ready"]()
    return {state: replace(ready, save=Save(state, "", 0)) for state in get_args(SaveState)}


def figure_views() -> dict[str, View]:
    ready = replace(SCENES["ready"](), prompt=None)
    return {level: replace(ready, figures=(Figure("x", "ACT 274 s", level),)) for level in get_args(Level)}


def entry_views() -> dict[str, View]:
    ready = SCENES["ready"]()
    entries = {
        "plain": TailLine(1, "10:00:00", "ACT 274 s"),
        "late": TailLine(1, "10:00:00", "ACT 274 s", "LATE +2:30"),
        "void": TailLine(1, "10:00:00", "ACT 274 s", "", "void"),
        "amended": TailLine(1, "10:00:00", "ACT 274 s", "", "amended"),
        "late and void": TailLine(1, "10:00:00", "ACT 274 s", "LATE +2:30", "void"),
    }
    return {name: replace(ready, tail=(entry,)) for name, entry in entries.items()}


def call_views() -> dict[str, View]:
    waits = SCENES["ready"]()
    assert waits.expected is not None
    may = replace(waits, expected=replace(waits.expected, unmet=()))
    return {
        "waits": waits,
        "may": may,
        "none": replace(waits, expected=None),
        "answered": SCENES["refused"](),
    }


def now_views() -> dict[str, View]:
    off = SCENES["lacerated"]()
    on = SCENES["traverse"]()
    quiet_off = replace(on, case=replace(on.case, open_burst=None))
    return {
        "energy on": on,
        "energy off": quiet_off,
        "since laceration": off,
        "stage clock": replace(off, big=None),
    }


GROUPS: dict[ZoneName, dict[str, View]] = {
    "steps": step_views(),
    "tail": save_views(),
    "figures": figure_views(),
    "next": call_views(),
    "now": now_views(),
}


@pytest.mark.parametrize("size", SIZES, ids=lambda s: f"{s[0]}x{s[1]}")
@pytest.mark.parametrize("name", GROUPS)
def test_no_two_states_look_alike_without_colour(name: ZoneName, size: tuple[int, int]) -> None:
    shown = {state: monochrome(zone(view, name, size)) for state, view in GROUPS[name].items()}
    for one, other in combinations(shown, 2):
        assert shown[one] != shown[other], (one, other)


@pytest.mark.parametrize("size", SIZES, ids=lambda s: f"{s[0]}x{s[1]}")
def test_entries_say_late_void_and_amended_in_words(size: tuple[int, int]) -> None:
    shown = {name: "\n".join(lines(view, "tail", size)) for name, view in entry_views().items()}
    assert len(set(shown.values())) == len(shown)
    assert "LATE +2:30" in shown["late"]
    assert "VOID" in shown["void"]
    assert "AMENDED" in shown["amended"]
    assert "VOID" not in shown["plain"] + shown["late"]


def test_the_words_of_the_states() -> None:
    said = {name: "\n".join(lines(view, "steps")) for name, view in step_views().items()}
    assert "KILLER" in said["killer"]
    assert "NOT DONE" in said["not done"]
    assert "scrubbing" in said["not done"]
    assert "274 s" in said["value"]
    levels = {name: lines(view, "figures")[1] for name, view in figure_views().items()}
    assert levels["plain"].split()[0] == "ACT"
    for name in ("notice", "due", "overdue"):
        assert levels[name].split()[0] == name.upper()
    saves = {name: lines(view, "tail")[0] for name, view in save_views().items()}
    assert "SAVED" not in saves["writing"] + saves["slow"] + saves["idle"]
    assert "NOT SAVED" in saves["not_saved"]


def test_energy_is_said_on_in_reverse_and_off_in_words() -> None:
    views = now_views()
    for size in SIZES:
        assert "ENERGY ON" in reversed_text(zone(views["energy on"], "now", size))
        assert "energy off" in "\n".join(lines(views["energy off"], "now", size))
        assert "ENERGY" not in "\n".join(lines(views["energy off"], "now", size))


@pytest.mark.parametrize("size", SIZES, ids=lambda s: f"{s[0]}x{s[1]}")
def test_a_press_that_was_not_saved_fills_a_row_from_edge_to_edge(size: tuple[int, int]) -> None:
    unsaved = SCENES["unsaved"]()
    places: tuple[ZoneName, ...] = ("head", "tail")
    for name in places:
        first = zone(unsaved, name, size).plain.split("\n")[0]
        assert first.strip().startswith("NOT SAVED")
        assert reversed_text(zone(unsaved, name, size)).startswith(first)
    assert "SAVED 67" not in "\n".join(lines(unsaved, "tail", size))
