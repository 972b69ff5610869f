"""Bursts and results entered late: where a cut counts from, and what stays under way."""

from __future__ import annotations

import pytest

from labcheck.caselog.figures import big_watch
from labcheck.caselog.points import find_point
from labcheck.checklist.conditions import Point
from tests.caselog.driving import Driver, late
from tests.caselog.shipped import shipped


def lacerating(*cusps: str) -> Driver:
    """The left leaflet was crossed, without a result so far; the last one is being cut since minute 60."""
    driver = Driver(*(cusps or ("left",)), checklist=shipped("electrosurgical"))
    driver.at(30).do("stage.open", stage="traverse", cusp="left", reason="test")
    driver.at(60).do("stage.open", stage="lacerate", cusp=(cusps or ("left",))[-1], reason="test")
    return driver


def since(driver: Driver) -> str:
    """The words of the big clock; empty where none runs."""
    big = big_watch(driver.case, driver.stamp())
    return big.words if big is not None else ""


@pytest.mark.parametrize("outcome", ["cut", None])
def test_a_cut_counts_from_the_burst_that_ended_last_and_not_from_the_one_entered_last(
    outcome: str | None,
) -> None:
    driver = lacerating()
    driver.at(60.5).do("attempt.open")
    driver.at(62).do("energy.on")
    last = driver.at(62.05).do("energy.off")[0]
    driver.at(63).do("energy.on", claim=late(1.5))
    driver.at(63.1).do("energy.off", claim=late(1.55))
    if outcome is not None:
        driver.do("attempt.close", outcome=outcome)
        point = Point(event="attempt", stage="lacerate", outcome=("cut",))
        assert [found.seq for found in find_point(driver.case, point)] == [last.seq]
    driver.at(64)
    assert "1:57" in since(driver)


def test_over_a_restart_the_burst_entered_last_ended_last() -> None:
    driver = lacerating()
    driver.at(62).do("energy.on")
    driver.at(62.05).do("energy.off")
    driver.boot_id, driver.wall_shift_us = "boot-b", -3_600_000_000
    driver.at(65).do("energy.on")
    last = driver.at(65.05).do("energy.off")[0]
    assert driver.case.attempts[0].effect == last.happened
    assert driver.case.attempts[0].effect_seq == last.seq


def test_a_late_result_elsewhere_leaves_the_attempt_that_is_under_way() -> None:
    driver = lacerating("left", "right")
    open_one = driver.at(65).do("energy.on")[0]
    driver.at(65.05).do("energy.off")
    driver.at(66)
    assert "result not yet recorded" in since(driver)
    driver.do("attempt.close", stage="traverse", cusp="left", outcome="crossed", claim=late(10))
    assert driver.case.open_attempt == open_one.seq
    assert "result not yet recorded" in since(driver)
    driver.do("energy.on")
    driver.do("energy.off")
    driver.do("attempt.close", outcome="cut")
    assert [(a.stage, len(a.bursts), a.outcome) for a in driver.case.attempts] == [
        ("lacerate", 2, "cut"),
        ("traverse", 0, "crossed"),
    ]


def test_a_late_result_elsewhere_leaves_the_attempt_whose_stage_was_left_without_a_result() -> None:
    driver = lacerating()
    open_one = driver.at(65).do("energy.on")[0]
    driver.at(65.05).do("energy.off")
    driver.at(66).do("stage.open", stage="deploy", reason="test")
    driver.do("attempt.close", stage="traverse", cusp="left", outcome="crossed", claim=late(10))
    assert driver.case.open_attempt == open_one.seq
    driver.do("attempt.close", outcome="cut")
    assert driver.case.open_attempt is None


def test_an_attempt_of_the_open_stage_takes_the_place_of_one_left_elsewhere() -> None:
    driver = lacerating()
    driver.at(65).do("energy.on")
    driver.at(65.05).do("energy.off")
    driver.at(66).do("stage.open", stage="traverse", cusp="left", reason="test")
    again = driver.do("attempt.open")[0]
    assert driver.case.open_attempt == again.seq
    driver.do("attempt.close", outcome="crossed")
    assert driver.case.open_attempt is None


def test_moving_another_attempt_leaves_the_one_that_is_under_way() -> None:
    driver = Driver("left", "right", checklist=shipped("electrosurgical"))
    driver.at(30).do("stage.open", stage="traverse", cusp="left", reason="test")
    wrong = driver.do("energy.on")[0]
    driver.do("energy.off")
    driver.do("attempt.close", outcome="crossed")
    driver.do("stage.open", stage="lacerate", cusp="right", reason="test")
    open_one = driver.do("energy.on")[0]
    driver.do("energy.off")
    driver.do("cusp.move", cusp="right", target=wrong.seq)
    assert driver.case.open_attempt == open_one.seq
