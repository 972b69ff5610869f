"""The running case in the real program, without a terminal: screens, sizes, panels, and what never happens."""

from __future__ import annotations

import time
from typing import Any

import pytest

from labcheck.caselog.intents import CloseStage, OpenStage, SkipStage
from labcheck.caselog.stamps import Stamp
from labcheck.console.case_screen import CaseScreen
from labcheck.console.home import HomeScreen
from labcheck.console.opening import press_id
from labcheck.console.zone import Zone
from tests.console.desk import PromptWriter
from tests.console.live import (
    in_a_loop,
    press,
    pressed,
    running,
    screen_of,
    settled,
    text_of,
)


@in_a_loop
async def test_a_press_is_shown_as_saved_with_its_number_once_it_is() -> None:
    async with running() as pilot:
        await press(pilot, "f2")
        screen = screen_of(pilot)
        assert screen.case.log[-1].kind == "mark.set"
        assert f"SAVED {screen.case.head_seq}" in text_of(pilot)


@in_a_loop
async def test_the_press_carries_the_time_of_the_key_and_not_of_its_handling() -> None:
    async with running() as pilot:
        before = pilot.app.clock.stamp()
        await press(pilot, "f2")
        happened = screen_of(pilot).case.log[-1].happened
        after = pilot.app.clock.stamp()
        assert before.wall_us <= happened.wall_us <= after.wall_us
        assert happened.boot_us is not None


@pytest.mark.parametrize("size", [(80, 24), (120, 40), (200, 60), (60, 20), (40, 12), (100, 30)])
@in_a_loop
async def test_every_size_shows_the_stage_and_the_last_entry(size: tuple[int, int]) -> None:
    async with running(size) as pilot:
        await press(pilot, "enter")
        text = text_of(pilot)
        assert "ACCESS" in text or "Access" in text or "AAAA" in text or "AA" in text
        assert "saved" in text.lower()


@in_a_loop
async def test_the_marked_step_stays_marked_through_resizes_and_lost_focus() -> None:
    async with running((120, 40)) as pilot:
        await press(pilot, "enter", "down")
        screen = screen_of(pilot)
        marked = screen.step_at
        assert marked == 1
        for size in ((80, 24), (40, 10), (1, 1), (200, 60), (120, 40)):
            await pilot.resize_terminal(*size)
            await pilot.pause(0.05)
            assert screen.step_at == marked
        pilot.app.app_focus = False
        await pilot.pause(0.05)
        pilot.app.app_focus = True
        assert screen.step_at == marked


@in_a_loop
async def test_a_storm_of_resizes_with_a_panel_open_breaks_nothing() -> None:
    async with running((120, 40)) as pilot:
        await press(pilot, "enter", "r")
        for width, height in ((1, 1), (80, 1), (1, 40), (7, 7), (300, 90), (59, 19), (60, 20), (120, 40)):
            await pilot.resize_terminal(width, height)
            await pilot.pause(0.03)
        assert screen_of(pilot).panel is not None
        assert "READING" in text_of(pilot)


@in_a_loop
async def test_a_panel_covers_steps_figures_and_tail_and_leaves_stage_and_keys_in_sight() -> None:
    async with running((80, 24)) as pilot:
        await press(pilot, "enter", "b")
        shown = {zone.id for zone in pilot.app.screen.query(Zone) if zone.display}
        assert shown == {"zone-head", "zone-trace", "zone-now", "zone-clock", "zone-next", "zone-panel", "zone-keys"}
        await press(pilot, "escape")
        shown = {zone.id for zone in pilot.app.screen.query(Zone) if zone.display}
        assert "zone-panel" not in shown
        assert "zone-steps" in shown


@in_a_loop
async def test_nothing_mounts_and_nothing_advances_without_a_press() -> None:
    async with running((80, 24)) as pilot:
        await press(pilot, "enter")
        screen = screen_of(pilot)
        screen.session.send(_open(screen, "cross"), screen.now())
        await settled(pilot)
        mounted = list(screen.walk_children())
        stands = (screen.case.head_seq, screen.case.open_visit)
        for _ in range(5):
            screen.tick()
            await pilot.pause(0.02)
        assert list(screen.walk_children()) == mounted
        assert screen.panel is None
        assert (screen.case.head_seq, screen.case.open_visit) == stands
        assert len(pilot.app.screen_stack) == 2


