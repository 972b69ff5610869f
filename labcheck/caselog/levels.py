"""The levels a tally is held against: numbers of the checklist, or limits named in ``labcheck.reference``."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache

from labcheck.caselog.case import Case
from labcheck.caselog.entry_words import joined
from labcheck.caselog.tallies import Total, number_words
from labcheck.checklist import finding
from labcheck.checklist.model import Notice
from labcheck.checklist.plan import Plan
from labcheck.reference.figures import Limit, Reason
from labcheck.reference.named_limits import PatientFigures, resolve

_MARKS = {
    "seen": "seen",
    "secondary": "secondary",
    "memory": "from memory",
    "practice": "common practice, no source",
    "derived": "derived",
}


@dataclass(frozen=True, slots=True)
class Level:
    """A level in the tally's unit. ``text`` is the checklist's word for it, ``source`` a line for the screen."""

    value: Decimal
    text: str
    source: str


def source_line(case: Case, source_id: str | None) -> str:
    """Where a number of the checklist comes from, with the reminder that local protocol decides."""
    source = finding.source(case.checklist, source_id) if source_id else None
    if source is None:
        return "no source given; verify locally"
    return f"{source.text} ({_MARKS[source.mark]}); verify locally"


def levels(case: Case, total: Total) -> tuple[tuple[Level, ...], tuple[str, ...]]:
    """The levels around a tally, each the highest one reached or the first one not reached of its notice;
    and one line for every limit that cannot be computed."""
    found: list[Level] = []
    reasons: list[str] = []
    for notice in total.tally.notice:
        first = _first(case, notice, total.unit)
        if isinstance(first, str):
            reasons.append(first)
            continue
        value, every, source = first
        text = notice.text
        if total.value is not None and every and total.value >= value + every:
            value += (total.value - value) // every * every
            text = f"{text}, repeated"
        found.append(Level(value, text, source))
    return tuple(sorted(found, key=lambda level: level.value)), tuple(dict.fromkeys(reasons))


def _first(case: Case, notice: Notice, unit: str) -> tuple[Decimal, Decimal | None, str] | str:
    if notice.limit is None:
        if notice.at is None:
            return f"{notice.text}: no level given"
        return notice.at, notice.every, source_line(case, notice.source)
    limit = named_limit(notice.limit, case.plan)
    if isinstance(limit, Reason):
        return limit.text
    if unit and limit.unit != unit:
        return f"{notice.text}: the limit is in {limit.unit}, the tally in {unit}"
    return limit.value, notice.every or limit.repeat_every, limit.source.line()


def patient_figures(plan: Plan | None) -> PatientFigures:
    """What the plan gives to the formulas; nothing where there is no plan."""
    if plan is None:
        return PatientFigures()
    return PatientFigures(
        weight_kg=plan.weight_kg,
        height_cm=plan.height_cm,
        age_years=None if plan.age_years is None else Decimal(plan.age_years),
        sex=plan.sex,
        creatinine=plan.creatinine,
        creatinine_unit=plan.creatinine_unit,
    )


def named_limit(name: str, plan: Plan | None) -> Limit | Reason:
    """The limit of that name for this plan's patient, or why there is none."""
    return _resolved(name, patient_figures(plan))


@lru_cache(maxsize=256)
def _resolved(name: str, figures: PatientFigures) -> Limit | Reason:
    """A limit depends on the plan alone, and figures are drawn every second."""
    return resolve(name, figures)


def level_words(case: Case, total: Total) -> tuple[str, bool, str]:
    """What a tally's levels say ("first notice reached (30 min)"), whether one is reached, and the source."""
    around, reasons = levels(case, total)
    # The tally is named already; only what is wanting is said, once.
    wanting = dict.fromkeys(reason.rpartition(": ")[2] for reason in reasons)
    problem = f"limit not known: {'; '.join(wanting)}" if wanting else ""
    if total.value is None or not around:
        return problem, False, ""
    reached = [level for level in around if level.value <= total.value]
    ahead = [level for level in around if level.value > total.value]
    shown = reached[-1] if reached else ahead[0]
    place = f"{number_words(short(shown.value))} {total.unit}".strip()
    words = f"{shown.text} ({place})" if reached else f"next level {place}"
    return joined([words, problem or None]), bool(reached), shown.source


def short(value: Decimal) -> Decimal:
    """A level as it is shown: whole, or with one decimal."""
    return value if value == value.to_integral_value() else value.quantize(Decimal("0.1"))
