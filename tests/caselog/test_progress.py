"""Where a case stands: how each stage is said to have ended, what is missing, and which call comes next."""

from __future__ import annotations

import pytest

from labcheck.caselog.progress import (
    call_words,
    closing,
    jumped,
    next_slot,
    next_words,
    slot_state,
    stage_title,
)
from labcheck.checklist.unfolding import Slot
from tests.caselog.driving import Driver


def called(*slots: Slot, targets: tuple[str, ...] = ("left", "right")) -> Driver:
    """These stages opened one after the other, past every hold."""
    driver = Driver(*targets)
    for slot in slots:
        driver.do("stage.open", stage=slot.stage, cusp=slot.cusp, reason="test")
    return driver


ACCESS, READY, DEPLOY, FLOW = Slot("access"), Slot("ready"), Slot("deploy"), Slot("flow")
POSITION_L, POSITION_R = Slot("position", "left"), Slot("position", "right")
CROSS_L, CROSS_R = Slot("cross", "left"), Slot("cross", "right")
SPLIT_L, SPLIT_R = Slot("split", "left"), Slot("split", "right")


@pytest.mark.parametrize(
    ("first", "then", "how"),
    [
        ((ACCESS,), POSITION_L, "done"),
        ((POSITION_L,), ACCESS, "left"),
        ((POSITION_L,), CROSS_L, "done"),
        ((POSITION_L,), POSITION_R, "left"),
        ((POSITION_L,), CROSS_R, "left"),
        ((CROSS_L,), POSITION_R, "done"),
        ((POSITION_R,), POSITION_L, "left"),
        ((CROSS_R,), POSITION_L, "done"),
        ((CROSS_R,), CROSS_L, "done"),
        ((CROSS_L,), POSITION_L, "left"),
        ((CROSS_L,), READY, "done"),
        ((SPLIT_L,), SPLIT_R, "done"),
        ((SPLIT_R,), SPLIT_L, "done"),
        ((SPLIT_R,), CROSS_L, "left"),
        ((DEPLOY,), None, "done"),
    ],
)
def test_a_stage_is_left_when_the_case_goes_back_or_to_the_other_cusp_in_the_middle(
    first: tuple[Slot, ...], then: Slot | None, how: str
) -> None:
    assert closing(called(*first).case, then) == how


@pytest.mark.parametrize(
    ("outcomes", "how"), [((), "done"), (("crossed",), "done"), (("failed",), "left"), (("failed", "crossed"), "done"),
                          (("crossed", "fault"), "left"), ((None,), "done"), (("failed", None), "done")],
)  # fmt: skip
def test_a_stage_whose_last_try_is_known_to_have_failed_is_left(outcomes: tuple[str | None, ...], how: str) -> None:
    driver = called(POSITION_L, CROSS_L, targets=("left",))
    for outcome in outcomes:
        driver.do("attempt.open")
        if outcome is not None:
            driver.do("attempt.close", outcome=outcome)
    assert closing(driver.case, READY) == how
    assert closing(driver.case, None) == how


def test_a_failed_try_on_the_other_cusp_does_not_count_against_this_one() -> None:
    driver = called(CROSS_L)
    driver.do("attempt.open")
    driver.do("attempt.close", outcome="failed")
    driver.do("stage.open", stage="cross", cusp="right", reason="test")
    assert closing(driver.case, READY) == "done"


def test_the_stage_of_an_abandoned_cusp_ends_as_abandoned_and_what_it_had_done_stays_done() -> None:
    driver = called(POSITION_L, CROSS_L)
    driver.do("cusp.abandon", cusp="left", reason="calcium")
    assert closing(driver.case, POSITION_R) == "abandoned"
    assert slot_state(driver.case, POSITION_L) == "done"
    driver.do("stage.open", stage="position", cusp="right")
    assert slot_state(driver.case, CROSS_L) == "abandoned"


