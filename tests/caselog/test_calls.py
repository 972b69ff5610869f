"""Calls that are refused and what they say; skipping, deciding, changing the order; rescues and where they lead."""

from __future__ import annotations

import pytest

from labcheck.caselog.deciding import Decided, Refused, decide
from labcheck.caselog.folding import begin
from labcheck.caselog.progress import jumped, next_slot, next_words, slot_state
from labcheck.caselog.stamps import SAFE
from labcheck.checklist.unfolding import Slot
from tests.caselog.driving import Driver, late, opened, small

MIN = 60_000_000


def test_a_stage_that_is_open_is_not_opened_again() -> None:
    driver = opened()
    assert "already in Access" in driver.refused("stage.open", stage="access").reason


def test_a_stage_or_cusp_that_is_not_there_is_named_and_refused() -> None:
    driver = opened()
    assert "no stage 'cut'" in driver.refused("stage.open", stage="cut").reason
    refused = driver.refused("stage.open", stage="cross", cusp="right", reason="x")
    assert "right is not a planned cusp: plan left" in refused.reason


def test_a_refused_hold_says_how_many_more_there_are() -> None:
    driver = opened()
    refused = driver.refused("stage.open", stage="cross")
    assert (refused.reason, len(refused.unmet)) == ("hold: ACT at least 250 (and 2 more)", 3)
    driver.do("step.answer", step="pad")
    assert driver.refused("stage.open", stage="cross").reason == "hold: ACT at least 250 (and 1 more)"
    driver.do("stage.open", stage="position")
    assert driver.refused("stage.open").reason == "hold: ACT at least 250"


def test_a_stage_without_a_cusp_named_is_that_of_the_cusp_being_worked_on() -> None:
    driver = opened("left", "right")
    for cusp in ("left", "right"):
        driver.do("stage.open", stage="position", cusp=cusp)
    driver.do("stage.open", stage="cross", reason="test")
    driver.do("stage.open", stage="ready", reason="test")
    driver.do("stage.open", stage="split", reason="test")
    assert [v.cusp for v in driver.case.visits] == [None, "left", "right", "right", None, "right"]


def test_an_abandoned_cusp_is_not_the_one_worked_on_where_none_was_yet() -> None:
    driver = opened("left", "right")
    driver.do("cusp.abandon", cusp="left", reason="calcium")
    driver.do("stage.open", stage="position", reason="test")
    assert driver.case.visits[-1].cusp == "right"


def test_the_visits_of_a_stage_are_counted_for_each_cusp() -> None:
    driver = opened("left", "right")
    for cusp in ("left", "right", "left", "right", "left"):
        driver.do("stage.open", stage="position", cusp=cusp)
    assert [(v.cusp, v.number) for v in driver.case.visits[1:]] == [
        ("left", 1), ("right", 1), ("left", 2), ("right", 2), ("left", 3),
    ]  # fmt: skip


def test_the_last_stage_can_be_ended_by_name_or_by_the_next_call_and_nothing_is_expected_after_it() -> None:
    driver = opened()
    driver.do("stage.close")
    assert driver.case.visits[-1].how == "done"
    assert "no stage is open" in driver.refused("stage.close").reason
    driver.do("stage.open", stage="deploy", reason="test")
    driver.do("stage.open", stage="flow", reason="test")
    assert next_slot(driver.case) is None
    assert next_words(driver.case) == "Coronary check finished"
    assert [e.kind for e in driver.do("stage.open")] == ["stage.closed"]
    assert next_words(driver.case) == ""
    assert "no further call is expected" in driver.refused("stage.open").reason


def test_a_stage_cannot_have_ended_before_it_began() -> None:
    driver = opened()
    driver.do("stage.open", stage="position")
    assert "before Position, left began" in driver.at(9).refused("stage.close", claim=late(5)).reason
    driver.do("stage.close", claim=late(3))


