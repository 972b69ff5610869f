"""Endpoints say ``no`` only where somebody knows it: what was left unsaid is pending, also after the seal."""

from __future__ import annotations

import pytest

from labcheck.caselog.folding import refold
from labcheck.caselog.signout import signout_items
from tests.caselog.driving import Driver
from tests.caselog.shipped import NAMES
from tests.caselog.test_endpoints import case, found, rescue, sealed, signed_out, success

PER_OSTIUM = ("rescue_stent", "coronary_obstruction_in_room", "planned_stent")


def looked(driver: Driver) -> Driver:
    """Both coronaries with normal flow at the end."""
    for ostium in ("left", "right"):
        driver.do("reading.take", reading="flow", choice="normal", ostium=ostium)
    return driver


def unplaced(planned: str, outcome: str | None) -> dict[str, set[str]]:
    """The answers for both ostia after a coronary rescue of which nobody said where it was."""
    driver = case()
    driver.do("bailout.open", bailout="coronary")
    driver.do("step.answer", step="planned", stage="bailout:coronary", answer="value", value=planned)
    if outcome is not None:
        driver.do("bailout.close", bailout="coronary", outcome=outcome)
    answers = found(sealed(looked(driver)))
    return {name: {answers[name, ostium].answer for ostium in ("left", "right")} for name in PER_OSTIUM}


@pytest.mark.parametrize(
    ("planned", "outcome", "pending"),
    [
        ("no", "stented", {"rescue_stent", "coronary_obstruction_in_room"}),
        ("no", None, {"rescue_stent", "coronary_obstruction_in_room"}),
        ("no", "ballooned", {"coronary_obstruction_in_room"}),
        ("no", "no_treatment", set()),
        ("yes", "stented", {"planned_stent"}),
        ("yes", "ballooned", set()),
    ],
)
def test_a_coronary_rescue_without_its_ostium_is_a_no_for_neither(
    planned: str, outcome: str | None, pending: set[str]
) -> None:
    answers = unplaced(planned, outcome)
    assert {name for name, said in answers.items() if said == {"pending"}} == pending
    assert {name for name, said in answers.items() if said == {"no"}} == set(PER_OSTIUM) - pending


def test_a_coronary_rescue_without_its_outcome_may_have_stented() -> None:
    driver = case()
    driver.do("bailout.open", bailout="coronary", ostium="left")
    answers = found(sealed(looked(driver)))
    assert answers["rescue_stent", "left"].answer == "pending"
    assert answers["rescue_stent", "right"].answer == "no"


def test_a_finding_that_was_taken_back_is_no_obstruction() -> None:
    driver = case()
    taken = driver.do("reading.take", reading="flow", choice="complete", ostium="left")[0]
    amended = driver.do("event.amend", target=taken.seq, field="choice", value="normal", reason="wrong_key")[0]
    # An older console took such an amendment to nothing; one is refused now, but its log is still read.
    emptied = amended.model_copy(update={"what": amended.what.model_copy(update={"value": None})})
    driver.case = refold(driver.case, [*driver.case.log[:-1], emptied])
    answers = found(sealed(looked(driver)))
    assert answers["coronary_obstruction_in_room", "left"].answer == "no"


def deciding(driver: Driver) -> str:
    """The last stage of the checklist with attempts."""
    return [s.id for s in driver.checklist.stage if s.attempts is not None][-1]


def modified(driver: Driver) -> str:
    """Whether the first target leaflet was modified."""
    return found(driver)["leaflet_modified", driver.case.order[0]].answer


CUTTING = tuple(name for name in NAMES if name != "coronary_protection")


@pytest.mark.parametrize("name", CUTTING)
@pytest.mark.parametrize("tried", [True, False])
def test_a_leaflet_of_which_nobody_said_how_it_went_is_pending_and_asked_for(name: str, tried: bool) -> None:
    driver = case(name)
    driver.at(60).do("stage.open", stage=deciding(driver), cusp=driver.case.order[0], reason="test")
    if tried:
        driver.do("attempt.open")
    driver.do("stage.open", reason="test")
    asked = {i.id.partition(":")[0] for i in signout_items(driver.case, driver.stamp())}
    assert ("attempt" if tried else "tries") in asked
    assert modified(sealed(driver)) == "pending"


def test_a_result_given_after_all_settles_what_was_asked() -> None:
    driver = case()
    driver.at(60).do("stage.open", stage="lacerate", cusp="left", reason="test")
    driver.do("stage.open", reason="test")
    driver.do("attempt.close", stage="lacerate", cusp="left", outcome="none")
    assert not [
        i for i in signout_items(driver.case, driver.stamp()) if i.id.startswith(("tries:", "attempt:"))
    ]
    assert modified(sealed(driver)) == "no"


@pytest.mark.parametrize("entered", [True, False])
def test_a_leaflet_that_was_abandoned_or_never_come_to_is_not_modified(entered: bool) -> None:
    driver = case()
    if entered:
        driver.at(60).do("stage.open", stage="lacerate", cusp="left", reason="test")
        driver.do("cusp.abandon", cusp="left", reason="anatomy")
    assert not [i for i in signout_items(driver.case, driver.stamp()) if i.id.startswith("tries:")]
    assert modified(sealed(driver)) == "no"


@pytest.mark.parametrize(
    "cards", [("second_valve", "surgery"), ("tamponade", "surgery"), ("coronary", "bypass")]
)
def test_a_rescue_that_ended_in_surgery_is_a_conversion_and_no_second_valve(cards: tuple[str, str]) -> None:
    driver = signed_out(case())
    bailout, outcome = cards
    driver.do("bailout.open", bailout=bailout)
    driver.do("bailout.close", bailout=bailout, outcome=outcome)
    answers = found(sealed(driver))
    assert answers["conversion_to_surgery", None].answer == "yes"
    assert answers["second_valve", None].answer == "no"


def test_surgery_is_an_intervention_whatever_the_rescue_was_for() -> None:
    driver = signed_out(case("mechanical_splitter"))
    driver.do("bailout.open", bailout="stuck")
    driver.do("bailout.close", bailout="stuck", outcome="surgery")
    assert success(sealed(driver)).answer == "no"


def test_a_rescue_without_its_outcome_may_have_ended_in_surgery() -> None:
    driver = signed_out(case())
    driver.do("bailout.open", bailout="tamponade")
    answers = found(sealed(driver))
    assert answers["conversion_to_surgery", None].answer == "pending"
    assert answers["second_valve", None].answer == "no"


def test_a_second_valve_that_is_in_place_is_one() -> None:
    driver = signed_out(case())
    driver.do("bailout.open", bailout="second_valve")
    driver.do("bailout.close", bailout="second_valve", outcome="in_place")
    answers = found(sealed(driver))
    assert answers["second_valve", None].answer == "yes"
    assert answers["conversion_to_surgery", None].answer == "no"


def test_a_rescue_of_the_other_ostium_says_nothing_of_this_one() -> None:
    driver = case()
    rescue(driver, "left", "no")
    answers = found(sealed(looked(driver)))
    assert (answers["rescue_stent", "left"].answer, answers["rescue_stent", "right"].answer) == ("yes", "no")
