"""When a step was first done, and what is in the patient by when things happened."""

from __future__ import annotations

import pytest

from labcheck.caselog.events import StepAnswered
from labcheck.caselog.handover import open_items
from labcheck.caselog.intervals import interval_rows
from labcheck.caselog.neuroprotection import filters_in
from labcheck.caselog.points import find_point
from labcheck.checklist.conditions import Point
from tests.caselog.driving import Driver, late
from tests.caselog.shipped import shipped
from tests.caselog.test_endpoints import sealed

FILTERS = Point(event="step", step="protection.filters")


def electrosurgical(*cusps: str) -> Driver:
    """A case with the shipped checklist."""
    return Driver(*(cusps or ("left",)), checklist=shipped("electrosurgical")).at(0)


def in_protection() -> Driver:
    """Filters open since minute 12."""
    driver = electrosurgical()
    driver.do("decision.make", decision="neuroprotection", choice="used")
    driver.at(10).do("stage.open", stage="protection", reason="test")
    driver.at(12).do("step.answer", step="filters", answer="value", value="proximal")
    return driver


def minutes(driver: Driver) -> int | None:
    """The filter time up to now, in whole minutes."""
    row = next(r for r in interval_rows(driver.case, driver.stamp()) if r.id == "filter_time")
    return row.span.us // 60_000_000 if row.span is not None else None


def test_a_step_answered_anew_keeps_the_time_at_which_it_was_first_done() -> None:
    driver = in_protection()
    driver.at(60).do("step.answer", stage="protection", step="filters", answer="value", value="both")
    assert minutes(driver.at(70)) == 58


def test_the_last_of_several_answers_is_still_found_where_the_last_is_asked_for() -> None:
    driver = in_protection()
    anew = driver.at(60).do("step.answer", stage="protection", step="filters", answer="value", value="both")[
        -1
    ]
    assert [f.seq for f in find_point(driver.case, FILTERS)][-1] == anew.seq
    assert len(find_point(driver.case, FILTERS)) == 2


def test_not_done_takes_back_the_answer_and_the_next_one_is_the_first() -> None:
    driver = in_protection()
    driver.at(20).do("step.answer", step="filters", answer="not_done", reason="no_time")
    assert find_point(driver.case, FILTERS) == []
    driver.at(30).do("step.answer", step="filters", answer="value", value="both")
    assert minutes(driver.at(70)) == 40


def test_not_done_in_a_later_visit_takes_nothing_back_from_the_earlier_one() -> None:
    driver = in_protection()
    driver.at(20).do("stage.open", stage="access", reason="test")
    driver.at(25).do("stage.open", stage="protection", reason="test")
    driver.do("step.answer", step="filters", answer="not_done", reason="no_time")
    assert minutes(driver.at(70)) == 58


def test_a_voided_answer_is_not_the_first() -> None:
    driver = in_protection()
    first = driver.case.head_seq
    driver.at(60).do("step.answer", stage="protection", step="filters", answer="value", value="both")
    driver.do("event.void", target=first, reason="wrong_key")
    assert minutes(driver.at(70)) == 10


def test_an_answer_that_came_after_the_seal_counts() -> None:
    driver = sealed(electrosurgical()).at(50)
    fact = StepAnswered(stage="protection", step="filters", answer="value", value="both")
    added = driver.do("addendum.add", fact=fact, reason="found on paper", claim=late(40))[-1]
    assert [f.seq for f in find_point(driver.case, FILTERS)] == [added.seq]


def inside(driver: Driver) -> list[str]:
    """What is read back as being in the patient."""
    return [line for line in open_items(driver.case, driver.stamp()) if line.startswith("in:")]


def test_a_device_taken_out_in_a_stage_of_no_cusp_is_out() -> None:
    driver = electrosurgical("left", "right")
    driver.at(5).do("stage.open", stage="position", cusp="left", reason="test")
    driver.do("device.use", device="snare", action="placed")
    assert len(inside(driver)) == 1
    driver.at(80).do("stage.open", stage="closure", reason="test")
    driver.do("device.use", device="snare", action="removed")
    assert inside(driver) == []


def test_the_only_one_of_its_kind_is_out_wherever_it_was_taken_out_and_one_of_two_is_not() -> None:
    driver = electrosurgical("left", "right")
    for minute, cusp in ((5, "left"), (6, "right")):
        driver.at(minute).do("stage.open", stage="position", cusp=cusp, reason="test")
        driver.do("device.use", device="snare", action="placed")
    driver.do("device.use", device="snare", action="removed")
    assert [line[-4:] for line in inside(driver)] == ["left"]
    driver.do("device.use", device="snare", action="removed")
    assert inside(driver) == []


def test_what_is_in_is_what_was_placed_last_and_not_what_was_entered_last() -> None:
    driver = electrosurgical()
    driver.at(60).do("device.use", device="pacing_wire", action="removed")
    driver.at(61).do("device.use", device="pacing_wire", action="placed", claim=late(50))
    assert inside(driver) == []


@pytest.mark.parametrize(("ago", "still_in"), [(12, True), (1, False)])
def test_filters_are_in_by_what_happened_last(ago: float, still_in: bool) -> None:
    driver = electrosurgical()
    driver.at(10).do("device.use", device="filters", action="placed")
    driver.at(40).do("device.use", device="filters", action="placed")
    driver.at(42).do("device.use", device="filters", action="removed", claim=late(ago))
    assert filters_in(driver.case) is still_in