def _open(screen: CaseScreen, stage: str) -> Any:
    from labcheck.caselog.intents import OpenStage

    return OpenStage(press=screen.press_id(), stage=stage, cusp="left", reason="test")


@in_a_loop
async def test_in_a_quiet_stage_the_trace_takes_in_an_entry_however_fast_time_runs_and_then_stands_still() -> None:
    async with running(size=(120, 40)) as pilot:
        await press(pilot, "enter")
        screen = screen_of(pilot)
        now, ahead = screen.now_stamp, [0]

        def later() -> Stamp:
            ahead[0] += 60_000_000
            stamp = now()
            moved = {name: getattr(stamp, name) + ahead[0] for name in ("wall_us", "boot_us", "mono_us")}
            return stamp.model_copy(update=moved)

        screen.now_stamp = later  # a minute for every look at the clock, as in a rehearsal that is played fast
        screen.session.send(_open(screen, "cross"), screen.now())
        await settled(pilot)
        shown = pilot.app.screen.query_one("#zone-trace", Zone).plain
        assert "cross L" in shown
        for _ in range(3):
            screen.tick()
            assert pilot.app.screen.query_one("#zone-trace", Zone).plain == shown


@in_a_loop
async def test_undo_takes_back_the_last_press_whole_and_restores_the_stage() -> None:
    async with running() as pilot:
        await press(pilot, "enter")
        visit = screen_of(pilot).case.visit
        screen_of(pilot).session.send(_open(screen_of(pilot), "position"), screen_of(pilot).now())
        await settled(pilot)
        await press(pilot, "f9")
        assert screen_of(pilot).case.visit == visit


@in_a_loop
async def test_a_second_enter_within_the_bounce_time_opens_nothing() -> None:
    async with running() as pilot:
        screen = screen_of(pilot)
        pilot.app.post_message(_key("enter"))
        pilot.app.post_message(_key("enter"))
        await pilot.pause(0.3)
        await settled(pilot)
        assert [visit.stage for visit in screen.case.visits] == ["access"]
        assert screen.case.log[-1].kind == "press.bounced"


@in_a_loop
async def test_a_key_held_down_switches_the_energy_once() -> None:
    async with running() as pilot:
        screen = screen_of(pilot)
        screen.session.send(_open(screen, "cross"), screen.now())
        await settled(pilot)
        for _ in range(20):
            pilot.app.post_message(_key("space", " "))
        await pilot.pause(0.3)
        await settled(pilot)
        assert [e.kind for e in screen.case.log].count("energy.started") == 1
        assert screen.case.burst is not None


@in_a_loop
async def test_presses_of_the_screen_before_are_not_taken_for_this_one() -> None:
    async with running() as pilot:
        screen = screen_of(pilot)
        screen.opened_at = time.monotonic()
        await press(pilot, "enter", "f2")
        assert [event.kind for event in screen.case.log][1:] in ([], ["mark.set"])
        assert screen.case.visit is None


def _key(key: str, character: str | None = None) -> Any:
    from textual.events import Key

    return Key(key, character)


@in_a_loop
async def test_quitting_is_asked_and_the_case_waits_on_the_first_screen() -> None:
    async with running() as pilot:
        key = screen_of(pilot).case.key
        await press(pilot, "ctrl+q")
        assert screen_of(pilot).panel is not None
        await pilot.press("2")
        await pilot.pause(0.2)
        assert isinstance(pilot.app.screen, HomeScreen)
        assert key in text_of(pilot)
        assert "NOT FINISHED" in text_of(pilot)
        await pilot.press("enter")
        await pilot.pause(0.3)
        screen = screen_of(pilot)
        await settled(pilot)
        assert screen.case.key == key
        assert screen.case.log[-1].kind == "clock.noticed"
        assert screen.panel is None


@in_a_loop
async def test_pasted_lines_do_nothing_outside_a_text_field() -> None:
    from textual.events import Paste

    async with running() as pilot:
        screen = screen_of(pilot)
        before = screen.case.head_seq
        pilot.app.post_message(Paste("b1\r\r" * 500))
        await pilot.pause(0.2)
        assert screen.case.head_seq == before
        await press(pilot, "n")
        pilot.app.post_message(Paste("[/] [B2\nsecond line"))
        await pilot.pause(0.1)
        await press(pilot, "enter")
        assert screen.case.log[-1].what.text == "[/] [B2 second line"
        assert "[/] [B2 second line" in text_of(pilot)


