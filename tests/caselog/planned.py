"""Plans for tests of what a plan comes to, and strategies for odd ones."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from hypothesis import strategies as st
from pydantic import ValidationError

from labcheck.checklist.plan import Plan


def plan(*targets: str, **given: Any) -> Plan:
    """A plan for a native valve with what is given."""
    known = {"technique": "electrosurgical", "substrate": "native", "targets": targets or ("left",)}
    return Plan.model_validate({**known, **given})


def coronary(ostium: str = "left", **measures: str) -> dict[str, Any]:
    """CT measurements of one coronary, given as text."""
    return {"ostium": ostium, **{name: Decimal(value) for name, value in measures.items()}}


def hinge(cusp: str, x: str, y: str, z: str) -> dict[str, Any]:
    """A hinge point, LPS in mm, given as text."""
    return {"cusp": cusp, "x_mm": Decimal(x), "y_mm": Decimal(y), "z_mm": Decimal(z)}


LEVEL = (
    hinge("left", "10", "6", "0"),
    hinge("right", "0", "-12", "0"),
    hinge("noncoronary", "-10", "6", "0"),
)
"""Hinge points of an annulus that lies level: every beam square to the long axis is perpendicular to it."""

ANY_NUMBER = st.one_of(
    st.none(),
    st.decimals(allow_nan=False, allow_infinity=False, places=3, min_value=-6000, max_value=6000),
    st.decimals(allow_nan=True, allow_infinity=True),
    st.integers(min_value=-(10**15), max_value=10**15).map(Decimal),
)
_MEASURES = ("height_mm", "sinus_width_mm", "cusp_height_mm", "stj_height_mm", "vtc_mm", "vtstj_mm",
             "leaflet_calcium_mm3")  # fmt: skip
_ANGLES = st.fixed_dictionaries({"rao_lao_deg": ANY_NUMBER, "cau_cra_deg": ANY_NUMBER})


@st.composite
def odd_plans(draw: st.DrawFn) -> Plan:
    """A plan as odd as its model lets one be. What the model refuses one by one is left out."""
    given: dict[str, Any] = {
        "technique": "electrosurgical",
        "substrate": draw(st.sampled_from(["native", "surgical", "transcatheter"])),
        "targets": tuple(draw(st.lists(_CUSPS, min_size=1, max_size=3, unique=True))),
    }
    parts: dict[str, st.SearchStrategy[Any]] = {
        "weight_kg": ANY_NUMBER,
        "age_years": st.one_of(st.none(), st.integers(-5, 200)),
        "sex": st.sampled_from([None, "female", "male"]),
        "baseline_act_s": ANY_NUMBER,
        "coronaries": st.lists(_coronaries(), max_size=2).map(tuple),
        "hinges": st.lists(_hinges(), max_size=3).map(tuple),
        "perpendicular": st.lists(_ANGLES, max_size=2).map(tuple),
        "projections": st.lists(_views(), max_size=3).map(tuple),
        "boundary_signs": st.sampled_from([None, {"vtc_4_mm": "wide", "level_leaflet": "above"}]),
        "protection_planned": st.sampled_from([(), ("left",), ("left", "right")]),
    }
    for name, values in parts.items():
        given = _kept(given, {name: draw(values)})
    unit = draw(st.sampled_from(["mg/dL", "umol/L"]))
    return Plan.model_validate(_kept(given, {"creatinine": draw(ANY_NUMBER), "creatinine_unit": unit}))


_CUSPS = st.sampled_from(["left", "right", "noncoronary", "fused", "anterior_mitral"])


def _coronaries() -> st.SearchStrategy[dict[str, Any]]:
    measures = dict.fromkeys(_MEASURES, ANY_NUMBER)
    return st.fixed_dictionaries({"ostium": st.sampled_from(["left", "right"]), **measures})


def _hinges() -> st.SearchStrategy[dict[str, Any]]:
    near = st.decimals(min_value=-40, max_value=40, places=1)
    cusp = st.sampled_from(["left", "right", "noncoronary"])
    place = st.one_of(near, ANY_NUMBER)
    return st.fixed_dictionaries({"cusp": cusp, "x_mm": place, "y_mm": place, "z_mm": place})


def _views() -> st.SearchStrategy[dict[str, Any]]:
    view = st.sampled_from(["front", "side"])
    return st.fixed_dictionaries(
        {"cusp": _CUSPS, "view": view, "rao_lao_deg": ANY_NUMBER, "cau_cra_deg": ANY_NUMBER}
    )


def _kept(given: dict[str, Any], more: dict[str, Any]) -> dict[str, Any]:
    whole = {**given, **more}
    try:
        Plan.model_validate(whole)
    except ValidationError:
        return given
    return whole
