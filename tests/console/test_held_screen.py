"""A case that another console has: it is read along, and no key of this console writes to it."""

from __future__ import annotations

from labcheck.caselog.deciding import Decided, decide
from labcheck.caselog.intents import SetMark
from labcheck.console.held_screen import HeldScreen
from labcheck.console.keys import KEYS
from labcheck.console.opening import look_on, press_id, take_over
from tests.console.desk import TestDesk
from tests.console.live import in_a_loop, running, settled, text_of


@in_a_loop
async def test_what_the_other_console_records_is_seen_and_no_key_records_here() -> None:
    async with running() as pilot:
        await settled(pilot)
        console, ledger = pilot.app, pilot.app.ledger
        mine = pilot.app.screen.session
        key = mine.case.key
        console.show_held(look_on(console.bench, key))
        console._tick()  # the program's clock may tick before the screen is mounted
        await pilot.pause(0.2)
        screen = console.screen
        assert isinstance(screen, HeldScreen)
        screen.opened_at -= 10
        assert "READ ONLY" in text_of(pilot)
        decided = decide(mine.case, SetMark(press=press_id()), console.clock.stamp())
        assert isinstance(decided, Decided)
        ledger.append(decided.events)
        console._tick()
        await pilot.pause(0.2)
        assert screen.case.log == ledger.events(key)
        assert "mark" in text_of(pilot)
        before = ledger.events(key)
        for line in KEYS:
            if "case" in line.where and line.id not in ("quit", "takeover"):
                await pilot.press(line.keys[0])
                await pilot.pause(0.02)
                await pilot.press("escape")
        assert ledger.events(key) == before
        await pilot.press("enter")
        assert "not recorded. READ ONLY" in text_of(pilot)
        await pilot.press("t")
        assert "TAKE THE CASE OVER?" in text_of(pilot)


def test_the_log_says_that_a_case_was_taken_over_by_somebody_who_was_looking_on() -> None:
    desk = TestDesk()
    take_over(desk.session, "desk 2", desk.now())
    taken = desk.case.log[-1].what
    assert (taken.kind, taken.console, taken.reason) == ("lease.taken", "desk 2", "taken over while looking on")


@in_a_loop
async def test_there_is_nothing_to_take_over_in_a_case_of_our_own() -> None:
    async with running() as pilot:
        await settled(pilot)
        await pilot.press("t")
        assert "nothing to take over" in text_of(pilot)
