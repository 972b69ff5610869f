"""What may answer a step, a reading or a dose, what is refused, and where a record finds the step that asked."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from labcheck.caselog.corrections import in_own_form, with_field
from labcheck.caselog.events import DoseGiven, ReadingTaken
from labcheck.checklist.model import Step
from tests.caselog.driving import Driver, in_access, small


def asking(**fields: Any) -> Driver:
    """Access open, with one more step as described."""
    whole = small()
    step = Step.model_validate({"id": "more", "say": "One more", **fields}, strict=False)
    first = whole.stage[0].model_copy(update={"step": (*whole.stage[0].step, step)})
    return in_access(checklist=whole.model_copy(update={"stage": (first, *whole.stage[1:])}))


def answered(driver: Driver, stage: str, step: str, cusp: str | None = None) -> Any:
    return driver.case.answers[stage, cusp, step].what  # type: ignore[index]


def in_rescues(driver: Driver, step: str) -> list[Any]:
    """The answers to a step in all rescues."""
    every = (answer.what for answer in driver.case.answers.values())
    return [what for what in every if what.stage.startswith("bailout:") and what.step == step]


def test_a_step_that_is_not_there_or_has_no_stage_is_refused() -> None:
    driver = in_access()
    assert "access has no step 'view'" in driver.refused("step.answer", step="view").reason
    assert "no stage 'cut'" in driver.refused("step.answer", step="view", stage="cut").reason
    refused = driver.refused("step.answer", step="wire", stage="bailout:coronary")
    assert "bailout coronary was not opened" in refused.reason
    driver.do("stage.close")
    assert "no stage is open" in driver.refused("step.answer", step="pad").reason


@pytest.mark.parametrize(
    ("asked", "sound", "wrong", "words"),
    [
        ({"kind": "choice", "options": [{"id": "up", "text": "up"}, {"id": "down", "text": "down"}]},
         "down", ("left", ""), "is none of up, down"),
        ({"kind": "number", "unit": "mmHg", "low": 20, "high": 40}, "40", ("twenty", "1e1", ""), "is not a number"),
        ({"kind": "time"}, "09:05", ("9:05", "24:00", "09:60", "09:05:60"), "write hh:mm"),
        ({"kind": "text"}, "yes", ("", "  "), "the answer is empty"),
        ({"kind": "device"}, "snare", ("basket",), "no device 'basket'"),
        ({"kind": "projection"}, "-90 45", ("91 0", "0 -46"), "outside 90 across and 45 along"),
        ({"kind": "done"}, None, ("274",), "answer done, not done or not applicable"),
    ],
    ids=lambda value: value["kind"] if isinstance(value, dict) else "",
)  # fmt: skip
def test_a_step_takes_what_it_asks_for_and_refuses_the_rest_in_words(
    asked: dict[str, Any], sound: str | None, wrong: tuple[str, ...], words: str
) -> None:
    driver = asking(**asked)
    for value in wrong:
        assert words in driver.refused("step.answer", step="more", answer="value", value=value).reason
    if sound is None:
        driver.do("step.answer", step="more")
        return
    assert "say the value" in driver.refused("step.answer", step="more").reason
    driver.do("step.answer", step="more", answer="value", value=sound)
    assert (answered(driver, "access", "more").answer, answered(driver, "access", "more").value) == ("value", sound)


@pytest.mark.parametrize("value", ["19.9", "40.1"])
def test_a_number_outside_its_range_is_asked_for_once_and_taken_the_second_time(value: str) -> None:
    driver = asking(kind="number", unit="mmHg", low=20, high=40)
    refused = driver.refused("step.answer", step="more", answer="value", value=value)
    assert (refused.needs, refused.reason) == (
        "accept", f"One more: {value} is outside 20 to 40 mmHg: again to accept",
    )  # fmt: skip
    driver.do("step.answer", step="more", answer="value", value=value, accept=True)
    for edge in ("20", "40"):
        driver.do("step.answer", step="more", answer="value", value=edge)
    assert answered(driver, "access", "more").unit == "mmHg"


def test_a_number_in_another_unit_than_the_steps_is_refused() -> None:
    driver = asking(kind="number", unit="mmHg")
    refused = driver.refused("step.answer", step="more", answer="value", value="30", unit="kPa")
    assert "unit 'kPa' is not known here: use mmHg" in refused.reason
    driver.do("step.answer", step="more", answer="value", value="30", unit="mmHg")


def test_an_answer_keeps_a_value_and_unit_only_where_it_is_a_value() -> None:
    driver = asking(kind="number", unit="mmHg")
    driver.do("step.answer", step="more", answer="not_applicable", value="30", unit="mmHg")
    assert (answered(driver, "access", "more").value, answered(driver, "access", "more").unit) == (None, None)


def test_a_reading_step_records_the_reading_and_a_dose_step_the_dose() -> None:
    driver = in_access()
    assert "'x' is not a number" in driver.refused("step.answer", step="act", answer="value", value="x").reason
    kinds = [e.kind for e in driver.do("step.answer", step="act", answer="value", value="274")]
    assert kinds == ["reading.taken", "step.answered"]
    assert driver.case.readings[0].what.value == Decimal(274)
    assert "'x' is not a number" in driver.refused("step.answer", step="heparin", answer="value", value="x").reason
    kinds = [e.kind for e in driver.do("step.answer", step="heparin", answer="value", value="5000")]
    assert kinds == ["dose.given", "step.answered"]
    assert (answered(driver, "access", "heparin").value, answered(driver, "access", "heparin").unit) == ("5000", "IU")


def test_a_dose_step_that_is_only_done_records_a_dose_without_an_amount() -> None:
    driver = in_access()
    assert [e.kind for e in driver.do("step.answer", step="heparin")] == ["dose.given", "step.answered"]
    assert (driver.case.doses[0].what.amount, answered(driver, "access", "heparin").answer) == (None, "done")


def test_a_decision_step_makes_the_decision() -> None:
    driver = in_access()
    driver.do("stage.open", stage="filters")
    refused = driver.refused("step.answer", step="ask", answer="value", value="declined")
    assert refused.needs == "reason"
    driver.do("step.answer", step="ask", answer="value", value="declined", reason="small arch")
    assert driver.case.decisions["protect"].choice == "declined"


def test_an_answer_for_a_stage_that_is_not_open_stands_alone() -> None:
    driver = in_access()
    driver.do("stage.open", stage="position")
    events = driver.do("step.answer", stage="access", step="act", answer="value", value="274")
    assert [e.kind for e in events] == ["step.answered"]
    assert driver.case.readings == ()
    ahead = driver.do("step.answer", stage="ready", step="loaded")[0]
    assert ahead.what.opened is None


def test_an_answer_for_a_stage_that_is_not_open_is_one_that_its_step_could_have() -> None:
    driver = in_access()
    driver.do("stage.open", stage="position")
    for stage, step, value, words in (
        ("access", "act", "abc", "'abc' is not a number"),
        ("flow", "left_flow", "odd", "'odd' is none of normal, slow"),
        ("filters", "ask", "maybe", "'maybe' is none of used, declined"),
    ):
        refused = driver.refused("step.answer", stage=stage, step=step, answer="value", value=value)
        assert words in refused.reason
    driver.do("step.answer", stage="flow", step="left_flow", answer="value", value="slow")
    assert answered(driver, "flow", "left_flow").value == "slow"


def test_an_answer_for_a_stage_that_is_not_open_is_in_a_unit_of_its_reading_or_drug() -> None:
    driver = asking(kind="reading", reading="kap")
    driver.do("stage.open", stage="position")
    for step, right, wrong, known in (("more", "uGy·m2", "rad", "Gy·cm2, uGy·m2"), ("heparin", "IU", "mg", "IU")):
        fields = {"stage": "access", "step": step, "answer": "value", "value": "20"}
        refused = driver.refused("step.answer", **fields, unit=wrong)
        assert f"unit '{wrong}' is not known here: use {known}" in refused.reason
        driver.do("step.answer", **fields, unit=right)
        assert answered(driver, "access", step).unit == right


def test_a_decision_answered_in_a_stage_that_is_not_open_is_made_and_answers_its_step() -> None:
    driver = in_access()
    fields = {"stage": "filters", "step": "ask", "answer": "value", "value": "declined"}
    assert driver.refused("step.answer", **fields).needs == "reason"
    driver.do("step.answer", **fields, reason="small arch")
    assert driver.case.decisions["protect"].choice == "declined"
    assert answered(driver, "filters", "ask").value == "declined"


def test_a_dose_step_of_a_stage_that_is_not_open_can_be_said_to_be_done() -> None:
    driver = in_access()
    driver.do("stage.open", stage="position")
    driver.do("step.answer", stage="access", step="heparin")
    assert answered(driver, "access", "heparin").answer == "done"
    assert driver.case.doses == (), "no amount and no moment of its own"


def test_a_dose_or_reading_that_was_not_done_records_none() -> None:
    driver = in_access()
    for step in ("heparin", "act"):
        driver.do("step.answer", step=step, answer="not_done", reason="given on the ward")
    assert (driver.case.doses, driver.case.readings) == ((), ())


def test_a_step_of_a_rescue_is_answered_for_its_latest_opening() -> None:
    driver = in_access()
    for outcome in ("stented", None):
        opening = driver.do("bailout.open", bailout="coronary")[0]
        if outcome:
            driver.do("bailout.close", outcome=outcome)
    driver.do("step.answer", stage="bailout:coronary", step="wire")
    assert [what.opened for what in in_rescues(driver, "wire")] == [opening.seq]


def test_an_ostium_is_taken_from_the_cusp_only_where_it_is_one_of_the_two() -> None:
    whole = small()
    step = Step.model_validate({"id": "more", "say": "Flow", "kind": "reading", "reading": "flow"}, strict=False)
    stages = tuple(s.model_copy(update={"step": (step,)}) if s.id == "position" else s for s in whole.stage)
    driver = in_access("left", "noncoronary", checklist=whole.model_copy(update={"stage": stages}))
    driver.do("stage.open", stage="position", cusp="left")
    driver.do("step.answer", step="more", answer="value", value="slow")
    assert driver.case.readings[0].what.ostium == "left"
    driver.do("stage.open", stage="position", cusp="noncoronary")
    refused = driver.refused("step.answer", step="more", answer="value", value="slow")
    assert "say which ostium" in refused.reason


def test_an_answer_names_the_latest_visit_to_its_stage() -> None:
    driver = in_access("left", "right")
    for cusp in ("left", "right", "left"):
        driver.do("stage.open", stage="position", cusp=cusp)
    driver.do("stage.open", stage="cross", reason="test")
    what = driver.do(
        "step.answer", stage="position", cusp="left", step="view", answer="value", value="-20 15"
    )[0].what
    assert what.opened == driver.case.visits[3].seq


def test_a_second_reading_is_not_said_to_answer_the_step_again() -> None:
    driver = in_access()
    driver.do("reading.take", reading="act", value=Decimal(274))
    assert [e.kind for e in driver.do("reading.take", reading="act", value=Decimal(301))] == ["reading.taken"]
    assert answered(driver, "access", "act").value == "274"


def test_a_reading_answers_no_step_of_a_rescue_that_has_ended() -> None:
    driver = in_access()
    driver.do("bailout.open", bailout="coronary")
    driver.do("bailout.close", outcome="stented")
    driver.do("reading.take", reading="act", value=Decimal(274))
    assert not in_rescues(driver, "act")


def test_flow_of_one_ostium_is_the_answer_of_its_own_step() -> None:
    driver = in_access()
    driver.do("stage.open", stage="flow", reason="test")
    driver.do("step.answer", step="right_flow", answer="value", value="slow")
    assert (driver.case.readings[0].what.ostium, driver.case.readings[0].what.choice) == ("right", "slow")
    assert answered(driver, "flow", "right_flow").value == "slow"
    assert ("flow", None, "left_flow") not in driver.case.answers


def test_a_reading_answers_only_a_step_that_asks_for_that_reading() -> None:
    driver = in_access()
    assert [e.kind for e in driver.do("reading.take", reading="kap", value=Decimal(20))] == ["reading.taken"]


def test_a_step_that_names_no_ostium_is_answered_by_a_finding_of_either() -> None:
    driver = asking(kind="reading", reading="flow")
    driver.do("reading.take", reading="flow", choice="slow", ostium="right")
    assert answered(driver, "access", "more").value == "slow"


def test_a_reading_in_a_second_visit_does_not_answer_again_what_still_stands() -> None:
    driver = in_access()
    driver.do("reading.take", reading="act", value=Decimal(274))
    driver.do("stage.open", stage="position")
    driver.do("stage.open", stage="access")
    assert [e.kind for e in driver.do("reading.take", reading="act", value=Decimal(301))] == ["reading.taken"]


def test_an_amendment_carries_a_field_in_the_form_it_is_written_in() -> None:
    reading = ReadingTaken(reading="act", value=Decimal("274.0"), unit="s", reset=True)
    assert [in_own_form(reading, f) for f in ("value", "reset", "note", "unit")] == ["274.0", "true", None, "s"]
    assert with_field(reading, "reset", "false").reset is False
    assert with_field(reading, "value", None).value is None
    assert with_field(DoseGiven(drug="heparin"), "drug", None) is None


@pytest.mark.parametrize("how", ["reading", "answer"])
def test_a_reading_step_answered_anew_records_the_reading_and_says_it(how: str) -> None:
    driver = in_access()
    driver.do("reading.take", reading="act", value=Decimal(148))
    if how == "reading":
        driver.do("reading.take", reading="act", value=Decimal(184), step="act")
    else:
        driver.do("step.answer", step="act", answer="value", value="184")
    assert answered(driver, "access", "act").value == "184"
    assert [reading.what.value for reading in driver.case.readings] == [148, 184]
    driver.do("undo")
    assert answered(driver, "access", "act").value == "148"
    assert len(driver.case.readings) == 1


def test_a_reading_that_names_no_step_leaves_an_answered_one_as_it_is() -> None:
    driver = in_access()
    driver.do("reading.take", reading="act", value=Decimal(148))
    driver.do("reading.take", reading="act", value=Decimal(184))
    driver.do("reading.take", reading="act", value=Decimal(190), step="pad")
    assert answered(driver, "access", "act").value == "148"


def test_a_dose_step_answered_anew_makes_up_no_dose() -> None:
    driver = in_access()
    driver.do("dose.give", drug="heparin", amount=Decimal(5000))
    given = driver.case.answers["access", None, "heparin"].seq
    refused = driver.refused("step.answer", step="heparin", answer="value", value="7000")
    assert f"answered by #{given}: correct that entry, or record another dose" in refused.reason
    driver.do("step.answer", step="heparin", answer="not_done", reason="away")
    driver.do("step.answer", step="heparin", answer="value", value="7000")
    assert [dose.what.amount for dose in driver.case.doses] == [5000, 7000]
