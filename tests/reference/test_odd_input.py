"""No input, however odd, makes an exception or a silent wrong unit."""

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from labcheck.reference import (
    alignment,
    anatomy,
    anticoagulation,
    contrast,
    delayed,
    endpoints,
    pacing,
    radiation,
    renal,
)
from labcheck.reference.bleeding import Bleed, varc2, varc3
from labcheck.reference.figures import Figure, Limit, Reason
from labcheck.reference.kidney_injury import aki_stage
from labcheck.reference.named_limits import NAMED_LIMITS, PatientFigures, resolve
from labcheck.reference.projections import (
    Annulus,
    Projection,
    Vector,
    annulus_from_hinges,
    annulus_from_projections,
    cusp_views,
    label_doubt,
    off_planned,
)

EXTREME = st.sampled_from(
    [Decimal(text) for text in ("NaN", "sNaN", "-Infinity", "Infinity", "1E+999999", "-1E+999999", "1E-999999",
                                "-0", "0", "1." + "0" * 400 + "1", "9" * 5000)]
)  # fmt: skip
DECIMALS = st.one_of(EXTREME, st.decimals(), st.decimals(min_value=0, max_value=2000, places=2))
ODD: st.SearchStrategy[Any] = st.one_of(
    st.none(), DECIMALS, st.integers(), st.just(10**6000), st.booleans(), st.floats(), st.text(max_size=8)
)
UNITS: st.SearchStrategy[Any] = st.one_of(
    st.none(),
    st.text(max_size=10),
    st.sampled_from([*radiation.KAP_IN_GY_CM2, *radiation.AIR_KERMA_IN_MGY, *radiation.FLUOROSCOPY_SECONDS]),
    st.sampled_from(["mg/dL", "umol/L", "MGY", "Gy cm²", "µGy·m²"]),
)
SEX: st.SearchStrategy[Any] = st.sampled_from(["female", "male", "", "F", None])

CALCULATIONS: dict[str, tuple[Callable[..., object], tuple[st.SearchStrategy[Any], ...]]] = {
    "filtration": (renal.filtration, (ODD, SEX, ODD, UNITS)),
    "clearance": (renal.clearance, (ODD, ODD, SEX, ODD, UNITS)),
    "creatinine": (renal.creatinine_umol_l, (ODD, UNITS)),
    "cigarroa": (contrast.cigarroa_limit, (ODD, ODD, UNITS)),
    "heparin": (anticoagulation.heparin_per_kg, (ODD, ODD)),
    "protamine": (anticoagulation.protamine_ratio, (ODD, ODD)),
    "act": (anticoagulation.act_standing, (ODD, ODD, ODD)),
    "baseline act": (anticoagulation.baseline_act_is_raised, (ODD,)),
    "kap": (radiation.kap_gy_cm2, (ODD, UNITS)),
    "air kerma": (radiation.air_kerma_mgy, (ODD, UNITS)),
    "fluoroscopy": (radiation.fluoroscopy_min, (ODD, UNITS)),
    "leaflet top": (anatomy.leaflet_top, (ODD, ODD, ODD)),
    "type": (anatomy.obstruction_type, (st.sampled_from(anatomy.LeafletTop), ODD, ODD)),
    "cusp rule": (anatomy.cusp_rule, (ODD, ODD, ODD, ODD)),
    "features": (anatomy.high_risk_features, (ODD, ODD, ODD, ODD)),
    "alignment": (alignment.grade, (ODD,)),
    "thirty": (alignment.aligned_to_thirty, (ODD,)),
    "overlap": (alignment.severe_overlap, (ODD,)),
    "delayed": (delayed.window, (ODD,)),
    "neuro": (endpoints.neuro_window, (ODD,)),
    "kidney injury": (aki_stage, (ODD, ODD, ODD, UNITS)),
}


@pytest.mark.parametrize("name", CALCULATIONS)
@settings(max_examples=60, deadline=None)
@given(data=st.data())
def test_odd_input_gives_an_answer_or_a_reason_of_one_line(name: str, data: st.DataObject) -> None:
    compute, inputs = CALCULATIONS[name]
    got = compute(*(data.draw(one) for one in inputs))
    if isinstance(got, Reason):
        assert got.text
        assert "\n" not in got.text
        assert len(got.text) < 260
    if isinstance(got, Figure):
        assert got.value.is_finite()


@settings(max_examples=100, deadline=None)
@given(ODD, ODD, ODD, ODD)
def test_odd_bleeds_and_pacing_runs_give_an_answer_or_a_reason(a: Any, b: Any, c: Any, d: Any) -> None:
    varc2(Bleed(units=a, haemoglobin_drop=b, overt=True))
    varc3(Bleed(units=a, haemoglobin_drop=b))
    found = pacing.tally([pacing.PacingRun(a, b), pacing.PacingRun(c, d)])
    assert isinstance(found, Reason) or (found.runs == 2 and found.total_s.is_finite())


