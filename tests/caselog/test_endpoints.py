"""Endpoints at exit from the room: what the log knows, and ``pending`` for what it cannot.

VARC-3 technical success as summarised for Tomii, JACC Cardiovasc Interv 2022 (second-hand). That a planned
protective stent is no failure and a rescue stent is one is labcheck's own reading.
"""

from __future__ import annotations

from itertools import product

import pytest

from labcheck.caselog.endpoints import Endpoint, endpoints
from labcheck.caselog.signout import signout_items
from labcheck.reference.endpoints import PENDING_AT_EXIT
from tests.caselog.driving import Driver
from tests.caselog.shipped import NAMES, shipped


def case(name: str = "electrosurgical") -> Driver:
    checklist = shipped(name)
    return Driver(checklist.cusps[0], checklist=checklist).at(0)


def signed_out(
    driver: Driver, leaves: str = "alive", valve: str = "one_right", delivery: str = "good"
) -> Driver:
    for step, value in (("leaves", leaves), ("valve", valve), ("delivery", delivery)):
        driver.do("step.answer", step=step, stage="signout", answer="value", value=value)
    return driver


def sealed(driver: Driver) -> Driver:
    for item in signout_items(driver.case, driver.stamp()):
        if item.settled is None:
            driver.do("signout.settle", item=item.id, reason="recorded elsewhere")
    driver.do("case.seal")
    return driver


def found(driver: Driver) -> dict[tuple[str, str | None], Endpoint]:
    return {(one.name, one.cusp or one.ostium): one for one in endpoints(driver.case)}


def success(driver: Driver) -> Endpoint:
    return found(driver)["technical_success", None]


def rescue(driver: Driver, ostium: str, planned: str, outcome: str = "stented") -> None:
    driver.do("bailout.open", bailout="coronary", ostium=ostium)
    driver.do("step.answer", step="planned", stage="bailout:coronary", answer="value", value=planned)
    driver.do("bailout.close", bailout="coronary", outcome=outcome)


@pytest.mark.parametrize(
    ("answers", "expected", "because"),
    [
        (("alive", "one_right", "good"), "yes", "met: exactly one valve implanted"),
        (("died", "one_right", "good"), "no", "not met: alive at exit from the room"),
        (("alive", "more", "good"), "no", "not met: exactly one valve implanted"),
        (("alive", "none", "good"), "no", "not met: exactly one valve implanted"),
        (("alive", "one_wrong", "good"), "no", "not met: valve in the correct position"),
        (("alive", "one_right", "failed"), "no", "not met: access, delivery and retrieval successful"),
    ],
)
def test_technical_success_follows_the_answers_of_sign_out(
    answers: tuple[str, str, str], expected: str, because: str
) -> None:
    verdict = success(sealed(signed_out(case(), *answers)))
    assert verdict.answer == expected
    assert because in verdict.because


def test_an_open_case_is_pending_and_says_what_is_not_recorded() -> None:
    verdict = success(case())
    assert verdict.answer == "pending"
    assert "not recorded: alive at exit from the room" in verdict.because


def test_a_failed_criterion_decides_while_the_case_is_still_open() -> None:
    assert success(signed_out(case(), leaves="died")).answer == "no"


@pytest.mark.parametrize(("planned", "expected"), [("yes", "yes"), ("no", "no")])
def test_a_planned_stent_is_no_failure_and_a_rescue_stent_is(planned: str, expected: str) -> None:
    driver = signed_out(case())
    rescue(driver, "left", planned)
    assert success(sealed(driver)).answer == expected


@pytest.mark.parametrize(("first", "second"), [("no", "yes"), ("yes", "no")])
def test_each_opening_of_the_card_keeps_its_own_answer(first: str, second: str) -> None:
    driver = signed_out(case())
    rescue(driver, "left", first)
    rescue(driver, "right", second)
    sealed(driver)
    answers = found(driver)
    for ostium, planned in (("left", first), ("right", second)):
        assert answers["planned_stent", ostium].answer == planned
        assert answers["rescue_stent", ostium].answer == ("no" if planned == "yes" else "yes")
    assert success(driver).answer == "no"


