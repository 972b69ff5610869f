"""Opening, closing, re-entering and skipping stages; decisions and abandoned cusps."""

from __future__ import annotations

from decimal import Decimal

from labcheck.caselog.deciding import Decided
from labcheck.caselog.deviations import deviations
from labcheck.caselog.progress import next_slot, next_words, slot_state
from labcheck.caselog.signout import signout_items
from labcheck.caselog.steps import step_lines
from labcheck.checklist.unfolding import Slot
from tests.caselog.driving import Driver


def through_access(driver: Driver) -> Driver:
    """Access done with everything the holds ask for."""
    driver.at(0).do("stage.open")
    driver.do("step.answer", step="pad")
    driver.at(2).do("reading.take", reading="act", value=Decimal(274))
    driver.at(3).do("decision.make", decision="protect", choice="declined", reason="small arch")
    return driver


def test_the_next_call_closes_the_open_visit_and_opens_the_next_with_one_press() -> None:
    driver = through_access(Driver())
    events = driver.at(5).do("stage.open")
    assert [e.kind for e in events] == ["stage.closed", "stage.opened"]
    assert len({e.press for e in events}) == 1
    assert driver.case.visits[0].how == "done"
    assert driver.case.visit is not None
    assert driver.case.visit.slot == Slot("position", "left")


def test_a_decision_that_skips_a_stage_says_so_and_the_stage_is_no_longer_expected() -> None:
    driver = through_access(Driver())
    assert slot_state(driver.case, Slot("filters")) == "skipped"
    assert driver.case.skipped[Slot("filters")].why == "decision"
    assert next_words(driver.case) == "In position, left"


def test_a_decision_taken_anew_lifts_the_skip_of_the_earlier_one() -> None:
    driver = through_access(Driver())
    driver.do("decision.make", decision="protect", choice="used")
    assert slot_state(driver.case, Slot("filters")) == "waiting"


def test_a_choice_that_needs_a_reason_is_refused_without_one() -> None:
    driver = Driver()
    assert driver.refused("decision.make", decision="protect", choice="declined").needs == "reason"


def test_two_cusps_are_both_prepared_before_the_ready_call_is_expected() -> None:
    driver = through_access(Driver("right", "left"))
    seen = []
    for minute in range(5, 40, 5):
        slot = next_slot(driver.case)
        assert slot is not None
        seen.append((slot.stage, slot.cusp))
        driver.at(minute).do("stage.open", reason="test")
    assert seen == [
        ("position", "right"), ("cross", "right"), ("position", "left"), ("cross", "left"),
        ("ready", None), ("split", "right"), ("split", "left"),
    ]  # fmt: skip


def test_the_second_cusp_may_go_first_and_the_lane_still_comes_back_for_the_other() -> None:
    driver = through_access(Driver("right", "left"))
    driver.at(5).do("stage.open", stage="position", cusp="left")
    driver.at(6).do("stage.open")
    assert driver.case.visit is not None
    assert driver.case.visit.slot == Slot("cross", "left")
    driver.do("attempt.close", outcome="crossed")
    assert next_slot(driver.case) == Slot("position", "right")


def test_going_back_opens_visit_two_and_leaves_the_first_as_it_was() -> None:
    driver = through_access(Driver())
    driver.at(5).do("stage.open")
    driver.at(8).do("stage.open")
    driver.at(9).do("energy.on")
    driver.do("energy.off")
    driver.do("attempt.close", outcome="failed")
    first = driver.case.visits[1]
    driver.at(12).do("stage.open", stage="position")
    assert driver.case.visits[1] == first
    assert driver.case.visit is not None
    assert driver.case.visit.number == 2
    assert driver.case.visits[2].how == "left"
    assert next_slot(driver.case) == Slot("cross", "left")


def test_a_hold_that_is_not_met_is_named_and_passes_with_a_reason_that_stays_in_the_log() -> None:
    driver = Driver()
    driver.at(0).do("stage.open")
    driver.at(1).do("stage.open", stage="position")
    refused = driver.at(2).refused("stage.open")
    assert refused.needs == "reason"
    assert {line.hold for line in refused.unmet} == {"act_ok", "pad_on"}
    events = driver.do("stage.open", reason="collapse")
    passed = [e.what for e in events if e.kind == "hold.passed"]
    assert [(p.hold, p.reason) for p in passed] == [("act_ok", "collapse"), ("pad_on", "collapse")]


