"""What the plan's figures say before the case: kidney function, contrast limits, heparin per kilogram.

All of it is derived: computed when shown, kept nowhere. What cannot be computed says what is missing.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from labcheck.caselog.anatomy import anatomy_lines
from labcheck.caselog.citing import Told, cite
from labcheck.caselog.levels import named_limit, patient_figures, short
from labcheck.caselog.projecting import projection_lines
from labcheck.caselog.tallies import number_words
from labcheck.checklist.plan import Plan
from labcheck.reference.anticoagulation import BERNELLI_2014, RAISED_BASELINE_ACT_S, baseline_act_is_raised
from labcheck.reference.figures import Figure, Limit, Reason
from labcheck.reference.named_limits import NAMED_LIMITS

CONTRAST_LIMITS = tuple(name for name in NAMED_LIMITS if name.startswith("contrast."))
HEPARIN_RANGE = ("heparin.50_per_kg", "heparin.100_per_kg")


@dataclass(frozen=True, slots=True)
class PatientNumbers:
    """What follows from weight, age, sex and creatinine. Each is a figure, a limit, or the reason it is none."""

    filtration: Figure | Reason
    clearance: Figure | Reason
    contrast: tuple[tuple[str, Limit | Reason], ...]
    heparin: tuple[Limit | Reason, Limit | Reason]


def patient_numbers(plan: Plan) -> PatientNumbers:
    """Kidney function, contrast limits by name, and the heparin range of the plan."""
    given = patient_figures(plan)
    low, high = (named_limit(name, plan) for name in HEPARIN_RANGE)
    return PatientNumbers(
        given.filtration(),
        given.clearance(),
        tuple((name, named_limit(name, plan)) for name in CONTRAST_LIMITS),
        (low, high),
    )


def plan_lines(plan: Plan) -> tuple[Told, ...]:
    """Everything that follows from a plan, for the screen on which it is typed: anatomy, figures, projections."""
    return (*anatomy_lines(plan), *patient_lines(plan), *projection_lines(plan))


def patient_lines(plan: Plan) -> tuple[Told, ...]:
    """eGFR, clearance, contrast limits, heparin and baseline ACT, each with its source or with what is missing."""
    return tuple(_patient_lines(plan))


def _patient_lines(plan: Plan) -> Iterator[Told]:
    numbers = patient_numbers(plan)
    yield _figure_line("filtration", "eGFR", numbers.filtration)
    yield _figure_line("clearance", "creatinine clearance", numbers.clearance)
    for name, limit in numbers.contrast:
        yield _limit_line(name, limit)
    yield _heparin_line(numbers.heparin)
    if plan.baseline_act_s is not None:
        yield _baseline_line(plan.baseline_act_s)


def _figure_line(id_: str, title: str, found: Figure | Reason) -> Told:
    if isinstance(found, Reason):
        return Told(id_, f"{title} not known: {found.text}", missing=True)
    return Told(id_, f"{title} {found.text(0)} {cite(found.source)}", found.source.line())


def _limit_line(name: str, limit: Limit | Reason) -> Told:
    if isinstance(limit, Reason):
        meaning, _, wanting = limit.text.partition(": ")
        return Told(name, f"{meaning} not known: {wanting}", missing=True)
    words = (
        f"{NAMED_LIMITS[name].meaning}: {number_words(short(limit.value))} {limit.unit} {cite(limit.source)}"
    )
    return Told(name, words, limit.source.line())


def _heparin_line(found: tuple[Limit | Reason, Limit | Reason]) -> Told:
    low, high = found
    if isinstance(low, Reason):
        return Told(
            "heparin", f"heparin, 50 to 100 IU/kg not known: {low.text.partition(': ')[2]}", missing=True
        )
    if isinstance(high, Reason):
        return Told(
            "heparin", f"heparin, 50 to 100 IU/kg not known: {high.text.partition(': ')[2]}", missing=True
        )
    words = f"heparin, 50 to 100 IU/kg: {low.value:.0f} to {high.value:.0f} IU"
    return Told("heparin", f"{words} ({low.source.mark.value}: verify locally)", low.source.line())


def _baseline_line(act_s: Decimal) -> Told:
    raised = baseline_act_is_raised(act_s)
    if isinstance(raised, Reason):
        return Told("baseline_act", f"baseline ACT: {raised.text}", missing=True)
    standing = "at or above" if raised else "below"
    words = (
        f"baseline ACT {number_words(act_s)} s, {standing} {RAISED_BASELINE_ACT_S} s {cite(BERNELLI_2014)}"
    )
    return Told("baseline_act", words, BERNELLI_2014.line(), notice=raised)
