"""Presses while an earlier one is still being written: each means what was on the screen when it was pressed."""

from __future__ import annotations

import asyncio
import time
from concurrent.futures import Future
from typing import Any

from textual.pilot import Pilot

from labcheck.caselog.intents import OpenStage, WriteNote
from labcheck.console.bound import called
from labcheck.console.case_screen import CaseScreen
from labcheck.console.panels.panel import Press
from labcheck.ledger.errors import NotSaved
from tests.console.desk import PromptWriter
from tests.console.live import in_a_loop, press, running, screen_of, settled, text_of

LATER_S = 5.0
"""Added to the time of a press that no guard is to take for the keyboard's doing."""


def pressed(pilot: Pilot[None], key: str, at: float) -> None:
    """A key at that moment of the machine's own clock, which may be to come: its stamp says the same."""
    screen = screen_of(pilot)
    stamp, ahead = screen.now_stamp(), max(0, round((at - time.monotonic()) * 1_000_000))
    later = {name: getattr(stamp, name) + ahead for name in ("wall_us", "boot_us", "mono_us")}
    screen.take(Press(key, key if len(key) == 1 else None, stamp.model_copy(update=later), at))


def slow_disk(pilot: Pilot[None]) -> PromptWriter:
    """From now on nothing is written until it is let go."""
    app: Any = pilot.app
    writer = PromptWriter(app.ledger)
    writer.hold = True
    screen_of(pilot).session.writer = writer
    return writer


async def behind_each_other(pilot: Pilot[None], *keys: str) -> None:
    """Press keys while nothing is written, so far apart that each is a press of its own; then let all be written."""
    writer = slow_disk(pilot)
    now = time.monotonic()
    for number, key in enumerate(keys, 1):
        pressed(pilot, key, now + number * LATER_S)
    writer.let_go()
    await settled(pilot)


async def open_stage(screen: CaseScreen, stage: str) -> None:
    screen.send(OpenStage(press=screen.press_id(), stage=stage, cusp="left", reason="test"), screen.now())
    await asyncio.sleep(0.05)


def stages(screen: CaseScreen) -> list[str]:
    return [visit.stage for visit in screen.case.visits]


@in_a_loop
async def test_a_call_pressed_while_the_one_before_it_is_written_records_no_call_that_was_never_shown() -> None:
    async with running() as pilot:
        await press(pilot, "enter")
        screen = screen_of(pilot)
        await behind_each_other(pilot, "enter", "enter")  # still with the same call on the screen
        assert len(stages(screen)) == 2
        assert "Enter NOT TAKEN: pressed for" in " ".join(text_of(pilot).split())
        pressed(pilot, "enter", time.monotonic() + 3 * LATER_S)
        await settled(pilot)
        assert len(stages(screen)) == 3


@in_a_loop
async def test_a_call_behind_another_entry_is_recorded_when_its_turn_comes() -> None:
    async with running() as pilot:
        await press(pilot, "enter")
        await behind_each_other(pilot, "f2", "enter")
        assert [event.kind for event in screen_of(pilot).case.log][-3:] == ["mark.set", "stage.closed", "stage.opened"]


@in_a_loop
async def test_a_call_behind_an_undo_that_changes_the_call_is_not_recorded() -> None:
    async with running() as pilot:
        await press(pilot, "enter")
        await asyncio.sleep(0.4)
        await press(pilot, "enter")
        screen = screen_of(pilot)
        assert len(stages(screen)) == 2
        await behind_each_other(pilot, "f9", "enter")
        assert len(stages(screen)) == 1
        assert screen.case.log[-1].kind == "event.voided"
        assert "Enter NOT TAKEN" in text_of(pilot)