def back_to_access(driver: Driver) -> Driver:
    """Access, position, then back to access: its return pad was answered in visit 1."""
    through_access(driver).at(5).do("stage.open")
    driver.at(8).do("stage.open", stage="access")
    return driver


def test_a_killer_step_answered_before_the_team_went_back_lets_no_hold_pass() -> None:
    driver = back_to_access(Driver())
    driver.at(9).do("stage.open", stage="position")
    assert [line.hold for line in driver.at(10).refused("stage.open").unmet] == ["pad_on"]
    driver.do("step.answer", stage="access", step="pad")
    driver.at(11).do("stage.open")
    assert driver.case.visit is not None
    assert driver.case.visit.stage == "cross"


def test_undoing_the_way_back_makes_the_first_answer_stand_again() -> None:
    driver = back_to_access(Driver())
    driver.at(9).do("undo")
    driver.at(10).do("stage.open")
    assert driver.case.visit is not None
    assert driver.case.visit.stage == "cross"


def test_a_killer_step_asked_again_is_open_and_says_what_was_answered_before() -> None:
    lines = {line.step.id: line for line in step_lines(back_to_access(Driver()).case, Slot("access"))}
    assert (lines["pad"].state, lines["pad"].words, lines["pad"].unanswered) == ("open", "done in visit 1", False)
    assert (lines["act"].state, lines["act"].words) == ("value", "274 s, in visit 1"), "no killer step"


def test_a_killer_step_ticked_ahead_of_its_first_visit_stands() -> None:
    driver = through_access(Driver())
    driver.at(5).do("step.answer", stage="ready", step="loaded")
    for minute in (6, 8, 10):
        driver.at(minute).do("stage.open", reason="test")
    lines = {line.step.id: line.state for line in step_lines(driver.case, Slot("ready"))}
    assert lines["loaded"] == "done"
    driver.at(12).do("stage.open", stage="cross", cusp="left", reason="test")
    driver.at(13).do("stage.open", stage="ready", reason="test")
    again = {line.step.id: line for line in step_lines(driver.case, Slot("ready"))}["loaded"]
    assert (again.state, again.words) == ("open", "done before visit 1")


def test_a_killer_step_never_answered_again_is_asked_for_at_sign_out_and_is_no_missing_answer() -> None:
    driver = back_to_access(Driver())
    driver.at(9).do("stage.open", stage="position")
    assert not [d for d in deviations(driver.case) if "Return pad" in d.words]
    (item,) = [i for i in signout_items(driver.case, driver.stamp()) if "Return pad" in i.text]
    assert item.text == "done in visit 1, not answered again: Return pad on (Access)"
    driver.do("step.answer", stage="access", step="pad")
    assert not [i for i in signout_items(driver.case, driver.stamp()) if "Return pad" in i.text]


def test_an_act_that_is_too_old_does_not_meet_the_hold() -> None:
    driver = through_access(Driver())
    driver.at(5).do("stage.open")
    assert isinstance(driver.at(32).press("stage.open"), Decided), (
        "30 min after the reading at 2 min it holds"
    )
    older = through_access(Driver())
    older.at(5).do("stage.open")
    assert [u.hold for u in older.at(32.01).refused("stage.open").unmet] == ["act_ok"]


def test_a_jump_over_unfinished_stages_needs_a_reason_and_writes_them_as_skipped_by_call() -> None:
    driver = through_access(Driver())
    driver.at(5).do("stage.open")
    refused = driver.at(6).refused("stage.open", stage="deploy")
    assert refused.needs == "reason"
    assert [u.hold for u in refused.unmet] == ["order", "order", "order"]
    events = driver.do("stage.open", stage="deploy", reason="haemodynamics")
    skipped = [(e.what.stage, e.what.why) for e in events if e.kind == "stage.skipped"]
    assert skipped == [("cross", "call"), ("ready", "call"), ("split", "call")]


