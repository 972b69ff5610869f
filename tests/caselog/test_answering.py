"""Which step a reading or a dose answers: of its own ostium, in a stage that had begun, and not done so far."""

from __future__ import annotations

from decimal import Decimal

import pytest

from labcheck.caselog.holds import unmet
from labcheck.caselog.intents import Claim
from labcheck.caselog.steps import bailout_lines, step_lines
from labcheck.checklist.unfolding import Slot
from labcheck.checklist.words import Cusp
from tests.caselog.driving import Driver, late
from tests.caselog.shipped import shipped


def case(name: str, *cusps: str) -> Driver:
    """A case with a shipped checklist."""
    return Driver(*(cusps or ("left",)), checklist=shipped(name)).at(0)


def said(driver: Driver, stage: str, step: str, cusp: Cusp | None = None) -> tuple[str, str]:
    """How a step stands, and its words."""
    return next((x.state, x.words) for x in step_lines(driver.case, Slot(stage, cusp)) if x.step.id == step)


@pytest.mark.parametrize(("ostium", "state"), [("left", "value"), ("right", "open")])
def test_the_flow_of_one_coronary_answers_no_step_of_the_other(ostium: str, state: str) -> None:
    driver = case("coronary_protection", "left", "right")
    driver.at(50).do("stage.open", stage="assess", cusp="left", reason="test")
    driver.do("reading.take", reading="flow", choice="normal", ostium=ostium, judged_by="angiography")
    assert said(driver, "assess", "flow", "left")[0] == state
    held = [u.hold for u in unmet(driver.case, Slot("settle", "left"), driver.stamp())]
    assert ("looked" in held) is (state == "open")


@pytest.mark.parametrize(("ostium", "state"), [("left", "open"), ("right", "value")])
def test_the_flow_of_one_coronary_answers_no_rescue_of_the_other(ostium: str, state: str) -> None:
    driver = case("electrosurgical")
    rescue = driver.do("bailout.open", bailout="coronary", ostium="right")[0]
    driver.do("reading.take", reading="flow", choice="normal", ostium=ostium)
    assert [x.state for x in bailout_lines(driver.case, rescue.seq) if x.step.id == "flow"] == [state]


def in_coronary() -> Driver:
    """In the stage that looks at both coronaries, since minute 45."""
    driver = case("electrosurgical")
    driver.at(45).do("stage.open", stage="coronary", reason="test")
    return driver.at(46)


def test_a_reading_from_before_the_stage_does_not_answer_its_killer_step() -> None:
    driver = in_coronary()
    driver.do("reading.take", reading="flow", choice="normal", ostium="left", claim=late(40))
    assert said(driver, "coronary", "left_flow")[0] == "open"
    driver.do("reading.take", reading="flow", choice="normal", ostium="left", claim=late(0.5))
    assert said(driver, "coronary", "left_flow") == ("value", "normal")


def test_a_step_that_is_named_is_answered_by_what_happened_before_its_stage() -> None:
    driver = in_coronary()
    driver.do("step.answer", step="left_flow", answer="value", value="normal", claim=late(40))
    assert said(driver, "coronary", "left_flow") == ("value", "normal")
    driver = case("electrosurgical")
    driver.at(45).do("stage.open", stage="access", reason="test")
    driver.at(46).do("step.answer", step="heparin", answer="value", value="5000", claim=late(40))
    assert said(driver, "access", "heparin") == ("value", "5000 IU")


def test_a_press_held_for_its_reason_does_not_answer_a_rescue_that_began_since() -> None:
    driver = case("electrosurgical")
    rescue = driver.at(10).do("bailout.open", bailout="coronary", ostium="right")[0]
    driver.at(10.5)
    held = Claim(ago_us=40_000_000, held=True)
    driver.do("reading.take", reading="flow", choice="normal", ostium="right", claim=held)
    assert [x.state for x in bailout_lines(driver.case, rescue.seq) if x.step.id == "flow"] == ["open"]


def test_a_live_press_after_a_restart_answers_the_stage_though_the_clock_was_set_back() -> None:
    driver = in_coronary()
    driver.boot_id, driver.wall_shift_us = "boot-b", -3_600_000_000
    driver.do("reading.take", reading="flow", choice="normal", ostium="left")
    assert said(driver, "coronary", "left_flow")[0] == "value"


@pytest.mark.parametrize("by", ["dose.give", "step.answer"])
def test_a_dose_that_was_not_given_and_then_is_answers_its_step(by: str) -> None:
    driver = case("electrosurgical")
    driver.do("stage.open", stage="access", reason="test")
    driver.do("step.answer", step="heparin", answer="not_done", reason="result_awaited")
    if by == "dose.give":
        driver.do(by, drug="heparin", amount=Decimal(5000))
    else:
        driver.do(by, step="heparin", answer="value", value="5000")
    assert said(driver, "access", "heparin") == ("value", "5000 IU")
    assert len(driver.case.doses) == 1


def test_a_flow_that_was_not_looked_at_and_then_is_answers_its_step() -> None:
    driver = in_coronary()
    driver.do("step.answer", step="left_flow", answer="not_done", reason="no_time")
    driver.do("reading.take", reading="flow", choice="normal", ostium="left")
    assert said(driver, "coronary", "left_flow") == ("value", "normal")


def test_a_late_result_is_not_of_a_sample_sent_after_it() -> None:
    driver = case("electrosurgical")
    sent = driver.at(40).do("sample.send", reading="act")[0]
    driver.at(42).do("reading.take", reading="act", value=Decimal(150), claim=late(35))
    assert driver.case.samples[0].answered is None
    result = driver.at(44).do("reading.take", reading="act", value=Decimal(290))[0]
    assert getattr(result.what, "sample", None) == sent.seq


def test_a_result_is_of_the_sample_sent_last_and_not_of_the_one_entered_last() -> None:
    driver = case("electrosurgical")
    sent = driver.at(40).do("sample.send", reading="act")[0]
    driver.at(41).do("sample.send", reading="act", claim=late(20))
    result = driver.at(44).do("reading.take", reading="act", value=Decimal(290))[0]
    assert getattr(result.what, "sample", None) == sent.seq
