"""The player: presses at the script's times, whatever the pace, until a person takes the keys."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Future
from pathlib import Path
from types import SimpleNamespace

import pytest

from labcheck.caselog.intents import Intent, OpenCase
from labcheck.caselog.playing import play
from labcheck.caselog.script import Script, read_script
from labcheck.caselog.stamps import Stamp
from labcheck.checklist.reading import digest, read_checklist
from labcheck.console.playing import Player, ScriptClock

CHECKLISTS = Path(__file__).parents[2] / "checklists"
TEXT = (CHECKLISTS / "electrosurgical.toml").read_bytes()
CHECKLIST = read_checklist(TEXT, "electrosurgical.toml")
KEY = "TEST-22"


@pytest.fixture
def script() -> Script:
    path = CHECKLISTS / "rehearsals" / "left-cusp-surgical.toml"
    return read_script(path.read_bytes(), path.name)


class Sent:
    """Collects what the player sends."""

    def __init__(self) -> None:
        self.presses: list[tuple[Intent, Stamp]] = []

    def __call__(self, intent: Intent, stamp: Stamp) -> None:
        self.presses.append((intent, stamp))


def still(script: Script) -> tuple[Player, ScriptClock, Sent]:
    """A player whose clock moves only when it is told."""
    clock = ScriptClock(script, pace=0)
    player = Player(script, CHECKLIST, TEXT, clock)
    player.load(KEY, digest(TEXT))
    return player, clock, Sent()


def test_the_case_is_opened_at_once_and_always_as_a_rehearsal(script: Script) -> None:
    real = Script(
        script.name,
        script.head.model_copy(update={"rehearsal": False}),
        script.start_us,
        script.off_s,
        script.entries,
    )
    player, _, sent = still(real)
    player.tick(sent)
    opening = sent.presses[0][0]
    assert isinstance(opening, OpenCase)
    assert opening.rehearsal


def test_nothing_is_pressed_before_its_time(script: Script) -> None:
    player, clock, sent = still(script)
    player.tick(sent)
    assert player.tick(sent) == 0
    clock.step(30_000_000)
    assert player.tick(sent) == 1
    assert player.said == "Time out. Left cusp only."
    assert player.place == (2, len(script.entries) + 1)


def test_every_press_carries_the_script_s_time_however_late_the_look(script: Script) -> None:
    coarse_player, coarse_clock, coarse = still(script)
    coarse_clock.step(3 * 3600 * 1_000_000)
    coarse_player.tick(coarse)
    fine_player, fine_clock, fine = still(script)
    while fine_player.playing:
        fine_player.tick(fine)
        fine_clock.step(7_000_000)
    times = [(stamp.wall_us, stamp.boot_us, stamp.off_s) for _, stamp in coarse.presses]
    assert times == [(stamp.wall_us, stamp.boot_us, stamp.off_s) for _, stamp in fine.presses]
    assert times == [
        (script.start_us + at, at, 3600) for at in (0, *(e.at_us - script.start_us for e in script.entries))
    ]


def test_the_same_intents_are_sent_as_a_played_script_decides(script: Script) -> None:
    player, clock, sent = still(script)
    clock.step(3 * 3600 * 1_000_000)
    player.tick(sent)
    case = play(script, CHECKLIST, KEY, digest(TEXT))
    assert hasattr(case, "log"), case
    assert {e.press for e in case.log} <= {intent.press for intent, _ in sent.presses}


def test_a_person_who_takes_the_keys_stops_the_script_and_its_pace(script: Script) -> None:
    clock = ScriptClock(script, pace=50)
    player = Player(script, CHECKLIST, TEXT, clock)
    player.load(KEY, digest(TEXT))
    sent = Sent()
    player.tick(sent)
    player.hand_over()
    clock.step(3 * 3600 * 1_000_000)
    assert player.tick(sent) == 0
    assert not player.playing
    assert clock.pace == 1.0


def test_after_the_last_press_time_runs_at_its_usual_pace(script: Script) -> None:
    clock = ScriptClock(script, pace=1000)
    player = Player(script, CHECKLIST, TEXT, clock)
    player.load(KEY, digest(TEXT))
    clock.step(3 * 3600 * 1_000_000)
    player.tick(Sent())
    assert not player.playing
    assert clock.pace == 1.0


def test_the_clock_stands_in_the_script_s_zone(script: Script) -> None:
    stamp = ScriptClock(script, pace=0).stamp()
    assert (stamp.wall_us, stamp.off_s, stamp.tz) == (script.start_us, 3600, "Etc/GMT-1")


def test_a_gap_of_a_day_is_passed_over() -> None:
    path = CHECKLISTS / "rehearsals" / "right-then-left-bailout.toml"
    player, clock, sent = still(read_script(path.read_bytes(), path.name))
    clock.step(2 * 3600 * 1_000_000)
    player.tick(sent)
    assert player.playing
    clock.step(10 * 60 * 1_000_000)
    player.tick(sent)
    assert not player.playing


def test_what_an_earlier_press_was_answered_is_cleared_before_the_next_one_of_the_script(script: Script) -> None:
    clock = ScriptClock(script, pace=0)
    player = Player(script, CHECKLIST, TEXT, clock)
    done: list[str] = []  # what was done to the line of answers
    ticks: list[Callable[[], int]] = []
    console = SimpleNamespace(
        ledger=SimpleNamespace(keep_checklist=digest, has=lambda _: False),
        bench=SimpleNamespace(
            writer=SimpleNamespace(submit=lambda *_: Future()), deliver=lambda call: call()
        ),
        show_case=lambda _: None,
        play=lambda _, tick: ticks.append(tick),
        say_here=lambda words: done.append(f"answer {words!r}"),
    )
    player.begin(console)  # type: ignore[arg-type]
    assert not done
    clock.step(30_000_000)
    assert ticks[0]() == 1
    assert done == ["answer ''"]