def test_abandoning_a_cusp_closes_its_attempt_and_the_other_cusp_goes_on() -> None:
    driver = through_access(Driver("right", "left"))
    for minute in (5, 6):
        driver.at(minute).do("stage.open")
    driver.at(7).do("energy.on")
    driver.do("energy.off")
    driver.do("cusp.abandon", cusp="right", reason="haemodynamics")
    assert driver.case.attempts[0].outcome == "abandoned"
    assert next_slot(driver.case) == Slot("position", "left")
    driver.at(9).do("stage.open")
    assert driver.case.visits[-2].how == "abandoned"
    assert slot_state(driver.case, Slot("cross", "right")) == "abandoned"


def test_a_rescue_that_leads_to_a_stage_makes_it_the_expected_call_without_asking_why() -> None:
    driver = through_access(Driver("right", "left"))
    driver.at(5).do("stage.open")
    driver.at(6).do("bailout.open", bailout="collapse")
    driver.at(8).do("bailout.close", outcome="not", lead="jump")
    assert next_slot(driver.case) == Slot("deploy")
    events = driver.at(9).do("stage.open")
    assert {e.what.reason for e in events if e.kind == "stage.skipped"} == {"rescue: Collapse"}


def test_a_bailout_opens_whatever_the_stage_and_leaves_it_open() -> None:
    driver = Driver()
    driver.at(1).do("bailout.open", bailout="coronary")
    driver.at(2).do("stage.open")
    before = driver.case.visit
    driver.at(3).do("bailout.open", bailout="collapse")
    assert driver.case.visit == before
    assert len([b for b in driver.case.bailouts if b.end is None]) == 2


def test_a_second_press_within_the_guard_does_nothing_and_the_log_says_so_once() -> None:
    driver = Driver()
    driver.at(0).do("stage.open")
    driver.at(399 / 60_000)
    assert [e.kind for e in driver.do("stage.open")] == ["press.bounced"]
    driver.at(399.5 / 60_000).refused("stage.open")
    driver.at(401 / 60_000).do("stage.open", reason="a new call")
    assert driver.case.visit is not None
    assert driver.case.visit.stage == "filters"


def test_the_order_of_cusps_can_change_and_a_cusp_that_was_begun_cannot_be_dropped() -> None:
    driver = through_access(Driver("right", "left"))
    driver.do("order.change", targets=("left", "right"))
    assert next_slot(driver.case) == Slot("position", "left")
    driver.at(5).do("stage.open")
    assert "abandon it" in driver.refused("order.change", targets=("right",), reason="x").reason


def test_every_attempt_and_burst_names_one_cusp_and_none_is_taken_where_there_are_no_attempts() -> None:
    driver = through_access(Driver())
    assert "no attempts here" in driver.refused("energy.on").reason
    driver.at(5).do("stage.open")
    driver.at(6).do("stage.open")
    driver.do("energy.on", watts=30)
    assert driver.case.burst is not None
    assert driver.case.burst.cusp == "left"
    assert driver.case.attempts[0].number == 1
    assert "on already" in driver.refused("energy.on").reason


def test_attempt_numbers_run_on_over_visits_and_per_cusp() -> None:
    driver = through_access(Driver("right", "left"))
    for cusp, outcomes in (("right", ("failed", "crossed")), ("left", ("fault", "crossed"))):
        driver.do("stage.open", stage="position", cusp=cusp)
        for outcome in outcomes:
            driver.do("stage.open", stage="cross", cusp=cusp, reason="test")
            driver.do("energy.on")
            driver.do("energy.off")
            driver.do("attempt.close", outcome=outcome)
            driver.do("stage.open", stage="position", cusp=cusp, reason="test")
    assert [(a.cusp, a.number, a.outcome) for a in driver.case.attempts] == [
        ("right", 1, "failed"), ("right", 2, "crossed"), ("left", 1, "fault"), ("left", 2, "crossed"),
    ]  # fmt: skip


def test_an_answer_from_an_earlier_visit_says_which_and_an_answer_of_this_one_does_not() -> None:
    driver = through_access(Driver())
    driver.at(5).do("stage.open")
    driver.do("step.answer", step="view", answer="value", value="-20 15")
    driver.at(8).do("stage.open")
    driver.at(9).do("stage.open", stage="position")
    assert step_lines(driver.case, Slot("position", "left"))[0].words.endswith(", in visit 1")
    driver.do("step.answer", step="view", answer="value", value="-22 15")
    assert "visit" not in step_lines(driver.case, Slot("position", "left"))[0].words
