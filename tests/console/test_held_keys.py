"""Keys that are held down or bounce, in the real program: what opened a panel or a screen is not used on it."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Sequence
from typing import Any

from textual.pilot import Pilot

from labcheck.caselog.clockwords import clock_words
from labcheck.caselog.intents import OpenStage
from labcheck.console.app import Console
from labcheck.console.panels.panel import Press
from labcheck.ledger.memory import MemoryLedger
from tests.console.keyboard import held
from tests.console.live import (
    OneShelf,
    in_a_loop,
    press,
    pressed,
    running,
    screen_of,
    settled,
    text_of,
)


async def hold(pilot: Pilot[None], key: str, delay: float, repeats: int = 8) -> None:
    """Hold a key down: it comes at once, again after a while, then every 33 ms."""
    for at in held(time.monotonic(), delay, [0.033] * repeats):
        await asyncio.sleep(max(0.0, at - time.monotonic()))
        stamp = pilot.app.clock.stamp()  # type: ignore[attr-defined]
        pressed_on(pilot.app.screen, Press(key, key if len(key) == 1 else None, stamp, at))


def pressed_on(screen: Any, press: Press) -> None:
    """A press on whatever screen there is."""
    screen.take(press)


def kinds(pilot: Pilot[None]) -> list[str]:
    return [event.kind for event in screen_of(pilot).case.log]


@in_a_loop
async def test_a_digit_held_in_the_sign_out_list_settles_nothing_and_seals_nothing() -> None:
    async with running() as pilot:
        await press(pilot, "enter", "o")
        await hold(pilot, "1", 0.5)
        await settled(pilot)
        assert kinds(pilot) == ["case.opened", "stage.opened"]
        assert "1 NOT TAKEN (9 presses)" in text_of(pilot)


@in_a_loop
async def test_the_enter_that_recorded_a_value_does_not_call_when_it_bounces_or_is_held() -> None:
    async with running() as pilot:
        await press(pilot, "enter", "r", "1", "2", "7", "4")
        at = time.monotonic()
        for after in (0.0, 0.06, 0.3):
            pressed(pilot, "enter", at + after)
            await settled(pilot)
        for after in (0.5, 0.533):
            pressed(pilot, "enter", at + after)
        await settled(pilot)
        assert kinds(pilot).count("reading.taken") == 1
        assert kinds(pilot).count("stage.opened") == 1
        assert "Enter NOT TAKEN" in text_of(pilot)
        pressed(pilot, "enter", at + 2)
        await settled(pilot)
        assert kinds(pilot).count("stage.opened") == 2


@in_a_loop
async def test_enter_held_after_a_late_time_records_no_call() -> None:
    async with running() as pilot:
        await press(pilot, "enter", "l", "0")
        for sign in clock_words(screen_of(pilot).now_stamp()):
            pressed(pilot, sign, time.monotonic())
        await hold(pilot, "enter", 0.4)
        await settled(pilot)
        assert kinds(pilot) == ["case.opened", "stage.opened"]


@in_a_loop
async def test_enter_held_on_the_first_screen_resumes_the_case_and_calls_nothing() -> None:
    async with running() as pilot:
        await press(pilot, "enter")
        pilot.app.go_home()
        await pilot.pause(0.1)
        await hold(pilot, "enter", 0.55)
        await settled(pilot)
        assert kinds(pilot) == ["case.opened", "stage.opened", "clock.noticed"]


async def plan_with(keys: Sequence[float]) -> list[str]:
    """What is in the log of a new case whose plan was begun with F2 at these times."""
    console = Console(MemoryLedger(), OneShelf(), strict=True)
    async with console.run_test(size=(80, 24)) as pilot:
        console.plan(rehearsal=True)
        await pilot.pause(0.1)
        at = time.monotonic()
        for after in keys:
            await asyncio.sleep(max(0.0, at + after - time.monotonic()))
            pressed_on(console.screen, Press("f2", None, console.clock.stamp(), at + after))
            await pilot.pause(0.05)
        await settled(pilot)
        found = kinds(pilot)
    console.finish()
    return found


@in_a_loop
async def test_the_key_that_begins_a_case_leaves_no_mark_in_it_while_it_is_held() -> None:
    assert await plan_with([0.0, 0.55]) == ["case.opened"]
    assert await plan_with([0.0, 0.55, 1.3]) == ["case.opened", "mark.set"]


@in_a_loop
async def test_escape_held_on_the_plan_does_not_leave_it() -> None:
    console = Console(MemoryLedger(), OneShelf(), strict=True)
    async with console.run_test(size=(80, 24)) as pilot:
        console.plan(rehearsal=True)
        await pilot.pause(0.1)
        await hold(pilot, "escape", 0.3)
        await pilot.pause(0.2)
        assert "NOT TAKEN" in text_of(pilot)
        assert "REHEARSAL" in text_of(pilot)
    console.finish()


@in_a_loop
async def test_space_held_down_switches_the_energy_on_and_not_off_again() -> None:
    async with running() as pilot:
        screen = screen_of(pilot)
        screen.send(OpenStage(press=screen.press_id(), stage="cross", cusp="left", reason="test"), screen.now())
        await settled(pilot)
        await hold(pilot, "space", 0.5)
        await settled(pilot)
        assert screen.case.burst is not None
        await press(pilot, "space")
        assert screen.case.burst is None
        before = screen.case.head_seq
        at = time.monotonic() + 1
        for after in (0.0, 0.2, 0.5, 0.7):  # two short bursts
            pressed(pilot, "space", at + after)
            await settled(pilot)
        new = screen.case.log[before:]
        assert [e.kind for e in new if e.kind.startswith("energy")] == ["energy.started", "energy.stopped"] * 2
        assert "NOT TAKEN" not in text_of(pilot)
