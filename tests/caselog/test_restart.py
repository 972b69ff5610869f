"""A restart with the wall clock set back: order is kept, and a length that nobody knows is never a number."""

from __future__ import annotations

from decimal import Decimal

import pytest

from labcheck.caselog.deviations import deviations
from labcheck.caselog.figures import big_watch, figures
from labcheck.caselog.intents import Claim
from labcheck.caselog.intervals import interval_table
from labcheck.caselog.ordering import by_happening, earlier
from labcheck.caselog.stamps import known_span
from labcheck.caselog.tallies import latest_reading
from tests.caselog.driving import START_US, Driver, in_access
from tests.caselog.shipped import shipped

MIN = 60_000_000


def restarted(driver: Driver, back_min: int = 60) -> None:
    """A restart after which the wall clock is so many minutes behind."""
    driver.boot_id, driver.wall_shift_us = "boot-b", -back_min * MIN


def before_traverse() -> Driver:
    """The shipped checklist, in the stage before the first of energy, with all steps of its hold answered."""
    driver = Driver("left", checklist=shipped("electrosurgical"))
    driver.at(1).do("stage.open", stage="briefing", reason="test")
    driver.do("step.answer", step="pad")
    driver.do("stage.open", stage="position", reason="test")
    for step in ("snare", "front", "side"):
        driver.do("step.answer", step=step)
    return driver


def test_the_latest_value_is_the_one_taken_after_the_restart() -> None:
    driver = before_traverse()
    driver.at(10).do("reading.take", reading="act", value=Decimal(300))
    restarted(driver)
    low = driver.at(20).do("reading.take", reading="act", value=Decimal(180))[0]
    last = latest_reading(driver.case, "act")
    assert last is not None
    assert last.seq == low.seq
    assert "ACT 180 s" in next(f.words for f in figures(driver.case, driver.stamp()) if f.id == "tally:act")
    assert driver.refused("stage.open").unmet


def test_a_value_from_before_the_restart_has_an_unknown_age_and_does_not_count_as_fresh() -> None:
    driver = before_traverse()
    driver.at(10).do("reading.take", reading="act", value=Decimal(300))
    restarted(driver)
    driver.at(20)
    act = next(f for f in figures(driver.case, driver.stamp()) if f.id == "tally:act")
    assert "unknown time ago" in act.words
    assert "not known when due again" in act.words
    assert act.level == "due"
    assert driver.refused("stage.open").unmet
    driver.wall_shift_us = 0
    assert "10 min ago wall only" in next(
        f.words for f in figures(driver.case, driver.stamp()) if f.id == "tally:act"
    )


def test_what_was_entered_late_stands_by_its_boot_or_by_the_wall_where_it_has_none() -> None:
    driver = in_access()
    first = driver.at(10).do("dose.give", drug="heparin")[0]
    driver.at(12).do("mark.set")
    mark = driver.case.head_seq
    restarted(driver)
    third = driver.at(20).do("dose.give", drug="heparin")[0]
    after_restart = driver.at(22).do("dose.give", drug="heparin", claim=Claim(ago_us=4 * MIN, reason="test"))[
        0
    ]
    at_mark = driver.at(23).do("dose.give", drug="heparin", claim=Claim(mark=mark))[0]
    paper = Claim(wall_us=START_US - 50 * MIN, transcribed=True, reason="test")
    on_paper = driver.at(24).do("dose.give", drug="heparin", claim=paper)[0]
    given = by_happening(driver.case, ((d.at, d.seq, d.seq) for d in driver.case.doses))
    assert given == [on_paper.seq, first.seq, at_mark.seq, after_restart.seq, third.seq]


def test_of_two_entries_the_live_one_came_after_what_was_already_entered() -> None:
    driver = in_access()
    paper = Claim(wall_us=START_US + 9 * MIN, transcribed=True)
    copied = driver.at(10).do("dose.give", drug="heparin", claim=paper)[0]
    restarted(driver)
    live = driver.at(12).do("dose.give", drug="heparin")[0]
    one, other = (copied.happened, copied.seq), (live.happened, live.seq)
    assert earlier(driver.case, *one, *other)
    assert not earlier(driver.case, *other, *one)


