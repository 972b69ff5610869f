"""What a plan comes to: anatomy per coronary, kidney function, limits, and what is missing said in words."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings

from labcheck.caselog.citing import Told, cite
from labcheck.caselog.clinical import plan_lines
from labcheck.checklist.plan import Plan
from labcheck.reference.sources import Mark, Source
from tests.caselog.planned import coronary, odd_plans, plan

PATIENT = {"weight_kg": Decimal(60), "age_years": 80, "sex": "female", "creatinine": Decimal("1.2"),
           "creatinine_unit": "mg/dL"}  # fmt: skip


def told(given_plan: Plan) -> dict[str, Told]:
    return {line.id: line for line in plan_lines(given_plan)}


def words(given_plan: Plan, id_: str) -> str:
    return told(given_plan)[id_].words


# Tang, EuroIntervention 2020: the types and their boundaries, from memory.
TYPES = [
    ({"cusp_height_mm": "8", "height_mm": "10"}, "I", False),
    ({"cusp_height_mm": "13", "height_mm": "10", "stj_height_mm": "20", "vtc_mm": "5.0"}, "IIA", False),
    ({"cusp_height_mm": "13", "height_mm": "10", "stj_height_mm": "20", "vtc_mm": "3.5"}, "IIB", True),
    (
        {"cusp_height_mm": "22", "height_mm": "10", "stj_height_mm": "20", "vtc_mm": "5", "vtstj_mm": "3"},
        "IIIA",
        False,
    ),
    (
        {"cusp_height_mm": "22", "height_mm": "10", "stj_height_mm": "20", "vtc_mm": "3", "vtstj_mm": "3"},
        "IIIB",
        True,
    ),
    (
        {"cusp_height_mm": "22", "height_mm": "10", "stj_height_mm": "20", "vtc_mm": "5", "vtstj_mm": "1.5"},
        "IIIC",
        True,
    ),
]


@pytest.mark.parametrize(("measures", "type_", "high"), TYPES)
def test_a_coronary_is_told_by_its_type_with_the_source_and_how_well_it_is_known(
    measures: dict[str, str], type_: str, high: bool
) -> None:
    line = told(plan(coronaries=(coronary(**measures),)))["anatomy:left"]
    risk = "high risk" if high else "not of the high-risk types"
    cited = "(Tang, EuroIntervention 2020, from memory: verify locally)"
    assert line.words == f"left coronary: type {type_}, {risk} {cited}"
    assert line.notice is high


def test_each_coronary_is_judged_by_its_own_measurements() -> None:
    left = coronary(cusp_height_mm="13", height_mm="10", stj_height_mm="20", vtc_mm="3.5")
    right = coronary("right", cusp_height_mm="8", height_mm="12")
    both = plan("left", "right", coronaries=(right, left))
    assert "left coronary: type IIB" in words(both, "anatomy:left")
    assert "right coronary: type I," in words(both, "anatomy:right")


@pytest.mark.parametrize(
    ("measures", "missing"),
    [
        ({}, "cusp height is not recorded"),
        ({"cusp_height_mm": "13"}, "coronary height is not recorded"),
        ({"cusp_height_mm": "13", "height_mm": "10"}, "sinotubular junction height is not recorded"),
        (
            {"cusp_height_mm": "13", "height_mm": "10", "stj_height_mm": "20"},
            "valve-to-coronary distance is not recorded",
        ),
    ],
)
def test_a_type_that_cannot_be_told_says_which_measurement_is_missing(
    measures: dict[str, str], missing: str
) -> None:
    line = told(plan(coronaries=(coronary(**measures),)))["anatomy:left"]
    assert line.words == f"left coronary: type not known: {missing}"
    assert line.missing


def test_a_target_without_any_measurement_says_so_and_other_coronaries_do_not() -> None:
    lines = told(plan("right"))
    assert lines["anatomy:right"].words == "right coronary: no CT measurements recorded"
    assert "anatomy:left" not in lines


def test_a_boundary_sign_of_the_plan_changes_the_type_and_is_said() -> None:
    exactly = coronary(cusp_height_mm="13", height_mm="10", stj_height_mm="20", vtc_mm="4.0")
    assert "type IIB" in words(plan(coronaries=(exactly,)), "anatomy:left")
    wide = words(plan(coronaries=(exactly,), boundary_signs={"vtc_4_mm": "wide"}), "anatomy:left")
    assert "type IIA" in wide
    assert "boundary signs set in the plan" in wide


def test_the_signs_of_the_paper_said_aloud_are_not_called_a_change() -> None:
    exactly = coronary(cusp_height_mm="13", height_mm="10", stj_height_mm="20", vtc_mm="4.0")
    same = plan(coronaries=(exactly,), boundary_signs={"vtc_4_mm": "narrow"})
    assert "boundary signs" not in words(same, "anatomy:left")


# PMC9991077, JACC Cardiovasc Interv: cusp above coronary height and (VTC at most 4 mm or calcium above 600 mm3).
@pytest.mark.parametrize(
    ("vtc", "calcium", "found"),
    [("4.0", "0", "positive"), ("4.1", "601", "positive"), ("4.1", "600", "negative")],
)
def test_the_cusp_rule_is_told_for_a_native_valve(vtc: str, calcium: str, found: str) -> None:
    measured = coronary(cusp_height_mm="13", height_mm="10", vtc_mm=vtc, leaflet_calcium_mm3=calcium)
    line = told(plan(coronaries=(measured,)))["rule:left"]
    assert f"cusp rule {found}" in line.words
    assert "(PMC9991077, seen: verify locally)" in line.words
    assert line.notice is (found == "positive")


@pytest.mark.parametrize("substrate", ["surgical", "transcatheter"])
def test_the_cusp_rule_is_not_applied_to_a_valve_it_was_not_made_for(substrate: str) -> None:
    measured = coronary(cusp_height_mm="13", height_mm="10", vtc_mm="2", leaflet_calcium_mm3="900")
    line = told(plan(coronaries=(measured,), substrate=substrate))["rule:left"]
    assert f"not for a {substrate} one" in line.words
    assert not line.notice


def test_every_high_risk_feature_has_its_own_line_and_source() -> None:
    # Ribeiro, JACC Cardiovasc Interv 2013, from memory; review in Ann Cardiothorac Surg, seen.
    measured = coronary(height_mm="9", sinus_width_mm="28", vtc_mm="4", vtstj_mm="2.1")
    features = [
        line for line in plan_lines(plan(coronaries=(measured,))) if line.id.startswith("feature:left")
    ]
    assert [line.words.partition(" (")[0].removeprefix("left coronary: ") for line in features] == [
        "coronary height at most 10 mm",
        "coronary height below 12 mm with sinus below 30 mm",
        "valve-to-coronary distance at most 4 mm",
    ]
    assert "Ribeiro" in features[1].words


# CKD-EPI 2021, Inker, N Engl J Med 2021, and Cockcroft-Gault: values computed from the formulas; limits by
# Gurm 2011, Laskey 2007 (from memory) and Cigarroa 1989.
@pytest.mark.parametrize(
    ("id_", "said"),
    [
        ("clearance", "creatinine clearance 35 mL/min (Cockcroft, Nephron 1976"),
        ("contrast.2.0_x_clearance", "contrast, 2.0 x clearance: 70.8 mL (Gurm, J Am Coll Cardiol 2011"),
        ("contrast.3.0_x_clearance", "3.0 x clearance: 106.2 mL (Gurm"),
        ("contrast.3.7_x_clearance", "3.7 x clearance: 131 mL (Laskey"),
        ("contrast.cigarroa", "contrast, Cigarroa limit: 250 mL (Cigarroa, Am J Med 1989"),
        ("heparin", "heparin, 50 to 100 IU/kg: 3000 to 6000 IU (common practice, no source: verify locally)"),
    ],
)
def test_the_figures_of_a_patient_are_told_with_their_sources(id_: str, said: str) -> None:
    line = told(plan(**PATIENT))[id_]
    assert said in line.words
    assert "verify locally" in line.words
    assert line.source.endswith("verify locally")


def test_filtration_and_clearance_are_two_lines_in_two_units() -> None:
    # CKD-EPI 2021 at 1.2 mg/dL, 55 years, male: 71 (public calculator, quoted second-hand).
    lines = told(plan(**{**PATIENT, "creatinine": Decimal("1.2"), "age_years": 55, "sex": "male"}))
    assert lines["filtration"].words.startswith("eGFR 71 mL/min/1.73 m2 (Inker, N Engl J Med 2021")
    assert "mL/min (Cockcroft" in lines["clearance"].words


@pytest.mark.parametrize("left_out", ["weight_kg", "age_years", "sex"])
def test_what_a_formula_lacks_is_named_and_no_number_is_given(left_out: str) -> None:
    given_ = {name: value for name, value in PATIENT.items() if name != left_out}
    line = told(plan(**given_))["contrast.2.0_x_clearance"]
    assert line.missing
    assert line.words.startswith("contrast, 2.0 x clearance not known: ")
    assert left_out.partition("_")[0] in line.words
    assert not any(c.isdigit() for c in line.words.partition("not known")[2])


@pytest.mark.parametrize(("value", "unit"), [("106", "mg/dL"), ("1.2", "umol/L")])
def test_creatinine_in_the_other_unit_gives_a_reason_and_never_a_figure(value: str, unit: str) -> None:
    lines = told(plan(**{**PATIENT, "creatinine": Decimal(value), "creatinine_unit": unit}))
    for id_ in ("filtration", "clearance", "contrast.cigarroa", "contrast.3.7_x_clearance"):
        assert lines[id_].missing
        assert "check the number and its unit" in lines[id_].words


@pytest.mark.parametrize(("seconds", "standing"), [("174", "below 175"), ("175", "at or above 175")])
def test_a_baseline_act_is_held_against_the_published_cohort(seconds: str, standing: str) -> None:
    # Bernelli, JACC Cardiovasc Interv 2014.
    line = told(plan(baseline_act_s=Decimal(seconds)))["baseline_act"]
    assert standing in line.words
    assert "Bernelli" in line.words


def test_nothing_computed_is_stored_in_the_plan() -> None:
    with_all = plan(**PATIENT, coronaries=(coronary(height_mm="9", vtc_mm="3"),))
    kept = with_all.model_dump(mode="json")
    plan_lines(with_all)
    assert with_all.model_dump(mode="json") == kept
    assert not [name for name in kept if any(w in name for w in ("clearance", "type", "limit", "filtration"))]


@settings(max_examples=150, deadline=None)
@given(odd_plans())
def test_no_plan_however_odd_makes_an_exception_or_a_number_without_a_source(odd: Plan) -> None:
    lines = plan_lines(odd)
    assert len({line.id for line in lines}) == len(lines)
    for line in lines:
        assert "\n" not in line.words
        assert line.words == line.words.strip()
        assert "nan" not in line.words.lower().split()
        assert "inf" not in line.words.lower().split()
        assert line.missing or line.source.endswith("verify locally") or line.id.endswith("labels")


@settings(max_examples=100, deadline=None)
@given(odd_plans())
def test_a_clearance_is_only_ever_given_where_creatinine_is_plausible_in_its_unit(odd: Plan) -> None:
    lines = told(odd)
    if lines["clearance"].missing:
        return
    assert odd.creatinine is not None
    plausible: dict[Any, tuple[str, str]] = {"mg/dL": ("0.2", "17.9"), "umol/L": ("18", "1600")}
    low, high = plausible[odd.creatinine_unit]
    assert Decimal(low) <= odd.creatinine <= Decimal(high)


@pytest.mark.parametrize(
    ("text", "short"),
    [
        ("Author, Some Journal 2019: found a thing", "Author, Some Journal 2019"),
        ("Author, Some Journal 2019, and more words", "Author, Some Journal 2019"),
        ("no year here, but words", "no year here"),
    ],
)
def test_a_citation_is_cut_to_author_journal_and_year(text: str, short: str) -> None:
    assert cite(Source(text, Mark.SEEN)) == f"({short}, seen: verify locally)"