@settings(max_examples=150, deadline=None)
@given(
    weight=st.none() | DECIMALS,
    height=st.none() | DECIMALS,
    age=st.none() | DECIMALS,
    sex=st.sampled_from([None, "female", "male"]),
    creatinine=st.none() | DECIMALS,
    unit=st.sampled_from([None, "mg/dL", "umol/L"]),
)
def test_every_named_limit_answers_any_plan_in_its_own_unit(
    weight: Any, height: Any, age: Any, sex: Any, creatinine: Any, unit: Any
) -> None:
    try:
        figures = PatientFigures(
            weight_kg=weight,
            height_cm=height,
            age_years=age,
            sex=sex,
            creatinine=creatinine,
            creatinine_unit=unit,
        )
    except ValidationError:
        # Only a signalling not-a-number is turned away at the door.
        assert any(isinstance(v, Decimal) and v.is_snan() for v in (weight, height, age, creatinine))
        return
    for name, named in NAMED_LIMITS.items():
        got = resolve(name, figures)
        if isinstance(got, Limit):
            assert got.unit == named.unit
            assert got.value.is_finite()
            assert got.value > 0
        else:
            assert got.text.startswith(named.meaning)


@given(st.text(max_size=80))
def test_an_unknown_limit_name_is_a_reason(name: str) -> None:
    assume(name not in NAMED_LIMITS)
    assert isinstance(resolve(name, PatientFigures()), Reason)


@given(st.decimals(min_value="0.01", max_value=2000, places=2))
@example(Decimal("17.9"))
@example(Decimal("18"))
def test_no_creatinine_is_accepted_in_both_units(value: Decimal) -> None:
    in_mg = renal.creatinine_mg_dl(value, "mg/dL")
    in_umol = renal.creatinine_mg_dl(value, "umol/L")
    assert isinstance(in_mg, Reason) or isinstance(in_umol, Reason)


@given(
    st.decimals(min_value=0, max_value=4000, places=3),
    st.sampled_from(list(radiation.KAP_IN_GY_CM2)),
    st.sampled_from(list(radiation.KAP_IN_GY_CM2)),
)
def test_one_product_entered_in_two_units_is_one_product(value: Decimal, one: str, other: str) -> None:
    first = radiation.kap_gy_cm2(value / radiation.KAP_IN_GY_CM2[one], one)
    second = radiation.kap_gy_cm2(value / radiation.KAP_IN_GY_CM2[other], other)
    assert isinstance(first, Figure)
    assert isinstance(second, Figure)
    assert first.value == second.value == value


@given(st.sampled_from([*radiation.KAP_IN_GY_CM2, *radiation.AIR_KERMA_IN_MGY]), st.data())
def test_a_unit_in_other_letters_is_refused_and_not_guessed(unit: str, data: st.DataObject) -> None:
    at = data.draw(st.integers(0, len(unit) - 1))
    other = unit[:at] + unit[at].swapcase() + unit[at + 1 :]
    assume(other != unit)
    assert isinstance(radiation.kap_gy_cm2(Decimal(1), other), Reason)
    assert isinstance(radiation.air_kerma_mgy(Decimal(1), other), Reason)


@pytest.mark.parametrize(
    ("shown", "unit"),
    [("Gy cm²", "Gy·cm2"), ("Gy.cm2", "Gy·cm2"), ("Gycm2", "Gy·cm2"), ("µGy·m²", "uGy·m2"), ("μGym²", "uGy·m2"),
     ("cGy*cm^2", "cGy·cm2"), ("dGy x cm2", "dGy·cm2"), ("mGy⋅cm²", "mGy·cm2")],
)  # fmt: skip
def test_the_spellings_that_consoles_show_are_read(shown: str, unit: str) -> None:
    assert radiation.unit_spelling(shown) == unit


NUMBERS = st.floats() | st.floats(-200, 200)


@settings(max_examples=150, deadline=None)
@given(st.lists(NUMBERS, min_size=9, max_size=9), st.lists(NUMBERS, min_size=4, max_size=4))
def test_odd_hinge_points_and_projections_give_an_answer_or_a_reason(
    points: list[float], angles: list[float]
) -> None:
    hinges: Any = {
        cusp: Vector(*points[3 * i : 3 * i + 3]) for i, cusp in enumerate(("left", "right", "non"))
    }
    used, planned = Projection(*angles[:2]), Projection(*angles[2:])
    off = off_planned(used, planned)
    assert isinstance(off, Reason) or 0 <= off <= 180
    label_doubt(hinges)
    for found in (annulus_from_hinges(hinges), annulus_from_projections(used, planned)):
        if isinstance(found, Annulus):
            assert found.normal.length() == pytest.approx(1)
            assert found.normal.z > 0
            tilted = found.off_perpendicular(used)
            assert isinstance(tilted, Reason) or 0 <= tilted <= 90
    views = cusp_views(hinges)
    if not isinstance(views, Reason):
        assert all(-90 <= p.lao_deg <= 90 for pair in views.values() for p in (pair.front, pair.side))