def lacerated() -> Driver:
    """Cut, then a restart that set the clock back, then the next two stages."""
    driver = Driver("left", checklist=shipped("electrosurgical"))
    driver.at(60).do("stage.open", stage="lacerate", cusp="left", reason="test")
    driver.do("energy.on")
    driver.do("energy.off")
    driver.do("attempt.close", outcome="cut")
    restarted(driver)
    return driver


def test_a_watch_over_the_restart_says_that_its_time_is_unknown_and_ends_when_its_end_comes() -> None:
    driver = lacerated()
    driver.at(62)
    big = big_watch(driver.case, driver.stamp())
    assert big is not None
    assert big.words.endswith("unknown time, the clock was set back")
    driver.do("stage.open", reason="test")
    driver.at(65).do("stage.open", reason="test")
    assert big_watch(driver.case, driver.stamp()) is None


def test_a_duration_over_the_restart_is_done_and_of_unknown_length_and_so_is_its_sum() -> None:
    driver = lacerated()
    for minute in (62, 65):
        driver.at(minute).do("stage.open", reason="test")
    driver.at(70).do("stage.open", stage="lacerate", cusp="left", reason="test")
    driver.at(71).do("stage.open", reason="test")
    rows = {row.id: row for row in interval_table(driver.case, driver.stamp())}
    assert (rows["unstable"].state, rows["unstable"].span) == ("done", None)
    assert "not known" in rows["unstable"].note
    assert rows["visit:lacerate:left:1"].span is None
    assert rows["visit:lacerate:left:2"].span is not None
    assert rows["stage:lacerate:left"].span is None


def test_the_seconds_of_a_burst_over_the_restart_are_left_out_and_said_to_be() -> None:
    driver = Driver("left", checklist=shipped("electrosurgical"))
    driver.at(60).do("stage.open", stage="lacerate", cusp="left", reason="test")
    for do in ("energy.on", "energy.off", "energy.on"):
        driver.do(do)
    restarted(driver)
    driver.do("energy.off")
    seconds = next(t for t in driver.checklist.tally if t.energy and t.kind == "seconds")
    words = next(f.words for f in figures(driver.case, driver.stamp()) if f.id == f"tally:{seconds.id}")
    assert "1.0 s" in words
    assert "1 of unknown length" in words


@pytest.mark.parametrize("kind", ["inverted", "late_step"])
def test_no_deviation_is_invented_by_the_clock(kind: str) -> None:
    driver = Driver("left", checklist=shipped("electrosurgical"))
    driver.at(50).do("stage.open", stage="briefing", reason="test")
    driver.do("step.answer", step="target")
    restarted(driver)
    driver.do("step.answer", step="pad")
    for minute, stage, cusp in ((60, "access", None), (70, "position", "left"), (75, "traverse", "left")):
        driver.at(minute).do("stage.open", stage=stage, cusp=cusp, reason="test")
    assert not [d.words for d in deviations(driver.case) if d.kind == kind]


def test_a_step_answered_after_the_restart_is_late_by_an_unknown_time() -> None:
    driver = Driver("left", checklist=shipped("electrosurgical"))
    driver.at(50).do("stage.open", stage="traverse", cusp="left", reason="test")
    restarted(driver)
    driver.at(55).do("step.answer", stage="briefing", step="pad")
    late = [d.words for d in deviations(driver.case) if d.kind == "late_step"]
    assert len(late) == 1
    assert "unknown time after" in late[0]


def test_a_second_visit_over_the_restart_adds_no_time_that_nobody_knows() -> None:
    driver = in_access("left")
    for stage in ("position", "access"):
        driver.at(10).do(
            "stage.open", stage=stage, cusp="left" if stage == "position" else None, reason="test"
        )
    restarted(driver)
    driver.at(12).do("stage.open", stage="position", cusp="left", reason="test")
    rework = [d.words for d in deviations(driver.case) if d.kind == "rework"]
    assert rework
    assert not [words for words in rework if "in rework" in words]


def test_a_wall_span_that_runs_backwards_is_not_known() -> None:
    driver = in_access()
    one = driver.stamp().moment()
    restarted(driver)
    other = driver.at(10).stamp().moment()
    assert known_span(one, other) is None
    assert known_span(other, one) is not None
