"""A rehearsal recorded in rehearsed time goes on in it; nothing real ever happens in it."""

from __future__ import annotations

import time
from typing import Any

from labcheck.caselog.script import read_script
from labcheck.commands import shelf
from labcheck.console.app import Console
from labcheck.console.case_screen import CaseScreen
from labcheck.console.home import HomeScreen
from labcheck.console.playing import Player, ScriptClock
from labcheck.console.rehearsed import continued
from labcheck.ledger.clocks import SystemClock
from labcheck.ledger.memory import MemoryLedger
from tests.console.live import in_a_loop, screen_of, settled, text_of

DAY = 86_400_000_000


async def rehearse(ledger: MemoryLedger) -> str:
    """Play the shipped rehearsal of the year 2031 for a while, then hand over, mark, and leave for the first screen."""
    name = shelf.DEFAULT_REHEARSAL
    script = read_script(shelf.rehearsal_text(name), f"{name}.toml")
    checklist, text, _ = shelf.checklist(script.head.checklist)
    clock = ScriptClock(script, pace=0)
    console = Console(
        ledger, shelf.SHIPPED, clock=clock, player=Player(script, checklist, text, clock), strict=True
    )
    async with console.run_test(size=(80, 24)) as pilot:
        for _ in range(6):
            clock.step(240_000_000)
            await pilot.pause(0.15)
        await pilot.press("f12")
        screen_of(pilot).opened_at -= 10
        await pilot.press("f2")
        await settled(pilot)
        key = screen_of(pilot).case.key
        await pilot.press("ctrl+q", "2")
        assert isinstance(pilot.app.screen, HomeScreen)
        now = console.clock.stamp()
        assert abs(now.wall_us - time.time_ns() // 1000) < DAY
        await pilot.press("n", "f2")
        await pilot.pause(0.2)
        await settled(pilot)
        real = screen_of(pilot).case
        assert not real.rehearsal
        assert abs(real.log[0].happened.wall_us - time.time_ns() // 1000) < DAY
        assert not real.log[0].entered.boot_id.startswith("rehearsal-")
    console.finish()
    return key


@in_a_loop
async def test_a_resumed_rehearsal_goes_on_from_its_last_entry_and_a_real_case_is_in_real_time() -> None:
    ledger = MemoryLedger()
    key = await rehearse(ledger)
    before = ledger.events(key)[-1].entered
    assert abs(before.wall_us - time.time_ns() // 1000) > 365 * DAY
    console = Console(ledger, shelf.SHIPPED, strict=True)
    async with console.run_test(size=(120, 40)) as pilot:
        console.resume(key)
        await pilot.pause(0.2)
        screen = pilot.app.screen
        assert isinstance(screen, CaseScreen)
        screen.opened_at -= 10
        await pilot.press("f2")
        await settled(pilot)
        resumed, marked = ledger.events(key)[-2:]
        assert (resumed.kind, marked.kind) == ("clock.noticed", "mark.set")
        assert resumed.what.amount_us < 10_000_000
        assert 0 <= marked.happened.wall_us - before.wall_us < 60_000_000
        assert (marked.happened.boot_id, marked.happened.tz) == (before.boot_id, before.tz)
        assert marked.happened.off_s == before.off_s
        assert "wall only" not in text_of(pilot)
        assert screen.clock_watch is None
        await pilot.press("ctrl+q", "2")
        assert console.clock is console.own_clock
    console.finish()


@in_a_loop
async def test_a_rehearsal_by_hand_and_a_real_case_keep_this_machines_clock() -> None:
    ledger = MemoryLedger()
    await rehearse(ledger)
    lines: list[Any] = [line for line in ledger.cases() if not line.rehearsal]
    assert len(lines) == 1
    assert continued(lines[0], SystemClock()) is None
    by_hand = Console(ledger, shelf.SHIPPED, strict=True)
    async with by_hand.run_test(size=(80, 24)) as pilot:
        await pilot.press("h", "f2")
        await pilot.pause(0.2)
        await settled(pilot)
        key = screen_of(pilot).case.key
    by_hand.finish()
    line = next(line for line in ledger.cases() if line.case == key)
    assert line.rehearsal
    assert continued(line, SystemClock()) is None
