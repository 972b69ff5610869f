"""How a stage ended follows the results of its tries, though they were said or put right after the next call."""

from __future__ import annotations

import pytest

from labcheck.caselog.case import Case
from labcheck.caselog.deviations import deviations
from labcheck.caselog.folding import begin, fold
from labcheck.caselog.intents import Claim
from labcheck.caselog.progress import next_slot, slot_state
from labcheck.caselog.signout import signout_items
from labcheck.checklist.unfolding import Slot
from tests.caselog.driving import Driver, late, small
from tests.caselog.shipped import shipped

CUT = Slot("lacerate", "left")


def lacerating() -> Driver:
    """In the laceration of the left leaflet, a burst behind it."""
    driver = Driver("left", checklist=shipped("electrosurgical")).at(30)
    driver.do("stage.open", stage="lacerate", reason="test")
    driver.at(35).do("energy.on")
    driver.do("energy.off")
    return driver


def cut_asked(driver: Driver) -> bool:
    """Whether the sign-out asks for every target cusp cut or abandoned."""
    return any("cusp cut" in item.text for item in signout_items(driver.case, driver.stamp()))


def test_no_cut_said_after_the_next_call_leaves_the_stage_unfinished_and_the_sign_out_asks() -> None:
    driver = lacerating()
    driver.do("stage.open", reason="test")
    assert slot_state(driver.case, CUT) == "done"
    driver.do("attempt.close", stage="lacerate", outcome="none")
    assert slot_state(driver.case, CUT) == "left"
    assert cut_asked(driver)
    driver.do("undo")
    assert (slot_state(driver.case, CUT), cut_asked(driver)) == ("done", False)


@pytest.mark.parametrize(("said", "then", "state"), [("cut", "none", "left"), ("none", "cut", "done")])
def test_a_result_put_right_after_the_next_call_puts_the_stage_right(said: str, then: str, state: str) -> None:
    driver = lacerating()
    result = driver.do("attempt.close", outcome=said)[0]
    driver.at(36).do("stage.open", stage="deploy", reason="test")
    driver.do("event.amend", target=result.seq, field="outcome", value=then, reason="wrong_key")
    assert slot_state(driver.case, CUT) == state
    assert cut_asked(driver) is (state == "left")
    assert one_by_one(driver.case) == driver.case


def one_by_one(case: Case) -> Case:
    fresh = begin(case.key, case.checklist)
    for event in case.log:
        fresh = fold(fresh, event)
    return fresh


def test_a_failed_try_that_came_first_and_was_entered_last_does_not_undo_the_success() -> None:
    driver = Driver("left", checklist=shipped("electrosurgical")).at(30)
    driver.do("stage.open", stage="traverse", reason="test")
    driver.at(35).do("energy.on")
    driver.do("energy.off")
    driver.do("attempt.close", outcome="crossed")
    driver.at(37).do("attempt.close", outcome="failed", claim=late(5))
    driver.at(38).do("stage.open", reason="test")
    assert slot_state(driver.case, Slot("traverse", "left")) == "done"


def test_what_was_cut_stays_cut_whatever_was_tried_after_it() -> None:
    driver = lacerating()
    driver.do("attempt.close", outcome="partial")
    driver.do("energy.on")
    driver.do("energy.off")
    driver.do("attempt.close", outcome="none")
    driver.do("stage.open", reason="test")
    assert slot_state(driver.case, CUT) == "done"


def test_a_stage_that_the_call_left_for_an_earlier_one_stays_left_though_it_succeeded() -> None:
    driver = Driver("left", checklist=shipped("electrosurgical")).at(30)
    driver.do("stage.open", stage="position", reason="test")
    driver.do("stage.open", stage="traverse", reason="test")
    driver.do("attempt.open")
    result = driver.do("attempt.close", outcome="failed")[0]
    driver.do("stage.open", stage="position", reason="test")
    driver.do("event.amend", target=result.seq, field="outcome", value="crossed", reason="wrong_key")
    assert slot_state(driver.case, Slot("traverse", "left")) == "left"


def test_a_later_visit_does_not_change_how_an_earlier_one_ended() -> None:
    driver = Driver("left", checklist=shipped("electrosurgical")).at(30)
    for outcome in ("crossed", "failed"):
        driver.do("stage.open", stage="traverse", reason="test")
        driver.do("attempt.open")
        driver.do("attempt.close", outcome=outcome)
        driver.do("stage.close")
    assert [v.how for v in driver.case.visits] == ["done", "left"]
    driver.at(50).do("attempt.close", stage="traverse", outcome="crossed", claim=Claim(ago_us=1))
    assert [v.how for v in driver.case.visits] == ["done", "done"]


def test_a_stage_ended_with_its_cusp_is_unfinished_again_when_the_abandonment_is_void() -> None:
    driver = lacerating()
    driver.do("attempt.close", outcome="none")
    abandoned = driver.do("cusp.abandon", cusp="left", reason="anatomy")[-1]
    driver.do("stage.open", reason="test")
    assert (slot_state(driver.case, CUT), driver.case.visits[0].how) == ("abandoned", "abandoned")
    driver.do("event.void", target=abandoned.seq, reason="wrong_key")
    assert (slot_state(driver.case, CUT), driver.case.visits[0].how) == ("left", "left")


def test_a_stage_passed_over_by_call_and_opened_after_all_is_not_skipped_any_more() -> None:
    driver = Driver("left", checklist=shipped("electrosurgical"))
    driver.do("stage.open", stage="access", reason="no_time")
    briefing = Slot("briefing")
    assert slot_state(driver.case, briefing) == "skipped"
    driver.do("stage.open", stage="briefing")
    assert not [d.words for d in deviations(driver.case) if d.kind == "skipped" and "Time-out" in d.words]
    driver.do("undo")
    assert slot_state(driver.case, briefing) == "skipped"


def test_a_stage_opened_after_all_and_left_again_is_left_and_expected() -> None:
    driver = Driver("left", checklist=shipped("electrosurgical"))
    driver.do("stage.open", stage="position", reason="no_time")
    driver.do("stage.open", stage="access")
    driver.do("stage.open", stage="briefing", reason="test")
    assert slot_state(driver.case, Slot("access")) == "left"
    assert next_slot(driver.case) == Slot("access")


def test_what_a_decision_skipped_stays_skipped_by_it_though_it_was_opened_and_left() -> None:
    driver = Driver("left", checklist=small())
    driver.do("decision.make", decision="protect", choice="declined", reason="small arch")
    driver.do("stage.open", stage="filters", reason="test")
    driver.do("stage.open", stage="access", reason="test")
    assert slot_state(driver.case, Slot("filters")) == "skipped"
