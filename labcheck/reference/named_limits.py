"""Limits that a checklist may name instead of typing a number.

A tally in a checklist names a limit, such as `contrast.cigarroa`; `resolve` turns the name and the patient's
figures into a `Limit` with unit and source, or into one line that says why it cannot. To add a limit, add one
entry to `_ALL`.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from types import MappingProxyType
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

from labcheck.reference import anticoagulation, contrast, pacing, radiation, renal
from labcheck.reference.figures import Figure, Limit, Reason
from labcheck.reference.sources import Mark, Source

# Not-a-number is let in here and answered by a reason at the calculation, so that no plan can raise.
Given = Annotated[Decimal | None, Field(default=None, allow_inf_nan=True)]


class PatientFigures(BaseModel):
    """What limits are computed from. Everything may be missing; ranges are judged where a figure is used."""

    model_config = ConfigDict(strict=True, frozen=True, extra="forbid")

    weight_kg: Given = None
    height_cm: Given = None
    age_years: Given = None
    sex: renal.Sex | None = None
    creatinine: Given = None
    creatinine_unit: renal.CreatinineUnit | None = None

    def clearance(self) -> Figure | Reason:
        """Cockcroft-Gault clearance in mL/min."""
        return renal.clearance(
            self.age_years, self.weight_kg, self.sex, self.creatinine, self.creatinine_unit
        )

    def filtration(self) -> Figure | Reason:
        """CKD-EPI 2021 filtration in mL/min/1.73 m2."""
        return renal.filtration(self.age_years, self.sex, self.creatinine, self.creatinine_unit)


@dataclass(frozen=True, slots=True)
class NamedLimit:
    """A limit by name: what it is, in which unit, where it is from, and how it is computed."""

    name: str
    meaning: str
    unit: str
    source: Source
    compute: Callable[[PatientFigures], Figure | Reason]
    repeat_every: Decimal | None = None


def resolve(name: str, figures: PatientFigures) -> Limit | Reason:
    """The limit called `name` for this patient, or why it cannot be given."""
    named = NAMED_LIMITS.get(name)
    if named is None:
        return Reason(f"no limit is called {name[:60]!r}")
    computed = named.compute(figures)
    if isinstance(computed, Reason):
        return Reason(f"{named.meaning}: {computed.text}")
    return Limit(name, computed.value, computed.unit, computed.source, named.repeat_every)


def _fixed(
    name: str, meaning: str, value: Decimal, unit: str, source: Source, repeat_every: Decimal | None = None
) -> NamedLimit:
    figure = Figure(value, unit, source)
    return NamedLimit(name, meaning, unit, source, lambda _: figure, repeat_every)


def _clearance_multiple(multiple: str, source: Source) -> NamedLimit:
    return NamedLimit(
        f"contrast.{multiple}_x_clearance",
        f"contrast, {multiple} x clearance",
        "mL",
        source,
        lambda figures: contrast.clearance_limit(Decimal(multiple), figures.clearance()),
    )


def _heparin_per_kg(per_kg: int) -> NamedLimit:
    source = Source(f"heparin {per_kg} IU/kg", Mark.COMMON_PRACTICE)

    def compute(figures: PatientFigures) -> Figure | Reason:
        weight = renal.WEIGHT.check(figures.weight_kg)
        return weight if isinstance(weight, Reason) else Figure(per_kg * weight, "IU", source)

    return NamedLimit(f"heparin.{per_kg}_per_kg", f"heparin, {per_kg} IU/kg", "IU", source, compute)


def _schedule(name: str, meaning: str, schedule: radiation.NoticeSchedule) -> tuple[NamedLimit, NamedLimit]:
    unit = schedule.unit
    return (
        _fixed(name, f"{meaning}, first notice", schedule.first, unit, schedule.source, schedule.every),
        _fixed(
            f"{name}.substantial",
            f"{meaning}, substantial dose level",
            schedule.substantial,
            unit,
            schedule.substantial_source,
        ),
    )


_ALL: tuple[NamedLimit, ...] = (
    NamedLimit(
        "contrast.cigarroa",
        "contrast, Cigarroa limit",
        "mL",
        contrast.CIGARROA_1989,
        lambda figures: contrast.cigarroa_limit(
            figures.weight_kg, figures.creatinine, figures.creatinine_unit
        ),
    ),
    _clearance_multiple("2.0", contrast.GURM_2011_TWO),
    _clearance_multiple("3.0", contrast.GURM_2011_THREE),
    _clearance_multiple("3.7", contrast.LASKEY_2007),
    *_schedule("radiation.air_kerma", "air kerma", radiation.AIR_KERMA_NOTICES),
    *_schedule("radiation.kap", "kerma-area product", radiation.KAP_NOTICES),
    *_schedule("radiation.fluoroscopy", "fluoroscopy", radiation.FLUOROSCOPY_NOTICES),
    *_schedule("radiation.peak_skin_dose", "peak skin dose", radiation.PEAK_SKIN_DOSE_NOTICES),
    _fixed("act.300", "ACT of 300 s", Decimal(300), "s", anticoagulation.ACT_CONSENSUS_2012),
    _fixed("act.250", "ACT of 250 s", Decimal(250), "s", anticoagulation.ACT_LABS_250),
    _fixed("act.200", "ACT of 200 s", Decimal(200), "s", anticoagulation.ACT_TRIAL_200),
    _fixed(
        "act.raised_baseline",
        "raised baseline ACT",
        anticoagulation.RAISED_BASELINE_ACT_S,
        "s",
        anticoagulation.BERNELLI_2014,
    ),
    _heparin_per_kg(50),
    _heparin_per_kg(100),
    _fixed("pacing.runs", "rapid pacing, third run", pacing.RUNS_NOTICE, "runs", pacing.FEFER_2018),
    _fixed("pacing.seconds", "rapid pacing, long in all", pacing.LONG_TOTAL_S, "s", pacing.MATSUO_2025),
)

NAMED_LIMITS: Mapping[str, NamedLimit] = MappingProxyType({limit.name: limit for limit in _ALL})
