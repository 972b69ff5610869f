"""The plan: what is known about a case before it starts. No field for a name, a number or a date of birth."""

from __future__ import annotations

import re
from typing import Annotated, Literal

from pydantic import AfterValidator, Field, model_validator

from labcheck.checklist.words import Cusp, Line, Number, Ostium, Sex, Strict, Substrate, Word


def _not_a_patient_number(value: str) -> str:
    if re.search(r"\d{8,}", value):
        raise ValueError("looks like a patient number or a date of birth; use a study number")
    return value


StudyNumber = Annotated[
    str, Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9-]{0,15}$"), AfterValidator(_not_a_patient_number)
]

Millimetres = Annotated[Number, Field(ge=-5000, le=5000)]
"""A coordinate; farther than any scanner's field."""


class Coronary(Strict):
    """CT measurements for one coronary ostium, all in millimetres but calcium (mm³)."""

    ostium: Ostium
    height_mm: Number | None = None
    sinus_width_mm: Number | None = None
    cusp_height_mm: Number | None = None
    stj_height_mm: Number | None = None
    vtc_mm: Number | None = None
    vtstj_mm: Number | None = None
    leaflet_calcium_mm3: Number | None = None
    eccentric: bool | None = None


class Projection(Strict):
    """A planned view: signed degrees, LAO and cranial positive."""

    cusp: Cusp
    view: Literal["front", "side"]
    rao_lao_deg: Annotated[Number, Field(ge=-90, le=90)]
    cau_cra_deg: Annotated[Number, Field(ge=-45, le=45)]


class Hinge(Strict):
    """The lowest point of one aortic cusp on CT, millimetres in LPS: to the patient's left, back and head."""

    cusp: Literal["left", "right", "noncoronary"]
    x_mm: Millimetres
    y_mm: Millimetres
    z_mm: Millimetres


class Perpendicular(Strict):
    """A projection that CT or the first root shots showed to be perpendicular to the annulus."""

    rao_lao_deg: Annotated[Number, Field(ge=-90, le=90)]
    cau_cra_deg: Annotated[Number, Field(ge=-45, le=45)]


class BoundarySigns(Strict):
    """On which side of its boundary a measurement exactly on it falls; papers differ, the site decides.

    The boundaries are those of the type classification: valve to coronary 4 mm, valve to sinotubular
    junction 2 mm, and the leaflet's top level with the ostium or the junction.
    """

    vtc_4_mm: Literal["narrow", "wide"] = "narrow"
    vtstj_2_mm: Literal["narrow", "wide"] = "narrow"
    level_leaflet: Literal["below", "above"] = "below"


class Plan(Strict):
    """What is known before the case. ``targets`` is the planned order of the cusps.

    ``hinges`` and ``perpendicular`` are two ways to tell where the annulus lies; views of a cusp need the
    hinges. What follows from the plan is computed when it is shown and never stored.
    """

    technique: Word
    substrate: Substrate
    targets: Annotated[tuple[Cusp, ...], Field(min_length=1, max_length=3)]
    study_number: StudyNumber | None = None
    mounting: Literal["inside", "outside", "stentless"] | None = None
    valve_class: Line | None = None
    access: Line | None = None
    protection_planned: tuple[Ostium, ...] = ()
    coronaries: tuple[Coronary, ...] = ()
    boundary_signs: BoundarySigns | None = None
    projections: tuple[Projection, ...] = ()
    hinges: Annotated[tuple[Hinge, ...], Field(max_length=3)] = ()
    perpendicular: Annotated[tuple[Perpendicular, ...], Field(max_length=2)] = ()
    weight_kg: Annotated[Number, Field(ge=20, le=350)] | None = None
    height_cm: Annotated[Number, Field(ge=100, le=250)] | None = None
    age_years: Annotated[int, Field(ge=18, le=115)] | None = None
    sex: Sex | None = None
    creatinine: Annotated[Number, Field(gt=0, le=3000)] | None = None
    creatinine_unit: Literal["mg/dL", "umol/L"] | None = None
    baseline_act_s: Annotated[Number, Field(ge=20, le=999)] | None = None
    roles: tuple[Line, ...] = ()

    @model_validator(mode="after")
    def _whole(self) -> Plan:
        if len(set(self.targets)) != len(self.targets):
            raise ValueError("targets names a cusp twice")
        if (self.creatinine is None) != (self.creatinine_unit is None):
            raise ValueError("creatinine needs its unit (mg/dL or umol/L), and the unit needs a value")
        ostia = [c.ostium for c in self.coronaries]
        if len(set(ostia)) != len(ostia):
            raise ValueError("coronaries describes an ostium twice")
        if len({hinge.cusp for hinge in self.hinges}) != len(self.hinges):
            raise ValueError("hinges names a cusp twice")
        return self
