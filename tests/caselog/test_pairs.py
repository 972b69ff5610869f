"""A reading or dose and the step that it answered say the same thing, whichever of the two is put right."""

from __future__ import annotations

from decimal import Decimal

import pytest

from labcheck.caselog.folding import refold
from labcheck.caselog.steps import step_lines
from labcheck.caselog.tallies import latest_reading
from labcheck.checklist.unfolding import Slot
from tests.caselog.driving import START_US, Driver, in_access
from tests.caselog.shipped import shipped

MIN = 60_000_000


def in_flow() -> Driver:
    driver = in_access()
    driver.do("stage.open", stage="flow", reason="test")
    return driver


def state(driver: Driver, stage: str, step: str) -> tuple[str, str]:
    line = next(line for line in step_lines(driver.case, Slot(stage)) if line.step.id == step)
    return line.state, line.words


def act(driver: Driver) -> Decimal | None:
    taken = latest_reading(driver.case, "act")
    return taken.what.value if taken is not None else None


def test_a_flow_that_was_of_the_other_ostium_no_longer_answers_this_one() -> None:
    driver = in_flow()
    flow = driver.do("reading.take", reading="flow", choice="normal", ostium="left")[0]
    driver.do("event.amend", target=flow.seq, field="ostium", value="right", reason="misheard")
    assert state(driver, "flow", "left_flow") == ("open", "")
    assert [r.what.ostium for r in driver.case.readings] == ["right"]
    driver.do("undo")
    assert state(driver, "flow", "left_flow")[0] == "value"
    assert state(driver, "flow", "right_flow") == ("open", "")


def test_it_answers_the_other_one_instead_at_the_time_when_it_was_seen_and_they_stay_together() -> None:
    driver = in_flow().at(5)
    flow = driver.do("reading.take", reading="flow", choice="normal", ostium="left")[0]
    driver.at(9).do("event.amend", target=flow.seq, field="ostium", value="right", reason="misheard")
    answer = driver.case.answers["flow", None, "right_flow"]
    assert (answer.what.value, answer.at) == ("normal", flow.happened)
    assert len(driver.case.readings) == 1
    driver.do("event.amend", target=answer.seq, field="value", value="slow", reason="misheard")
    assert (driver.case.readings[0].what.choice, state(driver, "flow", "right_flow")[0]) == ("slow", "value")
    driver.do("event.amend", target=flow.seq, field="ostium", value="left", reason="it was left")
    assert state(driver, "flow", "right_flow") == ("open", "")
    assert driver.case.answers["flow", None, "left_flow"].what.value == "slow"
    driver.do("event.void", target=flow.seq, reason="slip")
    assert dict(driver.case.answers) == {}


def test_it_does_not_take_the_place_of_another_look_nor_answer_for_a_later_visit() -> None:
    driver = in_flow()
    driver.do("reading.take", reading="flow", choice="slow", ostium="right")
    wrong = driver.do("reading.take", reading="flow", choice="normal", ostium="left")[0]
    driver.do("event.amend", target=wrong.seq, field="ostium", value="right", reason="misheard")
    assert driver.case.answers["flow", None, "right_flow"].what.value == "slow"
    again = in_flow()
    wrong = again.do("reading.take", reading="flow", choice="normal", ostium="left")[0]
    again.do("stage.open", stage="deploy", reason="test")
    again.do("stage.open", stage="flow", reason="test")
    again.do("event.amend", target=wrong.seq, field="ostium", value="right", reason="misheard")
    assert dict(again.case.answers) == {}


def test_the_answer_that_stood_before_the_wrong_one_stands_again() -> None:
    driver = in_flow()
    driver.do("reading.take", reading="flow", choice="slow", ostium="left")
    second = driver.do("reading.take", reading="flow", choice="normal", ostium="left", step="left_flow")[0]
    driver.do("event.amend", target=second.seq, field="ostium", value="right", reason="misheard")
    assert driver.case.answers["flow", None, "left_flow"].what.value == "slow"


def test_a_dose_that_was_another_drug_no_longer_answers_the_step() -> None:
    driver = Driver("left", checklist=shipped("electrosurgical"))
    driver.do("stage.open", stage="access", reason="test")
    dose = driver.do("dose.give", drug="heparin")[0]
    assert state(driver, "access", "heparin")[0] == "done"
    driver.do("event.amend", target=dose.seq, field="drug", value="protamine", reason="wrong_key")
    assert state(driver, "access", "heparin") == ("open", "")