@pytest.mark.parametrize(("stage", "state"), [("access", "open"), ("filters", "skipped"), ("position", "waiting")])
def test_a_stage_is_skipped_by_call_only_while_it_is_still_to_come(stage: str, state: str) -> None:
    driver = opened()
    driver.do("stage.skip", stage="filters", reason="operator's call")
    if state == "waiting":
        driver.do("stage.skip", stage=stage, reason="operator's call")
        assert slot_state(driver.case, Slot(stage, "left")) == "skipped"
        assert driver.case.skipped[Slot(stage, "left")].why == "call"
    else:
        assert f"is {state} already" in driver.refused("stage.skip", stage=stage, reason="x").reason


def test_a_stage_that_was_done_is_not_skipped() -> None:
    driver = opened()
    driver.do("stage.open", stage="position")
    assert "Access is done already" in driver.refused("stage.skip", stage="access", reason="x").reason
    assert "no stage 'cut'" in driver.refused("stage.skip", stage="cut", reason="x").reason


def test_a_decision_or_choice_that_is_not_there_is_refused_and_the_choices_are_named() -> None:
    driver = opened()
    assert "no decision 'stent'" in driver.refused("decision.make", decision="stent", choice="used").reason
    refused = driver.refused("decision.make", decision="protect", choice="maybe")
    assert "'maybe' is none of used, declined" in refused.reason


def test_a_decision_answers_the_step_that_asks_for_it_in_the_latest_visit() -> None:
    driver = opened()
    driver.do("decision.make", decision="protect", choice="used")
    assert driver.case.answers["filters", None, "ask"].what.opened is None
    for stage in ("filters", "position", "filters"):
        driver.do("stage.open", stage=stage)
    driver.do("decision.make", decision="protect", choice="declined", reason="small arch")
    answer = driver.case.answers["filters", None, "ask"].what
    assert (answer.opened, answer.answer, answer.value, answer.reason) == (
        driver.case.visits[-1].seq, "value", "declined", "small arch",
    )  # fmt: skip


def test_a_decision_does_not_skip_the_stage_that_is_open_or_done() -> None:
    driver = opened()
    driver.do("stage.open", stage="filters")
    driver.do("decision.make", decision="protect", choice="declined", reason="small arch")
    assert driver.case.skipped == {}
    driver.do("stage.open", stage="position")
    driver.do("decision.make", decision="protect", choice="declined", reason="small arch")
    assert slot_state(driver.case, Slot("filters")) == "done"
    assert driver.case.skipped == {}


def test_a_cusp_is_abandoned_once_and_only_if_it_is_planned() -> None:
    driver = opened("left", "right")
    assert "non-coronary is not a planned cusp" in driver.refused("cusp.abandon", cusp="noncoronary", reason="x").reason
    driver.do("cusp.abandon", cusp="left", reason="calcium")
    assert "left is abandoned already" in driver.refused("cusp.abandon", cusp="left", reason="x").reason


def test_abandoning_one_cusp_leaves_the_try_on_the_other_open() -> None:
    driver = opened("left", "right")
    driver.do("stage.open", stage="cross", cusp="right", reason="test")
    driver.do("attempt.open")
    events = driver.do("cusp.abandon", cusp="left", reason="calcium")
    assert [e.kind for e in events] == ["cusp.abandoned"]
    assert driver.case.attempts[0].outcome is None
    late_abandon = driver.at(9).refused("cusp.abandon", cusp="right", reason="x", claim=late(8))
    assert "before attempt 1 began" in late_abandon.reason


def test_another_order_names_each_planned_cusp_once_and_no_more_than_the_checklist_is_for() -> None:
    driver = opened("left", "right")
    for targets, words in (
        ((), "name each cusp once"),
        (("left", "left"), "name each cusp once"),
        (("left", "right"), "the order already"),
        (("left", "fused"), "not for the fused"),
        (("left", "right", "noncoronary"), "at most 2 cusps"),
    ):
        assert words in driver.refused("order.change", targets=targets, reason="x").reason
    assert driver.refused("order.change", targets=("left", "noncoronary")).needs == "reason"
    driver.do("order.change", targets=("left", "noncoronary"), reason="CT read again")
    assert driver.case.order == ("left", "noncoronary")
    assert Slot("cross", "noncoronary") in driver.case.slots


