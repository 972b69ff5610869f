"""A time read off a clock that was set since then is placed by what the clock was then."""

from __future__ import annotations

from labcheck.caselog.events import ClockNoticed, Event
from labcheck.caselog.intents import Claim
from tests.caselog.driving import START_US, Driver, in_access

MIN = 60_000_000
BOOTED_US = 600_000_000


def stepped(minutes: int, *, noticed: bool = True) -> Driver:
    """In access since minute 0; at minute 20 the wall clock was set by so many minutes. Now it is minute 30."""
    driver = in_access().at(10)
    driver.do("note.write", text="before")
    driver.at(20)
    driver.wall_shift_us = minutes * MIN
    if noticed:
        driver.do("clock.notice", found=ClockNoticed(notice="step", amount_us=minutes * MIN, basis="wall"))
    return driver.at(30)


def at_clock(driver: Driver, minute: float) -> Event:
    """Something entered late by the time of the clock, in minutes since the case was opened."""
    return driver.do("note.write", text="x", claim=Claim(wall_us=START_US + round(minute * MIN), reason="busy"))[0]


def boot_minute(event: Event) -> float | None:
    boot = event.happened.boot_us
    return None if boot is None else (boot - BOOTED_US) / MIN


def test_a_time_from_before_a_step_forward_is_that_of_the_clock_before_it() -> None:
    event = at_clock(stepped(60), 18)
    assert (event.happened.wall_us, boot_minute(event)) == (START_US + 18 * MIN, 18)


def test_a_time_from_after_a_step_forward_is_that_of_the_clock_as_it_is() -> None:
    assert boot_minute(at_clock(stepped(60), 85)) == 25


def test_a_time_that_the_clock_never_showed_has_no_boot_clock() -> None:
    assert boot_minute(at_clock(stepped(60), 50)) is None


def test_a_time_from_before_a_step_back_is_not_still_to_come() -> None:
    driver = stepped(-60)
    assert boot_minute(at_clock(driver, 15)) == 15
    later = Claim(wall_us=START_US + 21 * MIN, reason="busy")
    assert "still to come" in driver.refused("note.write", text="x", claim=later).reason


def test_a_time_that_the_clock_showed_twice_is_the_last_of_the_two() -> None:
    driver = stepped(-5)
    assert boot_minute(at_clock(driver, 18)) == 23
    assert boot_minute(at_clock(driver, 14)) == 14


def test_minutes_ago_are_counted_by_the_boot_clock_and_show_the_clock_of_then() -> None:
    driver = stepped(60)
    event = driver.do("note.write", text="x", claim=Claim(ago_us=15 * MIN, reason="busy"))[0]
    assert (event.happened.wall_us, boot_minute(event)) == (START_US + 15 * MIN, 15)
    recent = driver.at(30).do("note.write", text="x", claim=Claim(ago_us=5 * MIN, reason="busy"))[0]
    assert (recent.happened.wall_us, boot_minute(recent)) == (START_US + 85 * MIN, 25)


def test_a_stage_may_be_called_late_between_its_forerunner_and_a_step() -> None:
    driver = stepped(60)
    claim = Claim(wall_us=START_US + 18 * MIN, reason="busy")
    driver.do("stage.open", stage="position", reason="test", claim=claim)
    opened = driver.case.event(driver.case.visits[-1].seq)
    assert opened is not None
    assert boot_minute(opened) == 18


def test_without_a_step_nothing_changes() -> None:
    driver = stepped(0)
    assert boot_minute(at_clock(driver, 18)) == 18
    assert boot_minute(at_clock(in_access().at(30), 18)) == 18


def test_a_step_that_was_the_first_thing_noticed_after_a_restart_hides_what_came_before_it() -> None:
    driver = in_access().at(10)
    driver.boot_id = "boot-b"
    driver.wall_shift_us = 60 * MIN
    driver.do("clock.notice", found=ClockNoticed(notice="step", amount_us=60 * MIN, basis="wall"))
    driver.at(30)
    assert boot_minute(at_clock(driver, 85)) == 25
    assert boot_minute(at_clock(driver, 65)) is None