def test_an_amended_answer_amends_the_reading_behind_it_and_the_hold_sees_it() -> None:
    driver = in_access()
    reading, answer = driver.do("reading.take", reading="act", value=Decimal(310))
    driver.do("event.amend", target=answer.seq, field="value", value="130", reason="misheard")
    assert (act(driver), state(driver, "access", "act")) == (Decimal(130), ("value", "130 s"))
    assert driver.case.event(driver.case.head_seq - 1).what.target == reading.seq  # type: ignore[union-attr]
    driver.do("event.amend", target=answer.seq, field="happened", value=str(START_US), reason="misheard")
    assert {driver.case.readings[0].at.wall_us, driver.case.answers["access", None, "act"].at.wall_us} == {START_US}


def test_an_amended_answer_amends_the_finding_or_the_amount_behind_it() -> None:
    driver = in_access()
    dose, answer = driver.do("dose.give", drug="heparin", amount=Decimal(5000))
    driver.do("event.amend", target=answer.seq, field="value", value="6000", reason="misheard")
    assert (driver.case.doses[0].seq, driver.case.doses[0].what.amount) == (dose.seq, Decimal(6000))
    driver.do("stage.open", stage="flow", reason="test")
    _, seen = driver.do("reading.take", reading="flow", choice="normal", ostium="left")
    driver.do("event.amend", target=seen.seq, field="value", value="slow", reason="misheard")
    assert driver.case.readings[0].what.choice == "slow"


def test_that_a_step_was_not_done_is_not_said_while_its_reading_counts() -> None:
    driver = in_access()
    reading, answer = driver.do("reading.take", reading="act", value=Decimal(274))
    refused = driver.refused("event.amend", target=answer.seq, field="answer", value="not_done", reason="x")
    assert f"#{answer.seq} was answered by #{reading.seq}: void #{reading.seq} and enter it anew" in refused.reason
    assert f"void #{answer.seq} if only the step was not answered by it" in refused.reason
    driver.do("event.void", target=answer.seq, reason="not this step's")
    driver.do("step.answer", step="act", answer="not_done", reason="call")
    assert state(driver, "access", "act")[0] == "not_done"


@pytest.mark.parametrize("which", [0, 1])
def test_a_correction_of_both_is_taken_back_for_both(which: int) -> None:
    driver = in_access()
    reading = driver.do("reading.take", reading="act", value=Decimal(274))[0]
    both = driver.do("event.amend", target=reading.seq, field="value", value="247", reason="misheard")
    assert [e.kind for e in both] == ["event.amended"] * 2
    void = driver.do("event.void", target=both[which].seq, reason="it was right")[which]
    assert (act(driver), state(driver, "access", "act")[1]) == (Decimal(274), "274 s")
    driver.do("event.void", target=void.seq, reason="it was not")
    assert (act(driver), state(driver, "access", "act")[1]) == (Decimal(247), "247 s")


def test_a_void_of_both_is_taken_back_for_both() -> None:
    driver = in_access()
    reading = driver.do("reading.take", reading="act", value=Decimal(274))[0]
    voids = driver.do("event.void", target=reading.seq, reason="slip")
    driver.do("event.void", target=voids[0].seq, reason="it was right")
    assert (act(driver), state(driver, "access", "act")[1]) == (Decimal(274), "274 s")


def test_two_that_said_different_things_in_an_old_log_are_made_to_agree() -> None:
    driver = in_access()
    reading, answer = driver.do("reading.take", reading="act", value=Decimal(274))
    driver.do("event.amend", target=reading.seq, field="value", value="247", reason="misheard")
    driver.case = refold(driver.case, [e for e in driver.case.log if e.target != answer.seq])
    assert (act(driver), state(driver, "access", "act")[1]) == (Decimal(247), "274 s")
    driver.do("event.amend", target=answer.seq, field="value", value="247", reason="misheard")
    assert (act(driver), state(driver, "access", "act")[1]) == (Decimal(247), "247 s")
    assert "says that already" in driver.refused(
        "event.amend", target=answer.seq, field="value", value="247", reason="x"
    ).reason