@in_a_loop
async def test_a_fault_of_ours_is_said_and_leaves_the_console_running(monkeypatch: pytest.MonkeyPatch) -> None:
    async with running() as pilot:
        pilot.app.strict = False
        screen = screen_of(pilot)

        def broken(*_: object) -> None:
            raise KeyError("made for the test")

        monkeypatch.setattr(screen, "_act", broken)
        await pilot.press("f2")
        await pilot.pause(0.1)
        monkeypatch.undo()
        assert "fault in the program" in screen.answer
        await press(pilot, "f2")
        assert screen.case.log[-1].kind == "mark.set"


@in_a_loop
async def test_a_key_that_is_not_taken_is_named_also_after_the_next_key() -> None:
    async with running() as pilot:
        screen = screen_of(pilot)
        before = screen.case.head_seq
        screen.opened_at = time.monotonic()
        pressed(pilot, "enter", screen.opened_at + 0.1)
        pressed(pilot, "f2", screen.opened_at + 0.2)
        await settled(pilot)
        assert screen.case.head_seq == before
        assert "Enter, F2 NOT TAKEN (2 presses): this screen had just opened" in text_of(pilot)
        pressed(pilot, "f2", screen.opened_at + 0.5)
        await settled(pilot)
        assert screen.case.head_seq == before + 1
        assert "NOT TAKEN" in text_of(pilot)
        pressed(pilot, "x", screen.opened_at + 2)
        await settled(pilot)
        assert "NOT TAKEN" not in text_of(pilot)


@in_a_loop
async def test_a_held_key_says_that_its_repeats_are_not_taken() -> None:
    async with running() as pilot:
        before = screen_of(pilot).case.head_seq
        start = time.monotonic()
        for at in (0.0, 0.03, 0.06):
            pressed(pilot, "f2", start + at)
        await settled(pilot)
        assert screen_of(pilot).case.head_seq == before + 1
        assert "F2 NOT TAKEN (2 presses)" in text_of(pilot)


@in_a_loop
async def test_a_key_without_a_meaning_is_answered() -> None:
    async with running() as pilot:
        for key, name in (("f12", "F12"), ("z", "Z"), ("escape", "Esc"), ("ctrl+t", "Ctrl+t")):
            pressed(pilot, key, time.monotonic())
            await settled(pilot)
            assert f"{name} does nothing here" in text_of(pilot)
        pressed(pilot, "x", time.monotonic())
        pressed(pilot, "9", time.monotonic())
        await settled(pilot)
        assert "no line here has 9" in text_of(pilot)


@in_a_loop
async def test_what_comes_of_an_earlier_press_does_not_hide_the_answer_to_a_later_one() -> None:
    async with running() as pilot:
        screen = screen_of(pilot)
        await press(pilot, "enter")
        await press(pilot, "f2")
        slow = PromptWriter(pilot.app.ledger)
        screen.session.writer = slow
        slow.hold = True
        pressed(pilot, "f9", time.monotonic())
        pressed(pilot, "z", time.monotonic())
        slow.let_go()
        await settled(pilot)
        answer = " ".join(text_of(pilot).split())
        assert 'Z does nothing here; F1 shows the keys; took back 3 "mark' in answer

        slow.hold = True
        pressed(pilot, "f2", time.monotonic() + 1)
        screen.session.send(_open(screen, "access"), screen.now())
        pressed(pilot, "z", time.monotonic() + 2)
        slow.let_go()
        await settled(pilot)
        assert "already in Access; Z does nothing here" in text_of(pilot)


@in_a_loop
async def test_no_key_stands_twice_in_the_bottom_row_and_after_the_last_stage_sign_out_is_named() -> None:
    async with running((200, 60)) as pilot:
        screen = screen_of(pilot)
        for stage in screen.case.checklist.stage[:1]:
            screen.send(OpenStage(press=press_id(), stage=stage.id, reason="test"), screen.now_stamp())
            await settled(pilot)
        for slot in screen.case.slots[1:]:
            skip = SkipStage(press=press_id(), stage=slot.stage, cusp=slot.cusp, reason="test")
            screen.send(skip, screen.now_stamp())
            await settled(pilot)
        screen.send(CloseStage(press=press_id()), screen.now_stamp())
        await settled(pilot)
        view = screen.view()
        assert view.expected is None
        names = [key.key for key in view.keys]
        assert len(names) == len(set(names))
        assert names[0] == "O"
        assert "no call is expected; O opens the sign-out list" in text_of(pilot)
