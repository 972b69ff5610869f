"""The plan as a form: fields, what they may hold, and the plan they come to. No widget, no file.

There is no field for a name, a patient number or a date of birth, on purpose.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import permutations
from typing import Any, Literal

from pydantic import ValidationError

from labcheck.checklist.model import Checklist
from labcheck.checklist.plan import BoundarySigns, Coronary, Plan
from labcheck.checklist.words import CUSP_WORDS, Cusp
from labcheck.console import plan_views
from labcheck.console.plan_views import number

FieldKind = Literal["choice", "text", "number", "whole"]
VALVES = (
    "not decided", "balloon-expandable valve", "self-expanding supra-annular valve",
    "self-expanding intra-annular valve", "mechanically expandable valve",
)  # fmt: skip
ACCESS = (
    "not decided", "right femoral", "left femoral", "transapical", "subclavian", "carotid", "transcaval", "transseptal",
)  # fmt: skip
CT = "CT measurements (optional)"
OSTIA = ("left", "right")
MEASURES = (
    ("height_mm", "coronary height"), ("sinus_width_mm", "sinus width"), ("cusp_height_mm", "cusp height"),
    ("stj_height_mm", "sinotubular junction height"), ("vtc_mm", "valve to coronary"),
    ("vtstj_mm", "valve to sinotubular junction"), ("leaflet_calcium_mm3", "leaflet calcium"),
)  # fmt: skip
MAY_BE_NEGATIVE = ("vtc_mm", "vtstj_mm")
"""A simulated valve can reach past the wall."""
SIGNS = (
    ("vtc_4_mm", "valve to coronary of exactly 4 mm", ("narrow", "wide")),
    ("vtstj_2_mm", "valve to junction of exactly 2 mm", ("narrow", "wide")),
    ("level_leaflet", "leaflet top level with the ostium", ("below", "above")),
)
"""Boundary signs of the type; the first option is that of the paper."""


@dataclass(frozen=True, slots=True)
class Field:
    """One line of the form. ``options`` are (value, words); ``group`` is the heading it stands under."""

    id: str
    label: str
    kind: FieldKind
    group: str
    options: tuple[tuple[str, str], ...] = ()
    unit: str = ""


def fields(checklist: Checklist, values: Mapping[str, str]) -> tuple[Field, ...]:
    """The fields for this checklist; some depend on what is filled in already."""
    found = [*_case_fields(checklist, values), *_patient_fields(), *_anatomy_fields()]
    for id_, label, unit in plan_views.asked(targets(values.get("targets", ""))):
        found.append(Field(id_, label, "text", plan_views.HEADING, unit=unit))
    return tuple(found)


def _case_fields(checklist: Checklist, values: Mapping[str, str]) -> list[Field]:
    group = "Case"
    orders = [
        (",".join(order), ", then ".join(CUSP_WORDS[c] for c in order))
        for count in range(1, checklist.max_cusps + 1)
        for order in permutations(checklist.cusps, count)
    ]
    found = [
        Field("substrate", "valve to be modified", "choice", group,
              tuple((s, f"{s} valve") for s in checklist.substrates)),
        Field("targets", "cusps, in order", "choice", group, tuple(orders)),
        Field("study_number", "study number, if any", "text", group),
        Field("recorder", "recorder's tag", "text", group),
    ]  # fmt: skip
    if values.get("substrate") == "surgical":
        mountings = (("", "not known"), ("inside", "inside"), ("outside", "outside"), ("stentless", "stentless"))
        found.append(Field("mounting", "leaflets mounted", "choice", group, mountings))
    found += [
        Field("valve_class", "valve planned", "choice", group, _or_not(VALVES)),
        Field("access", "access", "choice", group, _or_not(ACCESS)),
        Field("protection_planned", "coronary protection planned", "choice", group,
              (("", "none"), ("left", "left"), ("right", "right"), ("left,right", "both"))),
    ]  # fmt: skip
    return found


def _or_not(words: tuple[str, ...]) -> tuple[tuple[str, str], ...]:
    """Options of which the first stands for nothing said."""
    return tuple(("" if n == 0 else word, word) for n, word in enumerate(words))


def _patient_fields() -> list[Field]:
    group = "For the figures (optional)"
    return [
        Field("weight_kg", "weight", "number", group, unit="kg"),
        Field("height_cm", "height", "number", group, unit="cm"),
        Field("age_years", "age", "whole", group, unit="years"),
        Field("sex", "sex", "choice", group, (("", "not said"), ("female", "female"), ("male", "male"))),
        Field("creatinine", "creatinine", "number", group),
        Field("creatinine_unit", "creatinine unit", "choice", group,
              (("", "not said"), ("mg/dL", "mg/dL"), ("umol/L", "umol/L"))),
        Field("baseline_act_s", "baseline ACT", "number", group, unit="s"),
    ]  # fmt: skip


def _anatomy_fields() -> list[Field]:
    return [
        Field(f"ct.{ostium}.{measure}", f"{ostium} {words}", "number", CT, unit="mm3" if "mm3" in measure else "mm")
        for ostium in OSTIA
        for measure, words in MEASURES
    ] + [
        Field(f"signs.{sign}", f"{words} counts as", "choice", CT,
              (("", f"{options[0]}, as in the paper"), *((option, option) for option in options)))
        for sign, words, options in SIGNS
    ]  # fmt: skip


def targets(value: str) -> tuple[Cusp, ...]:
    """The cusps of the form's own value "right,left"."""
    return tuple(part for part in value.split(",") if part in CUSP_WORDS)  # type: ignore[misc]


