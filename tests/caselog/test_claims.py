"""The times that are claimed, one by one: what they are taken for, and where they are refused. Clocks compared."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from labcheck.caselog.corrections import moved
from labcheck.caselog.deciding import Decided
from labcheck.caselog.deciding.closing import REACTION_US
from labcheck.caselog.deciding.moments import HELD_US, before
from labcheck.caselog.deciding.result import Press
from labcheck.caselog.folding import begin
from labcheck.caselog.intents import Claim
from labcheck.caselog.stamps import Mode, Moment, shifted, span
from tests.caselog.driving import BOOT, START_US, Driver

MIN = 60_000_000
BOOT_AT_START = 600_000_000


def moment(wall: int = 0, boot: int | None = 0, boot_id: str | None = BOOT) -> Moment:
    return Moment(wall_us=START_US + wall, off_s=3600, tz="Test/Zone", boot_us=boot, boot_id=boot_id)


def at(minutes: float) -> Driver:
    driver = Driver()
    driver.at(0).do("stage.open")
    return driver.at(minutes)


@pytest.mark.parametrize(
    "two_ways", [{"ago_us": 0, "wall_us": START_US}, {"ago_us": 0, "mark": 1}, {"wall_us": START_US, "mark": 1}]
)
def test_a_time_is_claimed_in_one_way_only(two_ways: dict[str, Any]) -> None:
    assert "in one way only" in at(5).refused("note.write", text="x", claim=Claim(**two_ways)).reason


def test_a_claim_that_says_no_time_is_refused() -> None:
    assert "in one way only" in at(5).refused("note.write", text="x", claim=Claim(reason="busy")).reason


def test_a_time_of_the_clock_and_minutes_ago_come_to_the_same_moment() -> None:
    driver = at(10)
    ago = driver.do("note.write", text="x", claim=Claim(ago_us=3 * MIN))[0]
    driver.now_us -= 1_000_000
    clock = driver.do("note.write", text="x", claim=Claim(wall_us=START_US + 7 * MIN))[0]
    assert ago.happened == clock.happened == moment(7 * MIN, BOOT_AT_START + 7 * MIN)
    assert (ago.mode, clock.mode, ago.precision_s) == ("late", "late", Claim(ago_us=0).precision_s)


def test_now_is_a_time_that_may_be_claimed_and_a_moment_later_is_not() -> None:
    driver = at(5)
    assert driver.do("note.write", text="x", claim=Claim(ago_us=0))[0].lag_us == 0
    ahead = Claim(wall_us=START_US + driver.now_us + 1)
    assert "still to come" in driver.refused("note.write", text="x", claim=ahead).reason


def test_a_press_may_be_held_for_its_reason_up_to_a_whole_minute() -> None:
    assert HELD_US == MIN
    held = at(5).do("note.write", text="x", claim=Claim(ago_us=MIN, held=True))[0]
    assert (held.mode, held.precision_s) == ("live", 0)
    clock = at(5).do("note.write", text="x", claim=Claim(wall_us=START_US + 5 * MIN - 1, held=True))[0]
    assert clock.mode == "late", "a time read off a clock was not held"
    assert at(5).do("note.write", text="x", claim=Claim(ago_us=1))[0].mode == "late"


def test_a_press_held_over_the_opening_of_the_case_is_no_late_entry() -> None:
    driver = Driver()
    driver.now_us = 2_000_000
    assert driver.do("mark.set", claim=Claim(ago_us=3_000_000, held=True))[0].mode == "live"


def test_the_very_moment_of_the_opening_needs_no_reason() -> None:
    driver = at(5)
    driver.do("note.write", text="x", claim=Claim(ago_us=5 * MIN))
    driver.now_us = 5 * MIN
    assert driver.refused("note.write", text="x", claim=Claim(ago_us=5 * MIN + 1)).needs == "reason"


def test_a_mark_that_is_not_there_lends_no_time() -> None:
    assert "there is no mark #1" in at(5).refused("note.write", text="x", claim=Claim(mark=1)).reason


def test_each_mark_lends_its_own_time() -> None:
    driver = at(1)
    first = driver.do("mark.set")[0]
    second = driver.at(3).do("mark.set")[0]
    later = driver.at(5).do("note.write", text="x", claim=Claim(mark=second.seq, reason="busy"))[0]
    assert (later.happened, later.late_reason, later.precision_s) == (second.happened, "busy", 0)
    assert driver.do("note.write", text="x", claim=Claim(mark=first.seq))[0].happened == first.happened


def test_a_late_entry_stands_in_the_zone_that_was_in_force_at_its_time() -> None:
    driver = at(5)
    winter = driver.do("note.write", text="x")[0].entered
    summer = driver.at(20).stamp().model_copy(update={"off_s": 7200, "tz": "Test/Summer"})
    driver.stamp = lambda: summer  # type: ignore[method-assign]
    driver.do("note.write", text="x")
    earlier = driver.do("note.write", text="x", claim=Claim(wall_us=START_US + 10 * MIN))[0]
    later = driver.do("note.write", text="x", claim=Claim(wall_us=START_US + 20 * MIN))[0]
    assert (earlier.happened.off_s, earlier.happened.tz) == (winter.off_s, winter.tz)
    assert (later.happened.off_s, later.happened.tz) == (7200, "Test/Summer")


def test_a_moment_before_this_boot_has_no_boot_clock() -> None:
    stamp = at(0).stamp()
    assert shifted(stamp, BOOT_AT_START) == moment(-BOOT_AT_START, 0)
    assert shifted(stamp, BOOT_AT_START + 1) == moment(-BOOT_AT_START - 1, None, None)


def test_a_moment_set_to_before_its_boot_loses_its_boot_clock() -> None:
    assert moved(moment(5 * MIN, MIN), START_US + 4 * MIN) == moment(4 * MIN, 0)
    assert moved(moment(5 * MIN, MIN), START_US + 4 * MIN - 1) == moment(4 * MIN - 1, None, None)
    assert moved(moment(5 * MIN, None, None), START_US) == moment(0, None, None)


@pytest.mark.parametrize(
    ("start", "end"),
    [
        (moment(0, None), moment(7, 9)),
        (moment(0, 0), moment(7, None)),
        (moment(0, 0, None), moment(7, 9, None)),
        (moment(0, 0, "a"), moment(7, 9, "b")),
    ],
)
def test_a_duration_without_one_shared_boot_clock_is_by_the_wall(start: Moment, end: Moment) -> None:
    assert span(start, end).model_dump() == {"us": 7, "basis": "wall"}


def test_only_a_claimed_time_can_lie_before_a_beginning() -> None:
    driver = at(5)
    visit = driver.case.visit
    assert visit is not None

    def happened(back_us: int, mode: Mode) -> Press:
        then = shifted(driver.stamp().model_copy(update=visit.start.model_dump()), back_us)
        return Press(driver.case, driver.intent("mark.set"), driver.stamp(), then, mode, 0, None, None)

    assert before(happened(1, "late"), visit)
    assert before(happened(1, "transcribed"), visit)
    assert not before(happened(0, "late"), visit)
    assert not before(happened(MIN, "live"), visit)


def test_a_hold_is_judged_by_what_was_true_when_the_call_was_made() -> None:
    driver = at(0)
    driver.do("step.answer", step="pad")
    driver.at(1).do("reading.take", reading="act", value=Decimal(274))
    driver.at(3).do("stage.open", stage="position")
    driver.at(40)
    assert "ACT at least 250" in driver.refused("stage.open").reason, "the reading is 39 min old"
    driver.do("stage.open", claim=Claim(ago_us=9 * MIN))
    assert driver.case.visits[-1].stage == "cross", "it was 30 min old then"


@pytest.mark.parametrize(("minutes", "holds"), [(31, True), (31.02, False)])
@pytest.mark.parametrize("how", ["from paper", "after a restart"])
def test_a_hold_is_judged_at_the_time_of_the_call_by_whatever_clock_both_have(
    how: str, minutes: float, holds: bool
) -> None:
    driver = at(0)
    driver.do("step.answer", step="pad")
    driver.at(1).do("reading.take", reading="act", value=Decimal(274))
    driver.at(3).do("stage.open", stage="position")
    if how == "after a restart":
        driver.boot_id = "boot-b"
    claim = Claim(wall_us=START_US + round(minutes * MIN), transcribed=how == "from paper")
    result = driver.at(90).press("stage.open", claim=claim)
    assert isinstance(result, Decided) is holds


def test_what_a_correction_or_the_program_says_is_never_said_to_have_been_earlier() -> None:
    driver = at(5)
    note = driver.do("note.write", text="x")[0]
    claim = Claim(ago_us=MIN, reason="x")
    for do, fields in (
        ("undo", {}),
        ("event.void", {"target": note.seq, "reason": "x"}),
        ("event.amend", {"target": note.seq, "field": "text", "value": "y", "reason": "x"}),
        ("cusp.move", {"cusp": "left"}),
        ("lease.take", {"console": "desk 2", "reason": "x"}),
    ):
        assert "the time at which it is made" in driver.refused(do, claim=claim, **fields).reason


def test_another_clock_is_compared_with_half_its_last_digit_and_the_hand_as_uncertainty() -> None:
    driver = at(5)
    what = driver.do("clock.compare", reading_us=START_US + 5 * MIN + 90_000_000, resolution_us=60_000_000)[0].what
    assert (what.offset_us, what.uncertainty_us) == (90_000_000, 30_000_000 + REACTION_US)


def test_a_takeover_raises_the_epoch_by_one_and_what_follows_carries_it() -> None:
    driver = at(5)
    assert driver.do("lease.take", console="desk 2", reason="frozen")[0].epoch == 2
    assert driver.do("note.write", text="x")[0].epoch == 2
    assert driver.case.epoch == 2
    driver.do("undo")
    assert driver.case.epoch == 2


@pytest.mark.parametrize(("zone", "kept"), [("Test/Paper", "Test/Paper"), (None, "")])
def test_a_claim_in_another_zone_is_kept_in_it_and_a_zone_nobody_named_is_not_invented(
    zone: str | None, kept: str
) -> None:
    claim = Claim(wall_us=START_US + MIN, transcribed=True, off_s=-18000, tz=zone)
    happened = at(5).do("note.write", text="from paper", claim=claim)[0].happened
    assert (happened.off_s, happened.tz, happened.boot_id) == (-18000, kept, None)


def test_the_opening_itself_may_be_entered_late() -> None:
    driver = Driver()
    driver.case = begin(driver.case.key, driver.checklist)
    plan = driver.events[0].what.plan
    claim = Claim(ago_us=MIN)
    opening = driver.at(5).do("case.open", plan=plan, checklist_digest="0" * 64, claim=claim)[0]
    assert (opening.mode, driver.case.opened) == ("late", moment(4 * MIN, BOOT_AT_START + 4 * MIN))


def test_a_visit_and_a_try_that_were_entered_late_say_so() -> None:
    driver = Driver()
    driver.at(5).do("stage.open", claim=Claim(ago_us=MIN))
    driver.do("stage.open", stage="cross", reason="test")
    driver.do("attempt.open")
    driver.do("attempt.close", outcome="failed")
    driver.at(9).do("attempt.open", claim=Claim(ago_us=MIN))
    assert [v.late for v in driver.case.visits] == [True, False]
    assert [a.late for a in driver.case.attempts] == [False, True]
