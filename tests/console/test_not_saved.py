"""What could not be saved, in the real program: named, kept beside the ledger, and named or saved at the next start."""

from __future__ import annotations

import asyncio
import threading
import time
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

import pytest
from textual.pilot import Pilot

from labcheck.caselog.clockwords import clock_words
from labcheck.caselog.deciding import Decided, decide
from labcheck.caselog.events import Event
from labcheck.caselog.intents import Intent, NoticeClock, SetMark, StartRun, StopRun, TakeLease
from labcheck.console import leaving
from labcheck.console.app import Console
from labcheck.console.earlier import bring_in
from labcheck.console.home import HomeScreen
from labcheck.console.opening import press_id
from labcheck.console.unwritten import of_events
from labcheck.ledger.clockwatch import since
from labcheck.ledger.contract import Ack
from labcheck.ledger.errors import NotSaved, Refused
from labcheck.ledger.memory import MemoryLedger
from labcheck.ledger.store import open_ledger
from labcheck.ledger.unsaved import SideFile
from tests.console.desk import TestDesk
from tests.console.live import (
    OneShelf,
    in_a_loop,
    open_case,
    press,
    pressed,
    running,
    screen_of,
    settled,
    text_of,
)


@asynccontextmanager
async def on_disk(folder: Path) -> AsyncIterator[Any]:
    """The console with an open case that is in its first stage, on a ledger in that folder."""
    ledger = open_ledger(folder)
    console = Console(ledger, OneShelf(), folder=folder, strict=True)
    async with console.run_test(size=(80, 24)) as pilot:
        open_case(console)
        await pilot.pause(0.1)
        screen_of(pilot).opened_at -= 10
        await press(pilot, "enter")
        yield pilot
    console.finish()
    ledger.close()


def decided(pilot: Pilot[None], intent: Intent) -> tuple[Event, ...]:
    """What the intent would become now."""
    screen = screen_of(pilot)
    outcome = decide(screen.case, intent, screen.now())
    assert isinstance(outcome, Decided)
    return outcome.events


def taken_over(pilot: Pilot[None]) -> None:
    """Another console takes the case."""
    pilot.app.ledger.append(decided(pilot, TakeLease(press=press_id(), console="other", reason="test")))


async def again(pilot: Any, key: str) -> None:
    """To the first screen, and on with the case."""
    pilot.app.go_home()
    await pilot.pause(0.1)
    pilot.app.resume(key)
    await pilot.pause(0.1)
    await settled(pilot)


@in_a_loop
async def test_a_console_that_lost_its_case_names_what_is_lost_and_has_a_way_out() -> None:
    async with running() as pilot:
        await press(pilot, "enter")
        taken_over(pilot)
        times = [clock_words(pilot.app.clock.stamp())]
        pressed(pilot, "f2", time.monotonic())
        await settled(pilot)
        times.append(clock_words(pilot.app.clock.stamp()))
        pressed(pilot, "f7", time.monotonic() + 1)
        await settled(pilot)
        words = screen_of(pilot).session.save.words
        assert "mark" in words
        assert "Pacing on" in words
        assert f"NOT SAVED  Pacing on {times[1]}" in text_of(pilot)
        pressed(pilot, "ctrl+q", time.monotonic() + 2)
        await settled(pilot)
        for lost in (f"mark {times[0]}", f"Pacing on {times[1]}", "another console has this case"):
            assert lost in text_of(pilot)
        pressed(pilot, "2", time.monotonic() + 3)
        await pilot.pause(0.2)
        assert isinstance(pilot.app.screen, HomeScreen)
        assert f"mark {times[0]}" in " ".join(text_of(pilot).split())
        # The next case is written as if nothing had been.
        session = open_case(pilot.app)
        await pilot.pause(0.1)
        await settled(pilot)
        assert (session.save.state, session.case.head_seq) == ("saved", 1)


class SlowLedger(MemoryLedger):
    """Saves once it is let go."""

    def __init__(self) -> None:
        super().__init__()
        self.gate = threading.Event()
        self.gate.set()

    def append(self, events: Any) -> Ack:
        self.gate.wait()
        return super().append(events)