def first_values(checklist: Checklist) -> dict[str, str]:
    """What a new form holds: the first choice of each field that has no empty one."""
    values = {"recorder": "N1"}
    for field in fields(checklist, values):
        if field.kind == "choice":
            values[field.id] = field.options[0][0]
    return values


def plan_from(checklist: Checklist, values: Mapping[str, str]) -> Plan | str:
    """The plan, or one line that says which field is wrong and why."""
    known = {field.id: field for field in fields(checklist, values)}
    given: dict[str, Any] = {"technique": checklist.technique, "targets": targets(values.get("targets", ""))}
    for name in ("substrate", "study_number", "mounting", "valve_class", "access", "sex", "creatinine_unit"):
        if values.get(name) and name in known:
            given[name] = values[name]
    tag = values.get("recorder", "").strip()
    if tag and recorder_of(values) != tag:
        return f'recorder\'s tag: 1 to 8 letters or digits (N2, or initials), never a name: not "{tag}"'
    given["protection_planned"] = tuple(p for p in values.get("protection_planned", "").split(",") if p)
    for name in ("weight_kg", "height_cm", "age_years", "creatinine", "baseline_act_s"):
        text = values.get(name, "").strip()
        if text:
            value = number(text)
            if value is None or (known[name].kind == "whole" and value != value.to_integral_value()):
                return f'{known[name].label}: "{text}" is not a number'
            given[name] = int(value) if known[name].kind == "whole" else value
    coronaries = _coronaries(values)
    views = plan_views.given(values, given["targets"])
    if isinstance(coronaries, str) or isinstance(views, str):
        return coronaries if isinstance(coronaries, str) else str(views)
    signs = {sign: values[f"signs.{sign}"] for sign, _, _ in SIGNS if values.get(f"signs.{sign}")}
    try:
        given["boundary_signs"] = BoundarySigns.model_validate(signs) if signs else None
        return Plan(**given, coronaries=coronaries, **views)
    except ValidationError as wrong:
        return _first(wrong, known)


def recorder_of(values: Mapping[str, str]) -> str:
    """The recorder's tag: letters and digits alone, "unknown" where none was given (asked at sign-out)."""
    tag = "".join(c for c in values.get("recorder", "") if c.isascii() and c.isalnum())[:8]
    return tag or "unknown"


def _coronaries(values: Mapping[str, str]) -> tuple[Coronary, ...] | str:
    found = []
    for ostium in OSTIA:
        given: dict[str, Any] = {}
        for measure, words in MEASURES:
            text = values.get(f"ct.{ostium}.{measure}", "").strip()
            if text:
                value = number(text)
                if value is None or (value < 0 and measure not in MAY_BE_NEGATIVE):
                    return f'{ostium} {words}: "{text}" is not a measurement'
                given[measure] = value
        if given:
            try:
                found.append(Coronary.model_validate({"ostium": ostium, **given}))
            except ValidationError as wrong:
                return f"{ostium} coronary: {wrong.errors()[0]['msg']}"
    return tuple(found)


def _first(wrong: ValidationError, known: Mapping[str, Field]) -> str:
    error = wrong.errors()[0]
    place = ".".join(str(part) for part in error["loc"])
    label = known[place].label if place in known else place or "plan"
    words = str(error["msg"]).removeprefix("Value error, ")
    if error["type"] == "string_pattern_mismatch" and place == "study_number":
        words = "letters, digits and hyphens, at most 16, and no patient number"
    return f"{label}: {words}"
