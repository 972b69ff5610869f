"""Endpoints of each leaflet and each coronary, and what an open case already knows."""

from __future__ import annotations

import pytest

from tests.caselog.driving import Driver
from tests.caselog.shipped import shipped
from tests.caselog.test_endpoints import found, rescue, sealed, signed_out, success


def case(*targets: str, **plan: object) -> Driver:
    return Driver(*(targets or ("left",)), checklist=shipped("electrosurgical"), **plan).at(0)


def look(driver: Driver, ostium: str, *flows: str) -> None:
    for flow in flows:
        driver.do("reading.take", reading="flow", ostium=ostium, choice=flow)


def told(driver: Driver, name: str) -> tuple[str, str]:
    """The answer for the left and for the right."""
    answers = found(driver)
    return answers[name, "left"].answer, answers[name, "right"].answer


def test_a_leaflet_is_modified_by_the_last_stage_with_tries_and_on_its_own_cusp() -> None:
    driver = case("left", "right")
    for cusp in ("left", "right"):
        driver.do("attempt.close", stage="traverse", cusp=cusp, outcome="crossed")
        driver.do("attempt.close", stage="lacerate", cusp=cusp, outcome="none")
    assert told(driver, "leaflet_modified") == ("pending", "pending")
    driver.do("attempt.close", stage="lacerate", cusp="left", outcome="partial")
    assert told(driver, "leaflet_modified") == ("yes", "pending")
    assert told(sealed(driver), "leaflet_modified") == ("yes", "no")
    answers = found(driver)
    assert [answers["leaflet_modified", c].value for c in ("left", "right")] == ["partial", "none"]


def test_a_leaflet_that_was_abandoned_is_not_modified_and_says_so() -> None:
    driver = case("left", "right")
    driver.do("cusp.abandon", cusp="right", reason="calcium")
    assert told(driver, "leaflet_modified") == ("pending", "no")
    assert found(driver)["leaflet_modified", "right"].value == "abandoned"


def test_a_coronary_is_judged_by_its_own_looks_and_denied_obstruction_only_when_the_case_is_closed() -> None:
    driver = case()
    assert told(driver, "coronary_flow_normal") == ("pending", "pending")
    look(driver, "left", "complete", "partial", "normal")
    look(driver, "right", "normal")
    assert told(driver, "coronary_flow_normal") == ("yes", "yes")
    assert told(driver, "coronary_obstruction_in_room") == ("yes", "pending")
    assert found(driver)["coronary_obstruction_in_room", "left"].value == "complete"
    assert told(sealed(driver), "coronary_obstruction_in_room") == ("yes", "no")


def test_a_closed_case_without_a_look_denies_no_obstruction() -> None:
    driver = case()
    look(driver, "left", "partial")
    assert told(sealed(driver), "coronary_obstruction_in_room") == ("yes", "pending")
    assert told(driver, "coronary_flow_normal") == ("no", "pending")
    assert found(driver)["coronary_obstruction_in_room", "left"].value == "partial"


@pytest.mark.parametrize(
    ("planned", "outcome", "obstructed"),
    [("no", "stented", "yes"), ("no", "ballooned", "yes"), ("no", "no_treatment", "no"), ("yes", "stented", "no")],
)
def test_a_coronary_that_was_rescued_was_obstructed_whatever_was_seen_after_it(
    planned: str, outcome: str, obstructed: str
) -> None:
    driver = case()
    rescue(driver, "left", planned, outcome)
    for ostium in ("left", "right"):
        look(driver, ostium, "normal")
    assert told(sealed(driver), "coronary_obstruction_in_room") == (obstructed, "no")
    stented = "yes" if (planned, outcome) == ("no", "stented") else "no"
    assert told(driver, "rescue_stent") == (stented, "no")


@pytest.mark.parametrize(("planned", "answer"), [("no", "no"), ("yes", "pending")])
def test_an_unplanned_rescue_decides_at_once_and_a_planned_one_waits_for_the_seal(planned: str, answer: str) -> None:
    driver = signed_out(case())
    assert success(driver).answer == "pending"
    rescue(driver, "left", planned)
    assert success(driver).answer == answer
    assert success(sealed(driver)).answer == ("no" if planned == "no" else "yes")


@pytest.mark.parametrize(("outcome", "answer"), [("in_place", "yes"), ("not_used", "no")])
def test_a_second_valve_counts_only_where_it_was_put_in(outcome: str, answer: str) -> None:
    driver = case()
    assert found(driver)["second_valve", None].answer == "pending"
    driver.do("bailout.open", bailout="second_valve")
    driver.do("bailout.close", bailout="second_valve", outcome=outcome)
    assert found(sealed(driver))["second_valve", None].answer == answer


def test_a_stent_that_was_put_in_before_counts_as_planned_only_on_a_side_of_the_plan() -> None:
    driver = case(protection_planned=("left",))
    driver.do("step.answer", stage="coronary", step="planned_stent", answer="value", value="deployed")
    assert told(driver, "planned_stent") == ("yes", "pending")
    assert told(sealed(driver), "planned_stent") == ("yes", "no")