def test_a_stage_is_missing_once_the_case_has_gone_beyond_it_on_its_own_cusp_or_on_none() -> None:
    driver = called(ACCESS, CROSS_L)
    assert slot_state(driver.case, POSITION_R) == "waiting", "the other cusp's is still to come"
    assert [slot_state(driver.case, s) for s in (ACCESS, Slot("filters"), CROSS_L)] == ["done", "passed", "open"]
    assert slot_state(driver.case, POSITION_L) == "skipped", "the reason was given at the call"
    driver.do("undo")
    driver.do("stage.close")
    driver.do("stage.open", stage="flow", reason="test")
    assert slot_state(driver.case, Slot("elsewhere")) == "waiting"


def test_a_stage_of_one_cusp_is_not_missing_because_the_other_cusp_went_first() -> None:
    driver = called(ACCESS, POSITION_R)
    assert [slot_state(driver.case, s) for s in (POSITION_L, CROSS_L, POSITION_R)] == ["waiting", "waiting", "open"]


def test_what_lies_ahead_of_a_stage_that_was_gone_back_to_is_waiting_again() -> None:
    driver = Driver()
    driver.do("stage.open", stage="access")
    driver.do("stage.open", stage="position")
    assert slot_state(driver.case, Slot("filters")) == "passed"
    driver.do("stage.open", stage="access")
    assert slot_state(driver.case, Slot("filters")) == "waiting"
    assert slot_state(driver.case, POSITION_L) == "left"


@pytest.mark.parametrize(
    ("first", "then"),
    [
        ((), ACCESS),
        ((ACCESS, POSITION_L), CROSS_L),
        ((POSITION_L, CROSS_L), POSITION_R),
        ((POSITION_R, CROSS_R), POSITION_L),
        ((POSITION_L, CROSS_L, POSITION_R, CROSS_R), READY),
        ((POSITION_L, CROSS_L, POSITION_R, CROSS_R, READY, SPLIT_R), SPLIT_L),
        ((POSITION_L, CROSS_L, POSITION_R, CROSS_R, READY, SPLIT_L, SPLIT_R), DEPLOY),
        ((DEPLOY,), FLOW),
        ((FLOW,), None),
    ],
)
def test_the_next_call_is_the_next_unfinished_one_and_within_a_lane_the_other_cusps(
    first: tuple[Slot, ...], then: Slot | None
) -> None:
    assert next_slot(called(*first).case) == then


def test_after_a_stage_was_closed_the_next_call_goes_on_from_it() -> None:
    driver = called(ACCESS, POSITION_L, CROSS_L)
    driver.do("stage.close")
    assert next_slot(driver.case) == POSITION_R


def test_a_stage_on_a_cusp_no_longer_planned_does_not_lose_the_way() -> None:
    driver = called(ACCESS)
    driver.do("order.change", targets=("right",), reason="CT read again")
    assert next_slot(driver.case) == Slot("filters")
    assert jumped(driver.case, CROSS_L) == ()


def test_what_is_passed_over_is_counted_from_the_open_stage_or_else_from_the_furthest_that_was_open() -> None:
    driver = called(ACCESS, POSITION_L, CROSS_L)
    driver.do("stage.open", stage="access")
    assert jumped(driver.case, READY) == (CROSS_L, POSITION_R, CROSS_R)
    driver.do("stage.close")
    assert jumped(driver.case, READY) == (POSITION_R, CROSS_R)


def test_words_say_the_cusp_and_what_ends_the_present_stage() -> None:
    driver = called(DEPLOY)
    assert next_words(driver.case) == "Deployed. Coronary shots"
    assert call_words(driver.case, CROSS_R) == "Crossing, right"
    assert (stage_title(driver.case, "cross", None), stage_title(driver.case, "bailout:collapse", "left")) == (
        "Cross", "Collapse, left",
    )  # fmt: skip
    assert stage_title(driver.case, "gone", None) == "gone"