@in_a_loop
async def test_a_call_pressed_just_before_the_screen_showed_another_is_for_the_one_before() -> None:
    async with running() as pilot:
        await press(pilot, "enter")
        screen = screen_of(pilot)
        before = screen.shown_call(time.monotonic())
        then = time.monotonic()
        await asyncio.sleep(0.5)
        await press(pilot, "enter")
        now_shown = screen.shown_call(time.monotonic())
        assert before != now_shown
        assert screen.shown_call(then) == before


@in_a_loop
async def test_the_same_step_pressed_twice_while_the_disk_is_slow_is_answered_once() -> None:
    async with running() as pilot:
        await press(pilot, "enter", "down")
        screen = screen_of(pilot)
        await behind_each_other(pilot, "right", "right")
        assert [event.kind for event in screen.case.log].count("step.answered") == 1
        assert "Right NOT TAKEN" in text_of(pilot)


@in_a_loop
async def test_energy_behind_a_call_is_recorded_in_the_stage_that_the_call_opens() -> None:
    async with running() as pilot:
        await press(pilot, "enter")
        screen = screen_of(pilot)
        writer = slow_disk(pilot)
        await open_stage(screen, "cross")
        pressed(pilot, "space", time.monotonic())
        writer.let_go()
        await settled(pilot)
        assert screen.case.burst is not None


@in_a_loop
async def test_energy_where_none_is_used_says_so_at_once_and_behind_a_call_too() -> None:
    async with running() as pilot:
        await press(pilot, "enter")
        screen = screen_of(pilot)
        now = time.monotonic()
        pressed(pilot, "space", now)
        assert "no energy in this stage" in screen.answer
        writer = slow_disk(pilot)
        pressed(pilot, "enter", now + LATER_S)
        pressed(pilot, "space", now + 2 * LATER_S)
        writer.let_go()
        await settled(pilot)
        assert screen.case.burst is None
        assert screen.answer  # the log's own words for it


@in_a_loop
async def test_a_refusal_that_comes_late_leaves_what_is_being_typed_and_is_asked_for_by_enter() -> None:
    async with running() as pilot:
        await press(pilot, "enter")
        screen = screen_of(pilot)
        await open_stage(screen, "position")
        await settled(pilot)
        writer = slow_disk(pilot)
        now = time.monotonic()
        pressed(pilot, "f2", now + 1)
        pressed(pilot, "enter", now + 2)  # the call to cross, which wants a reason
        pressed(pilot, "r", now + 3)
        pressed(pilot, "1", now + 4)
        pressed(pilot, "2", now + 5)
        typing = screen.panel
        writer.let_go()
        await settled(pilot)
        assert screen.panel is typing
        assert "NOT RECORDED" in text_of(pilot)
        for at, key in enumerate(("7", "4", "enter"), 6):
            pressed(pilot, key, now + at)
        await settled(pilot)
        assert str(screen.case.readings[-1].what.value) == "274"
        assert "NOT RECORDED" in text_of(pilot)
        assert stages(screen)[-1] == "position"
        pressed(pilot, "enter", now + 20)
        assert screen.panel is not None
        assert "NOT RECORDED" not in text_of(pilot)
        pressed(pilot, "1", now + 21)
        await settled(pilot)
        assert stages(screen)[-1] == "cross"


@in_a_loop
async def test_a_value_asked_about_late_goes_back_to_its_own_panel() -> None:
    async with running() as pilot:
        await press(pilot, "enter")
        screen = screen_of(pilot)
        writer = slow_disk(pilot)
        now = time.monotonic()
        pressed(pilot, "f2", now + 1)
        for at, key in enumerate(("r", "1", *"2740"), 2):
            pressed(pilot, key, now + at)
        asked = screen.panel
        for at, key in enumerate(("enter", "d", "1"), 10):
            pressed(pilot, key, now + at)
        dose = screen.panel
        writer.let_go()
        await settled(pilot)
        assert screen.panel is dose
        pressed(pilot, "escape", now + 20)
        pressed(pilot, "enter", now + 21)
        assert "2740" in " ".join(text_of(pilot).split())
        pressed(pilot, "left", now + 22)
        assert screen.panel is asked