@pytest.mark.parametrize("how", ["visit", "attempt", "abandoned"])
def test_a_cusp_that_was_begun_in_any_way_is_not_taken_out(how: str) -> None:
    driver = opened("left", "right")
    if how == "visit":
        driver.do("stage.open", stage="position", cusp="right")
    elif how == "attempt":
        driver.do("attempt.close", stage="cross", cusp="right", outcome="failed", claim=late(1))
    else:
        driver.do("cusp.abandon", cusp="right", reason="calcium")
    assert "right was begun" in driver.refused("order.change", targets=("left",), reason="x").reason


def test_the_opening_says_what_does_not_fit_the_checklist() -> None:
    for targets, given, words in (
        (("fused",), {}, "not for the fused cusp: use left, right, noncoronary"),
        (("left", "right", "noncoronary"), {}, "at most 2 cusps"),
        (("left",), {"substrate": "transcatheter"}, "not for a transcatheter valve"),
        (("left",), {"technique": "electrosurgical"}, "the plan says electrosurgical, the checklist is for small"),
    ):
        with pytest.raises(AssertionError, match=words):
            Driver(*targets, **given)


def test_a_case_is_opened_once_and_its_own_opening_names_who_is_at_the_keys() -> None:
    driver = Driver()
    plan = driver.case.plan
    assert driver.events[0].recorder == driver.case.recorder
    refused = driver.refused("case.open", plan=plan, checklist_digest="0" * 64)
    assert "open already" in refused.reason


def test_nothing_is_recorded_in_a_case_that_is_not_open_yet_nor_in_a_log_that_is_full() -> None:
    driver = Driver()
    late_clock = driver.stamp().model_copy(update={"wall_us": SAFE})
    full = decide(driver.case, driver.intent("mark.set"), late_clock)
    assert isinstance(full, Refused)
    assert full.reason == "the log is full"
    last = late_clock.model_copy(update={"wall_us": SAFE - 1})
    assert isinstance(decide(driver.case, driver.intent("mark.set"), last), Decided)
    assert isinstance(decide(driver.case, object(), driver.stamp()), Refused), "no intent at all"  # type: ignore[arg-type]
    driver.case = begin(driver.case.key, driver.checklist)
    assert "not open yet" in driver.refused("mark.set").reason


def test_a_press_after_a_late_opening_is_not_taken_for_a_second_press_of_it() -> None:
    driver = Driver()
    driver.at(10).do("stage.open", claim=late(3))
    driver.at(10.001)
    assert [e.kind for e in driver.do("stage.open")] == ["stage.closed", "stage.opened"]


def test_a_named_call_within_the_guard_is_meant() -> None:
    driver = opened()
    driver.do("stage.open", stage="position")
    driver.now_us -= 999_000
    assert [e.kind for e in driver.do("stage.open", stage="access")] == ["stage.closed", "stage.opened"]


def test_the_guard_is_over_at_its_full_length() -> None:
    driver = opened()
    driver.do("stage.open", stage="position")
    driver.now_us += small().bounce_ms * 1000 - 1_000_000
    assert driver.do("stage.open", reason="test")[-1].kind == "stage.opened"


def test_two_presses_in_the_same_instant_are_one() -> None:
    driver = opened()
    driver.do("stage.open", stage="position")
    driver.now_us -= 1_000_000
    assert [e.kind for e in driver.do("stage.open")] == ["press.bounced"]


def test_stages_passed_over_are_written_as_skipped_and_not_as_a_hold() -> None:
    driver = opened()
    events = driver.do("stage.open", stage="ready", reason="test")
    assert [e.kind for e in events] == ["stage.closed", *["stage.skipped"] * 2, "hold.passed", "stage.opened"]
    assert (events[3].what.hold, events[3].what.unmet) == ("both", ("both cusps ready",))


def test_what_a_call_passes_over_leaves_out_optional_stages_and_the_other_cusp() -> None:
    driver = opened("left", "right")
    assert jumped(driver.case, Slot("position", "right")) == ()
    assert jumped(driver.case, Slot("cross", "right")) == (Slot("position", "right"),)
    assert jumped(driver.case, Slot("ready")) == (
        Slot("position", "left"), Slot("cross", "left"), Slot("position", "right"), Slot("cross", "right"),
    )  # fmt: skip
    assert jumped(driver.case, Slot("access")) == ()
    assert jumped(driver.case, Slot("nowhere")) == ()