@in_a_loop
async def test_a_signal_while_the_disk_stalls_loses_no_press_that_waited(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    ledger = SlowLedger()
    console = Console(ledger, OneShelf(), strict=True)
    async with console.run_test(size=(80, 24)) as pilot:
        session = open_case(console)
        await pilot.pause(0.1)
        await settled(pilot)
        screen_of(pilot).opened_at -= 10
        ledger.gate.clear()
        stamps = []
        for key in ("f2", "f7", "f8"):
            stamps.append(console.clock.stamp().wall_us)
            pressed(pilot, key, time.monotonic())
            await asyncio.sleep(0.05)
        console._signalled(1)
        await asyncio.sleep(0.05)
    monkeypatch.setattr(leaving, "SAID_S", 0.1)
    threading.Timer(0.3, ledger.gate.set).start()
    console.finish()
    assert capsys.readouterr().err == "3 press(es) still being written: a few seconds\n"
    written = ledger.events(session.case.key)[1:]
    assert [event.kind for event in written] == ["mark.set", "run.started", "run.started"]
    for stamp, event in zip(stamps, written, strict=True):
        assert 0 <= event.happened.wall_us - stamp < 50_000


@in_a_loop
async def test_a_key_that_is_still_looked_at_when_a_signal_comes_is_recorded() -> None:
    async with running() as pilot:
        session, start = screen_of(pilot).session, time.monotonic()
        pressed(pilot, "f7", start)
        await settled(pilot)
        pressed(pilot, "f7", start + 0.4)  # a hand, or the first repeat of a key that is held: not known yet
        assert session.case.log[-1].kind == "run.started"
        pilot.app._signalled(15)
        await asyncio.sleep(0.05)
    assert session.case.log[-1].kind == "run.stopped"


@in_a_loop
async def test_what_a_stalled_disk_does_not_take_before_the_end_is_saved_at_the_next_start(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(leaving, "WRITE_S", 0.2)
    gate = threading.Event()
    folder = tmp_path / "ledger"
    async with on_disk(folder) as pilot:
        key, ledger, append = screen_of(pilot).case.key, pilot.app.ledger, pilot.app.ledger.append
        monkeypatch.setattr(ledger, "append", lambda events: gate.wait() and append(events))
        for name in ("f2", "f7", "f12"):
            pressed(pilot, name, time.monotonic())
            await asyncio.sleep(0.02)
        screen_of(pilot).send(StopRun(press=press_id(), run="cpr"), screen_of(pilot).now())
        pilot.app._signalled(15)
        await asyncio.sleep(0.05)
    said = capsys.readouterr().err
    for words in ("NOT SAVED: mark ", "NOT SAVED: Pacing on ", "NOT SAVED: stop run cpr "):
        assert words in said
    kept = SideFile(folder).presses(key)
    assert [press.words or press.events[-1].kind for press in kept] == ["mark.set", "run.started", "stop run cpr"]

    ledger = open_ledger(folder)
    came, left = bring_in(ledger, SideFile(folder), key)
    assert [press.events for press in came] == [press.events for press in kept[:2]]
    assert left == [kept[2]]
    assert [event.kind for event in ledger.events(key)][-2:] == ["mark.set", "run.started"]
    assert SideFile(folder).presses(key) == (kept[2],)
    gate.set()
    ledger.close()


@in_a_loop
async def test_a_press_of_an_earlier_run_that_fits_no_more_is_named_until_somebody_has_seen_it(tmp_path: Path) -> None:
    folder = tmp_path / "ledger"
    side = SideFile(folder)
    async with on_disk(folder) as pilot:
        key = screen_of(pilot).case.key
        lost = decided(pilot, StartRun(press=press_id(), run="pacing"))
        then, _ = of_events(screen_of(pilot).case, lost)
        notice = NoticeClock(press=press_id(), found=since(then.log[-1].entered, screen_of(pilot).now()))
        clock = decide(then, notice, screen_of(pilot).now())
        assert isinstance(clock, Decided)
        then, _ = of_events(then, clock.events)
        stop = decide(then, StopRun(press=press_id(), run="pacing"), screen_of(pilot).now())
        assert isinstance(stop, Decided)
        await press(pilot, "f2", "f9")  # the numbers of both are taken, by another entry and its undo
        for kept in (lost, clock.events, stop.events):
            side.keep(kept)
        for _ in range(2):
            await again(pilot, key)
            text = text_of(pilot)
            assert "NOT IN THE LOG (2)" in text
            assert f"Pacing on {clock_words(lost[0].happened)}" in text
            assert f"Pacing off, 0:00 {clock_words(stop.events[0].happened)}" in text
            assert "recording resumed" not in text
            await pilot.press("enter")  # held down from the first screen: it chooses nothing
            assert "name them no more" in text_of(pilot)
            await pilot.press("escape", "ctrl+q")
            await pilot.pause(0.1)
            assert f"Pacing on {clock_words(lost[0].happened)}" in text_of(pilot)
        await again(pilot, key)
        await press(pilot, "1")
        assert "named no more" in text_of(pilot)
        await again(pilot, key)
        assert screen_of(pilot).panel is None
        assert side.read(key) == (*lost, *clock.events, *stop.events)


@in_a_loop
async def test_a_press_of_an_earlier_run_that_fits_is_saved_at_the_next_start_and_said(tmp_path: Path) -> None:
    folder = tmp_path / "ledger"
    async with on_disk(folder) as pilot:
        key = screen_of(pilot).case.key
        lost = decided(pilot, SetMark(press=press_id()))
        SideFile(folder).keep(lost)
        await again(pilot, key)
        assert lost[0] in screen_of(pilot).case.log
        assert f"in the log only now: mark {clock_words(lost[0].happened)}" in " ".join(text_of(pilot).split())
        assert not SideFile(folder).path(key).exists()


@in_a_loop
async def test_what_was_decided_on_a_press_that_does_not_fit_is_not_saved_although_its_number_is_free(
    tmp_path: Path,
) -> None:
    folder = tmp_path / "ledger"
    async with on_disk(folder) as pilot:
        first = decided(pilot, StartRun(press=press_id(), run="pacing"))
        then, _ = of_events(screen_of(pilot).case, first)
        second = decide(then, StopRun(press=press_id(), run="pacing"), screen_of(pilot).now())
        assert isinstance(second, Decided)
        await press(pilot, "f2")
        side = SideFile(folder)
        side.keep(first)
        side.keep(second.events)
        ledger, key = pilot.app.ledger, screen_of(pilot).case.key
        before = ledger.events(key)
        assert second.events[0].seq == before[-1].seq + 1
        came, left = bring_in(ledger, side, key)
        assert (came, [press.events for press in left]) == ([], [first, second.events])
        assert ledger.events(key) == before


@in_a_loop
async def test_a_press_that_somebody_was_told_to_enter_anew_does_not_come_into_the_log_by_itself(
    tmp_path: Path,
) -> None:
    folder = tmp_path / "ledger"
    async with on_disk(folder) as pilot:
        refused = decided(pilot, SetMark(press=press_id()))
        ledger, key, side = pilot.app.ledger, screen_of(pilot).case.key, SideFile(folder)
        side.keep(refused, again=False)
        came, left = bring_in(ledger, side, key)
        assert (came, [press.events for press in left]) == ([], [refused])
        assert refused[0] not in ledger.events(key)


@in_a_loop
async def test_a_disk_that_fails_at_the_next_start_leaves_the_kept_presses_where_they_are(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "ledger"
    async with on_disk(folder) as pilot:
        key = screen_of(pilot).case.key
        lost = decided(pilot, SetMark(press=press_id()))
        side = SideFile(folder)
        side.keep(lost)

        def full(_: object) -> Ack:
            raise NotSaved("disk full")

        with monkeypatch.context() as broken:
            broken.setattr(pilot.app.ledger, "append", full)
            came, left = bring_in(pilot.app.ledger, side, key)
        assert (came, [press.events for press in left]) == ([], [lost])
        assert side.read(key) == lost


@in_a_loop
async def test_a_press_that_still_waits_is_named_before_the_case_is_left() -> None:
    async with running() as pilot:
        await press(pilot, "enter")
        ledger = pilot.app.ledger
        errors = [NotSaved("disk full")] * 100
        append = ledger.append
        ledger.append = lambda events: fail(errors) or append(events)
        times = clock_words(pilot.app.clock.stamp())
        pressed(pilot, "f2", time.monotonic())
        await asyncio.sleep(0.1)
        pressed(pilot, "ctrl+q", time.monotonic() + 1)
        await asyncio.sleep(0.3)
        assert f"mark {times}" in text_of(pilot)
        pressed(pilot, "2", time.monotonic() + 2)
        await asyncio.sleep(0.1)
        assert f"not yet: mark {times} still to be saved" in screen_of(pilot).answer
        errors.clear()
        screen_of(pilot).session.look(screen_of(pilot).now())
        await settled(pilot)
        assert screen_of(pilot).case.log[-1].kind == "mark.set"


def fail(errors: list[NotSaved]) -> None:
    if errors:
        raise errors.pop()


@in_a_loop
async def test_a_fault_of_ours_says_what_to_do_within_the_smallest_usual_screen(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    async with running((80, 24)) as pilot:
        pilot.app.strict = False

        def broken(*_: object) -> None:
            raise ModuleNotFoundError("made for the test")

        monkeypatch.setattr(screen_of(pilot), "_act", broken)
        await pilot.press("f2")
        await asyncio.sleep(0.05)
        monkeypatch.undo()
        screen_of(pilot).tick()
        await asyncio.sleep(0.1)
        assert "use paper unless the last press is SAVED (Module" in text_of(pilot)


@pytest.mark.parametrize("how", ["the case", "the ledger"])
def test_a_settlement_that_comes_to_nothing_does_not_look_as_if_it_were_being_written(how: str) -> None:
    desk = TestDesk("left", "right")
    desk.press("enter")
    desk.do("stage.open", stage="cross", cusp="left", reason="test")
    desk.press("space", "space", "o", "2")
    if how == "the case":
        desk.press("f9", "f9")  # what was to be settled is no more
    else:
        desk.writer.fail_next = Refused("read the case again")
    before = desk.case
    desk.press("1")
    assert desk.case.head_seq == before.head_seq
    assert "signout.settled" not in desk.kinds(3)
    assert desk.panel is not None
    assert desk.panel.id == "signout"
    assert "writing" not in desk.text()