def test_a_corrected_answer_about_the_plan_corrects_the_endpoint() -> None:
    driver = signed_out(case())
    rescue(driver, "left", "yes")
    answer = next(e.seq for e in driver.case.log if getattr(e.what, "step", None) == "planned")
    driver.do("event.amend", target=answer, field="value", value="no", reason="wrong value or unit")
    assert success(sealed(driver)).answer == "no"


def test_a_rescue_that_leads_to_surgery_is_a_failure_whatever_it_was_for() -> None:
    driver = signed_out(case())
    driver.do("bailout.open", bailout="wire_astray", cusp="left")
    driver.do("bailout.close", bailout="wire_astray", outcome="injury", lead="convert")
    sealed(driver)
    assert success(driver).answer == "no"
    assert found(driver)["conversion_to_surgery", None].answer == "yes"


def test_a_rescue_after_which_nothing_was_done_is_no_failure() -> None:
    driver = signed_out(case())
    rescue(driver, "left", "no", outcome="no_treatment")
    assert success(sealed(driver)).answer == "yes"


def test_what_a_log_cannot_know_is_pending_with_the_reason_and_never_no() -> None:
    answers = found(sealed(signed_out(case())))
    for name, why in PENDING_AT_EXIT.items():
        one = answers[name.replace(" ", "_"), None]
        assert (one.answer, one.because) == ("pending", (why,))
    assert answers["procedural_death", None].answer == "pending"
    assert answers["stroke_suspected_in_room", None].answer == "pending"


def test_death_in_the_room_is_certain_and_so_is_procedural_death_then() -> None:
    answers = found(signed_out(case(), leaves="died"))
    assert answers["death_in_room", None].answer == "yes"
    assert answers["procedural_death", None].answer == "yes"


@pytest.mark.parametrize("name", [name for name in NAMES if name != "anterior_mitral"])
def test_every_aortic_checklist_can_come_to_technical_success(name: str) -> None:
    assert success(sealed(signed_out(case(name)))).answer == "yes"


def test_every_mix_of_answers_gives_one_of_three_answers_and_a_reason() -> None:
    leaves, valves, deliveries = (
        ("alive", "died", None),
        ("one_right", "more", None),
        ("good", "failed", None),
    )
    for mix in product(leaves, valves, deliveries):
        driver = case()
        for step, value in zip(("leaves", "valve", "delivery"), mix, strict=True):
            if value is not None:
                driver.do("step.answer", step=step, stage="signout", answer="value", value=value)
        verdict = success(driver)
        assert verdict.because
        assert verdict.answer == ("no" if {"died", "more", "failed"} & set(mix) else "pending")


def test_an_aortic_standard_gives_no_verdict_on_a_mitral_case() -> None:
    found = success(sealed(signed_out(case("anterior_mitral"))))
    assert (found.answer, found.definition) == ("pending", "log")
    assert "aortic" in found.because[0]


def test_a_rescue_whose_outcome_was_never_said_is_neither_yes_nor_no() -> None:
    driver = signed_out(case())
    name = next(b.id for b in driver.case.checklist.bailout if b.endpoint == "second_valve")
    driver.do("bailout.open", bailout=name)
    assert found(driver)["second_valve", None].answer == "pending"
    driver.do("bailout.open", bailout="coronary", ostium="left")
    driver.do("reading.take", reading="flow", ostium="left", choice="normal")
    sealed(driver)
    assert found(driver)["second_valve", None].answer == "pending"
    assert found(driver)["coronary_obstruction_in_room", "left"].answer == "pending"
    assert found(driver)["stroke_suspected_in_room", None].answer == "pending"