@in_a_loop
async def test_a_settlement_that_is_written_late_leaves_what_was_opened_since() -> None:
    async with running() as pilot:
        await press(pilot, "enter", "o")
        writer = slow_disk(pilot)
        now = time.monotonic()
        for at, key in enumerate(("1", "1", "escape", "n", "x"), 1):
            pressed(pilot, key, now + at)
        screen = screen_of(pilot)
        note = screen.panel
        writer.let_go()
        await settled(pilot)
        assert screen.case.log[-1].kind == "signout.settled"
        assert screen.panel is note


@in_a_loop
async def test_what_is_typed_while_something_waits_for_the_disk_is_painted_at_once() -> None:
    async with running() as pilot:
        await press(pilot, "enter")
        writer = slow_disk(pilot)
        now = time.monotonic()
        pressed(pilot, "f2", now)
        await asyncio.sleep(0.4)
        for at, key in enumerate(("r", "1"), 1):
            pressed(pilot, key, now + at)
        await asyncio.sleep(0.3)
        for at, key in enumerate("274", 3):
            pressed(pilot, key, now + at)
        assert "value: 274" in text_of(pilot)
        writer.let_go()


@in_a_loop
async def test_the_mark_moves_at_once_while_a_press_cannot_be_saved() -> None:
    async with running() as pilot:
        await press(pilot, "enter")
        writer = slow_disk(pilot)
        writer.hold, writer.fail_next = False, NotSaved("no room")
        writer.retry = Future  # type: ignore[method-assign]
        screen = screen_of(pilot)
        screen.send(WriteNote(press=screen.press_id(), text="waits"), screen.now())
        await asyncio.sleep(0.3)
        assert "NOT SAVED" in text_of(pilot)
        before = screen._zones["steps"].plain
        pressed(pilot, "down", time.monotonic())
        assert screen._zones["steps"].plain != before


@in_a_loop
async def test_f5_silences_only_a_reminder_that_can_be_read() -> None:
    async with running() as pilot:
        await press(pilot, "enter")
        screen = screen_of(pilot)
        real, screen.clock_watch = screen.now_stamp, None

        def six_minutes_on() -> Any:
            now = real()
            return now.model_copy(update={f: getattr(now, f) + 360_000_000 for f in ("wall_us", "boot_us", "mono_us")})

        screen.now_stamp = six_minutes_on
        now = time.monotonic()
        pressed(pilot, "r", now + 1)
        screen.tick()
        pressed(pilot, "f5", now + 2)
        await settled(pilot)
        assert screen.case.log[-1].kind == "stage.opened"
        assert "no reminder is on the screen" in text_of(pilot)
        pressed(pilot, "escape", now + 3)
        await asyncio.sleep(0.3)
        screen.tick()
        assert "REMINDER" in text_of(pilot)
        pressed(pilot, "f5", now + 4)
        await settled(pilot)
        assert screen.case.log[-1].kind == "prompt.silenced"


@in_a_loop
async def test_the_call_that_stands_on_the_screen_is_the_one_that_enter_records_to_the_last_stage() -> None:
    async with running() as pilot:
        screen = screen_of(pilot)
        for _ in range(30):
            await settled(pilot)
            shown = screen.shown_call(time.monotonic())
            assert shown == called(screen.case)
            if shown is None:
                break
            screen.send(OpenStage(press=screen.press_id(), reason="test"), ahead(screen))
        assert screen.case.visits
        assert screen.case.visit is None


def ahead(screen: CaseScreen) -> Any:
    """A stamp after the guard against a second call."""
    now = screen.now_stamp()
    last = screen.case.log[-1].entered.wall_us
    later = max(0, last + 500_000 - now.wall_us)
    return now.model_copy(update={f: getattr(now, f) + later for f in ("wall_us", "boot_us", "mono_us")})
