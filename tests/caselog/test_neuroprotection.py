"""Sign-out never closes silently while a filter is in, whatever was decided and with every shipped checklist."""

from __future__ import annotations

import pytest

from labcheck.caselog.handover import open_items
from labcheck.caselog.neuroprotection import ITEM, filters_in
from labcheck.caselog.signout import signout_items
from labcheck.checklist import finding
from tests.caselog.driving import Driver
from tests.caselog.shipped import NAMES, shipped

WITH_FILTERS = tuple(name for name in NAMES if finding.decision(shipped(name), "neuroprotection") is not None)
OUT = ("signout:filters_out", ITEM)


def case(name: str = "electrosurgical") -> Driver:
    checklist = shipped(name)
    return Driver(checklist.cusps[0], checklist=checklist).at(0)


def with_filters_in(name: str) -> Driver:
    driver = case(name)
    driver.do("decision.make", decision="neuroprotection", choice="used")
    driver.do("step.answer", step="filters", stage="protection", answer="value", value="both")
    return driver


def unsettled(driver: Driver) -> list[str]:
    return [i.id for i in signout_items(driver.case, driver.stamp()) if i.settled is None]


def settle_all(driver: Driver) -> None:
    """Give a reason for everything but the filters."""
    for item in unsettled(driver):
        if item not in OUT:
            driver.do("signout.settle", item=item, reason="recorded elsewhere")


def test_every_shipped_checklist_asks_about_filters() -> None:
    assert WITH_FILTERS == NAMES


@pytest.mark.parametrize("name", WITH_FILTERS)
def test_a_case_is_not_sealed_while_the_filters_used_are_in(name: str) -> None:
    driver = with_filters_in(name)
    settle_all(driver)
    assert unsettled(driver) == ["signout:filters_out"]
    assert driver.refused("case.seal").reason
    assert driver.case.seal is None
    driver.do("step.answer", step="filters_out", stage="closure", answer="done")
    assert not set(OUT) & set(unsettled(driver))
    assert not filters_in(driver.case)


@pytest.mark.parametrize("name", WITH_FILTERS)
@pytest.mark.parametrize("answer", ["not_done", "not_applicable"])
def test_an_answer_that_takes_nothing_out_leaves_the_filters_on_the_list(name: str, answer: str) -> None:
    driver = with_filters_in(name)
    driver.do("step.answer", step="filters_out", stage="closure", answer=answer, reason="person away")
    settle_all(driver)
    assert len(set(OUT) & set(unsettled(driver))) == 1
    assert driver.refused("case.seal").reason


@pytest.mark.parametrize("choice", ["declined", "not_feasible", None])
def test_filters_placed_against_the_decision_are_on_the_list_too(choice: str | None) -> None:
    driver = case()
    if choice is not None:
        driver.do("decision.make", decision="neuroprotection", choice=choice, reason="patient's choice")
    driver.do("device.use", device="filters", action="placed")
    settle_all(driver)
    assert unsettled(driver) == [ITEM]
    assert "filters still in: no entry says that they came out" in open_items(driver.case, driver.stamp())
    driver.do("device.use", device="filters", action="removed")
    assert ITEM not in unsettled(driver)


def test_filters_that_went_in_again_are_in() -> None:
    driver = case()
    for action in ("placed", "removed", "placed"):
        driver.do("device.use", device="filters", action=action)
    assert filters_in(driver.case)


def test_a_voided_retrieval_leaves_the_filters_in() -> None:
    driver = case()
    driver.do("device.use", device="filters", action="placed")
    driver.do("device.use", device="filters", action="removed")
    driver.do("undo")
    assert filters_in(driver.case)


def test_filters_opened_on_the_table_and_never_placed_are_not_in() -> None:
    driver = case()
    driver.do("device.use", device="filters", action="opened")
    driver.do("device.use", device="filters", action="failed")
    assert not filters_in(driver.case)
    assert ITEM not in unsettled(driver)


def test_filters_left_in_close_the_case_only_with_a_reason_that_stays_in_the_log() -> None:
    driver = with_filters_in("electrosurgical")
    settle_all(driver)
    settled = driver.do("signout.settle", item="signout:filters_out", reason="left in on purpose")
    driver.do("case.seal")
    assert driver.case.seal is not None
    assert settled[0].what.reason == "left in on purpose"


@pytest.mark.parametrize("answer", ["not_done", "not_applicable"])
def test_filters_that_did_not_go_in_are_not_in(answer: str) -> None:
    driver = case()
    driver.do("step.answer", step="filters", stage="protection", answer=answer, reason="bleeding risk")
    assert not filters_in(driver.case)


def test_another_device_that_came_out_is_not_the_filters() -> None:
    driver = case()
    driver.do("device.use", device="filters", action="placed")
    driver.do("device.use", device=next(d.id for d in driver.checklist.device if d.id != "filters"), action="removed")
    assert filters_in(driver.case)
    driver.do("device.use", device="filters", action="removed")
    assert not filters_in(driver.case)
