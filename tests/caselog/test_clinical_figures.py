"""Figures that a formula adds to the tallies, in the shipped electrosurgical checklist."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labcheck.caselog.clinical_figures import contrast_lines
from labcheck.caselog.coronaries import flow_checks, late_watch_lines
from labcheck.caselog.deciding import Decided
from labcheck.caselog.figures import Figure, figures
from labcheck.caselog.intents import Claim
from labcheck.caselog.units import in_own_unit
from tests.caselog.driving import Driver
from tests.caselog.shipped import shipped

PATIENT = {"weight_kg": Decimal(60), "age_years": 80, "sex": "female", "creatinine": Decimal("1.2"),
           "creatinine_unit": "mg/dL"}  # fmt: skip


def case(*targets: str, **plan: Any) -> Driver:
    driver = Driver(*(targets or ("left",)), checklist=shipped("electrosurgical"), **plan)
    return driver.at(0)


def shown(driver: Driver) -> dict[str, Figure]:
    return {figure.id: figure for figure in figures(driver.case, driver.stamp())}


def dose(driver: Driver, drug: str, amount: str | None) -> None:
    driver.do("dose.give", drug=drug, amount=None if amount is None else Decimal(amount), accept=True)


# Al-Kassou, Clin Cardiol 2023: full 0.9 to 1.0, partial 0.4 to 0.6 mg per 100 IU.
@pytest.mark.parametrize(
    ("protamine", "said"),
    [
        ("80", "1.00 mg per 100 IU heparin, the full dose"),
        ("40", "0.50 mg per 100 IU heparin, the partial dose"),
        ("60", "0.75 mg per 100 IU heparin, neither"),
    ],
)
def test_protamine_is_told_against_all_heparin_given(protamine: str, said: str) -> None:
    driver = case()
    dose(driver, "heparin", "5000")
    dose(driver, "heparin", "3000")
    driver.at(95)
    dose(driver, "protamine", protamine)
    figure = shown(driver)["ratio:protamine"]
    assert said in figure.words
    assert figure.words.endswith("last heparin 1 h 35 min ago")
    assert figure.source.startswith("Al-Kassou")


def test_there_is_no_ratio_before_protamine_is_given() -> None:
    driver = case()
    dose(driver, "heparin", "8000")
    assert "ratio:protamine" not in shown(driver)


@pytest.mark.parametrize(
    ("heparin", "protamine", "said"),
    [
        (None, "40", "heparin without amount"),
        ("8000", None, "protamine without amount"),
        ("", "40", "no heparin is recorded"),
    ],
)
def test_a_ratio_that_is_not_known_says_why(heparin: str | None, protamine: str | None, said: str) -> None:
    driver = case()
    if heparin != "":
        dose(driver, "heparin", heparin)
    dose(driver, "protamine", protamine)
    words = shown(driver)["ratio:protamine"].words
    assert words.startswith("protamine ratio not known: ")
    assert said in words


# Consortium grades 15, 30, 45, 60 degrees, from memory.
@pytest.mark.parametrize(
    ("degrees", "grade", "level"),
    [
        ("15", "aligned", "plain"),
        ("15.1", "mild misalignment", "plain"),
        ("45", "moderate misalignment", "plain"),
        ("45.1", "severe misalignment", "notice"),
    ],
)
def test_the_commissures_are_graded(degrees: str, grade: str, level: str) -> None:
    driver = case()
    driver.do("reading.take", reading="commissure", value=Decimal(degrees))
    figure = shown(driver)["alignment"]
    assert figure.words == f"commissures {degrees} deg off: {grade}"
    assert figure.level == level
    assert figure.source.endswith("verify locally")


def test_bursts_of_two_target_cusps_are_told_apart_from_the_first_one_on() -> None:
    driver = case("left", "right")
    driver.do("stage.open", stage="traverse", cusp="left", reason="order")
    driver.do("energy.on")
    driver.do("energy.off")
    assert shown(driver)["tally:energy_bursts"].words.startswith("Energy bursts 1 (left 1)")


def test_pacing_is_counted_in_runs_and_seconds() -> None:
    driver = case()
    for start in (1, 2, 3):
        driver.at(start).do("run.start", run="pacing", rate=Decimal(180))
        driver.at(start + 0.1).do("run.stop", run="pacing")
    found = shown(driver)
    assert found["tally:pacing_runs"].level == "notice"  # Fefer, J Am Heart Assoc 2018: third run
    assert "18.0 s" in found["tally:pacing_seconds"].words  # Matsuo, CJC Open 2025: 18 s or more
    assert found["tally:pacing_seconds"].level == "notice"


def contrast(driver: Driver) -> dict[str, str]:
    return {line.id: line.words for line in contrast_lines(driver.case, driver.stamp().moment())}


def test_contrast_is_told_against_each_limit_reached_or_not() -> None:
    # Clearance 35.42 mL/min: limits 70.8, 106.2 and 131.0 mL (Gurm 2011, Laskey 2007); Cigarroa 1989: 250 mL.
    driver = case(**PATIENT)
    driver.do("reading.take", reading="contrast", value=Decimal(107))
    said = contrast(driver)
    assert said["contrast.ratio"].startswith("contrast 107 mL is 3.02 x clearance")
    assert "107 of 70.8 mL, reached (Gurm" in said["contrast.2.0_x_clearance"]
    assert "107 of 106.2 mL, reached (Gurm" in said["contrast.3.0_x_clearance"]
    assert "107 of 131 mL, not reached (Laskey" in said["contrast.3.7_x_clearance"]
    assert "107 of 250 mL, not reached (Cigarroa" in said["contrast.cigarroa"]


def test_a_limit_that_cannot_be_computed_says_what_is_missing() -> None:
    driver = case()
    driver.do("reading.take", reading="contrast", value=Decimal(107))
    said = contrast(driver)
    assert "contrast.ratio" not in said
    assert said["contrast.cigarroa"] == "contrast, Cigarroa limit not known: weight is not recorded"


# --- coronary flow ----------------------------------------------------------------------------------------


def flow(driver: Driver, ostium: str, choice: str, **more: Any) -> None:
    driver.do("reading.take", reading="flow", ostium=ostium, choice=choice, **more)


def test_each_ostium_is_looked_at_again_and_again_and_the_last_look_stands() -> None:
    driver = case()
    flow(driver, "left", "normal", judged_by="angiography", judge="operator")
    driver.at(12)
    flow(driver, "left", "partial", judged_by="echo", judge="echo")
    driver.at(15)
    left = shown(driver)["flow:left"]
    assert left.words == "left coronary partial, echo, echo, 3 min ago, check 2"
    assert left.level == "notice"
    assert "flow:right" not in shown(driver)


def test_a_check_entered_late_is_not_the_last_look() -> None:
    driver = case()
    driver.at(20)
    flow(driver, "left", "normal", judged_by="angiography")
    flow(driver, "left", "partial", judged_by="echo", claim=Claim(ago_us=15 * 60_000_000))
    (left,) = flow_checks(driver.case)
    assert (left.last.what.choice, left.checks) == ("normal", 2)


def test_who_judged_is_a_role_of_the_checklist_and_nothing_else() -> None:
    driver = case()
    answer = driver.refused("reading.take", reading="flow", ostium="left", choice="normal", judge="somebody")
    assert "'somebody' is no role here" in answer.reason
    assert "operator" in answer.reason


def test_what_a_look_was_judged_by_is_said_to_be_unknown_where_nobody_said_it() -> None:
    driver = case()
    flow(driver, "left", "normal")
    assert "judged by: not said" in shown(driver)["flow:left"].words


def test_the_late_watch_is_handed_over_at_sign_out_and_not_before() -> None:
    driver = case()
    flow(driver, "left", "normal", judged_by="angiography", judge="operator")
    assert not [id_ for id_ in shown(driver) if id_.startswith("late_watch")]
    driver.do("stage.open", stage="signout", reason="order")
    found = shown(driver)
    assert "left coronary normal, angiography, operator at " in found["late_watch:left"].words
    assert found["late_watch:right"].words == "hand over: right coronary was not looked at"
    # Jabbour, J Am Coll Cardiol 2018: 38 obstructions, 18 to 24 h, 6 to 7 d, 14 from 60 d on.
    windows = found["late_watch:windows"]
    assert "18 at most 24 h, 6 24 h to 7 d, 14 60 d or later" in windows.words
    assert windows.source.startswith("Jabbour")
    assert "late_watch:wire" not in found


def test_a_planned_wire_adds_when_wire_only_occlusions_came() -> None:
    # Palmerini, JACC Cardiovasc Interv 2020: 5 min to 6 h after the wire came out.
    said = {line.id: line.words for line in late_watch_lines(case(protection_planned=("left",)).case)}
    assert "5 min to 6 h" in said["late_watch:wire"]


# --- odd readings -----------------------------------------------------------------------------------------

READINGS = ("act", "contrast", "fluoroscopy", "air_kerma", "kap", "commissure", "gradient", "flow", "nothing")
UNITS = st.sampled_from(
    [None, "mGy", "Gy", "MGy", "uGy·m2", "Gy·cm2", "min", "s", "mL", "deg", "%", "m·Gy", ""]
)


@settings(max_examples=120, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.sampled_from(READINGS),
            st.decimals(allow_nan=False, allow_infinity=False, min_value=-(10**6), max_value=10**9, places=4),
            UNITS,
            st.booleans(),
            st.booleans(),
        ),
        max_size=6,
    )
)
def test_no_reading_however_odd_makes_an_exception_or_a_silent_wrong_unit(taken: list[Any]) -> None:
    driver = case(**PATIENT)
    for reading, value, unit, accept, reset in taken:
        fields = {"reading": reading, "value": value, "accept": accept, "reset": reset}
        result = driver.press("reading.take", **fields, **({"unit": unit} if unit else {}))
        if isinstance(result, Decided):
            kept = next(r for r in reversed(driver.case.readings))
            own = next(r for r in driver.checklist.reading if r.id == reading)
            assert kept.what.value == value
            assert kept.what.unit == (unit or own.unit)
            assert in_own_unit(own, value, kept.what.unit) is not None, "it stands beside a number in its own unit"
        for figure in (
            *figures(driver.case, driver.stamp()),
            *contrast_lines(driver.case, driver.stamp().moment()),
        ):
            assert "\n" not in figure.words
            assert "nan" not in figure.words.lower().split()


def test_what_the_present_stage_hands_over_stands_before_the_tallies() -> None:
    driver = case()
    driver.do("reading.take", reading="contrast", value=Decimal(50))
    driver.do("stage.open", stage="signout", reason="order")
    ids = list(shown(driver))
    assert ids.index("late_watch:left") < ids.index("tally:contrast")
