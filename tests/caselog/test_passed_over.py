"""What was passed over on purpose is not missing, what was never done once is not due again, and a first try
begins when it is tried: the intervals and watches of the shipped checklists."""

from __future__ import annotations

from typing import Any

import pytest

from labcheck.caselog.figures import figures
from labcheck.caselog.intervals import Row, interval_table
from labcheck.caselog.prompts import prompt
from tests.caselog.driving import Driver
from tests.caselog.shipped import NAMES, shipped

MIN = 60_000_000


def driven(name: str = "electrosurgical", target: str = "left") -> Driver:
    """Access opened."""
    driver = Driver(target, checklist=shipped(name))
    driver.do("stage.open", reason="test")
    driver.at(5)
    driver.do("stage.open", reason="test")
    return driver


def go(driver: Driver, stage: str, minute: float, **fields: Any) -> None:
    """Open a stage at that minute, past any hold."""
    driver.at(minute)
    driver.do("stage.open", stage=stage, reason="test", **fields)


def row(driver: Driver, interval: str, *, now: bool = True) -> Row:
    return next(r for r in interval_table(driver.case, driver.stamp() if now else None) if r.id == interval)


@pytest.mark.parametrize("now", [True, False])
@pytest.mark.parametrize("choice", ["declined", "not_feasible"])
def test_filters_that_were_declined_are_skipped_and_not_missing(choice: str, now: bool) -> None:
    driver = driven()
    driver.do("decision.make", decision="neuroprotection", choice=choice, reason="bleeding risk")
    filters = row(driver, "filter_time", now=now)
    assert (filters.state, filters.note, filters.span) == ("skipped", "skipped by decision", None)


def test_a_stage_skipped_by_call_says_so() -> None:
    driver = driven()
    driver.do("stage.skip", stage="protection", reason="operator's call")
    assert row(driver, "filter_time").note == "skipped by call: operator's call"


def test_two_cusps_skipped_for_two_reasons_give_both_and_one_reason_is_given_once() -> None:
    for right, words in (("bleeding", "bleeding"), ("operator's call", "")):
        driver = Driver("left", "right", checklist=shipped("electrosurgical"))
        driver.do("stage.open", reason="test")
        driver.do("stage.skip", stage="traverse", cusp="left", reason="operator's call")
        driver.do("stage.skip", stage="traverse", cusp="right", reason=right)
        both = f"; by call: {words}" if words else ""
        assert row(driver, "crossing").note == f"skipped by call: operator's call{both}"


def test_filters_of_which_nobody_said_anything_are_missing() -> None:
    driver = driven()
    assert (row(driver, "filter_time").state, row(driver, "filter_time").note) == ("missing", "never began")


def test_a_decision_taken_anew_makes_the_interval_wanted_again() -> None:
    driver = driven()
    driver.do("decision.make", decision="neuroprotection", choice="declined", reason="bleeding risk")
    driver.do("decision.make", decision="neuroprotection", choice="used")
    assert row(driver, "filter_time").state == "missing"


def test_what_began_and_whose_end_was_skipped_does_not_run_on() -> None:
    driver = driven()
    go(driver, "protection", 6)
    driver.do("step.answer", step="filters", answer="value", value="both")
    driver.do("stage.skip", stage="closure", reason="operator's call")
    filters = row(driver, "filter_time")
    assert (filters.state, filters.span) == ("skipped", None)
    assert filters.start_seq is not None


@pytest.mark.parametrize("name", [n for n in NAMES if any(i.id == "crossing" for i in shipped(n).interval)])
def test_the_first_try_begins_with_the_try_and_not_with_the_stage(name: str) -> None:
    target = {"anterior_mitral": "anterior_mitral", "fused_leaflet": "fused"}.get(name, "left")
    driver = driven(name, target)
    go(driver, "traverse", 30, cusp=target)
    driver.at(34).do("energy.on")
    driver.do("energy.off")
    driver.do("attempt.close", outcome="failed")
    driver.at(40).do("energy.on")
    driver.do("energy.off")
    driver.do("attempt.close", outcome="crossed")
    crossing = row(driver, "crossing")
    assert crossing.state == "done"
    assert crossing.start_seq == driver.case.attempts[0].seq
    assert crossing.span is not None
    assert crossing.span.us == 6 * MIN + 1_000_000  # to the end of the burst that crossed


def deployed() -> Driver:
    driver = driven()
    go(driver, "deploy", 60)
    driver.at(62)
    driver.do("stage.close")
    return driver


def flow(driver: Driver, minute: float, ostium: str = "left") -> None:
    driver.at(minute).do("reading.take", reading="flow", ostium=ostium, choice="normal")


def said(driver: Driver, minute: float) -> str:
    driver.at(minute)
    shown = prompt(driver.case, driver.stamp())
    return " ".join([shown.words if shown else "", *(f.words for f in figures(driver.case, driver.stamp()))])


def test_a_second_look_is_not_due_before_there_was_a_first() -> None:
    driver = deployed()
    for minute in (63, 73, 83):
        assert "again" not in said(driver, minute)
        assert "second look" not in said(driver, minute)
    flow(driver, 84)
    assert "second look" not in said(driver, 85)  # that look came when the second was due


def test_a_second_look_is_due_after_the_first_and_not_after_the_second() -> None:
    driver = deployed()
    flow(driver, 64)
    flow(driver, 65, "right")
    assert "Coronary flow again: due in" in said(driver, 66)
    assert "a second look at the coronaries is due" in said(driver, 73)
    flow(driver, 74)
    assert "second look" not in said(driver, 75)
    assert "Coronary flow again" not in said(driver, 75)


def test_a_look_before_the_deployment_is_no_first_look_after_it() -> None:
    driver = driven()
    flow(driver, 20)
    go(driver, "deploy", 60)
    driver.at(62)
    driver.do("stage.close")
    assert "Coronary flow again" not in said(driver, 75)


def test_what_lay_on_an_abandoned_cusp_is_not_missing() -> None:
    driver = driven()
    driver.do("cusp.abandon", cusp="left", reason="anatomy")
    crossing = row(driver, "crossing")
    assert (crossing.state, crossing.note) == ("skipped", "cusp abandoned")


def test_what_lay_on_an_abandoned_cusp_and_on_one_still_to_come_is_missing() -> None:
    driver = Driver("left", "right", checklist=shipped("electrosurgical"))
    driver.do("stage.open", reason="test")
    driver.do("cusp.abandon", cusp="left", reason="anatomy")
    assert row(driver, "crossing").state == "missing"
    driver.do("stage.skip", stage="traverse", cusp="right", reason="operator's call")
    assert row(driver, "crossing").note == "skipped by call: operator's call"
