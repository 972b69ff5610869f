"""Figures that a formula adds to the tallies: contrast against each limit, protamine against heparin, the grade
of commissural alignment, how far a view is off. Nothing here adds up anew; totals come from the tallies.
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from labcheck.caselog.case import Case
from labcheck.caselog.citing import Told, cite
from labcheck.caselog.clockwords import ago_words
from labcheck.caselog.levels import named_limit, patient_figures, short
from labcheck.caselog.projecting import GEOMETRY, off_words, projection_of, view_of_step
from labcheck.caselog.stamps import Moment, span
from labcheck.caselog.steps import projection_words
from labcheck.caselog.tallies import Total, latest_reading, number_words, total
from labcheck.caselog.units import in_own_unit
from labcheck.checklist import finding
from labcheck.checklist.model import Tally
from labcheck.reference.alignment import ALIGNMENT_GRADES, Alignment, grade
from labcheck.reference.anticoagulation import AL_KASSOU_2023, ProtamineClass, protamine_ratio
from labcheck.reference.contrast import clearance_ratio
from labcheck.reference.figures import Reason
from labcheck.reference.named_limits import NAMED_LIMITS

HEPARIN, PROTAMINE, COMMISSURE = "heparin", "protamine", "commissure"
"""Ids that the formulas look for in a checklist; one that names them otherwise gets no such line."""

DEGREES = frozenset({"deg", "degrees", "°"})

_CLASSES = {
    ProtamineClass.FULL: "the full dose of the comparison",
    ProtamineClass.PARTIAL: "the partial dose of the comparison",
    ProtamineClass.UNCLASSIFIED: "neither of the doses compared",
}


def clinical_figures(case: Case, at: Moment) -> Iterator[Told]:
    """The lines that stand beside the tallies now."""
    yield from _protamine(case, at)
    yield from _alignment(case)
    yield from _views(case)


# --- contrast ---------------------------------------------------------------------------------------------


def contrast_tally(case: Case) -> Tally | None:
    """The tally that the checklist holds against contrast limits."""
    for tally in case.checklist.tally:
        if any((notice.limit or "").startswith("contrast.") for notice in tally.notice):
            return tally
    return None


def contrast_lines(case: Case, at: Moment) -> tuple[Told, ...]:
    """The contrast so far as a multiple of clearance, then against each limit that its tally names."""
    tally = contrast_tally(case)
    if tally is None:
        return ()
    so_far = total(case, tally, at)
    names = [n.limit for n in tally.notice if n.limit in NAMED_LIMITS]
    return (
        *_as_multiple(case, so_far),
        *(_against(case, so_far, name) for name in names if name is not None),
    )


def _as_multiple(case: Case, so_far: Total) -> Iterator[Told]:
    if so_far.value is None or so_far.unit != "mL":
        return
    ratio = clearance_ratio(so_far.value, patient_figures(case.plan).clearance())
    if not isinstance(ratio, Reason):
        words = (
            f"contrast {number_words(so_far.value)} mL is {ratio.value:.2f} x clearance {cite(ratio.source)}"
        )
        yield Told("contrast.ratio", words, ratio.source.line())


def _against(case: Case, so_far: Total, name: str) -> Told:
    limit = named_limit(name, case.plan)
    if isinstance(limit, Reason):
        meaning, _, wanting = limit.text.partition(": ")
        return Told(name, f"{meaning} not known: {wanting}", missing=True)
    if so_far.unit != limit.unit:
        words = f"the limit is in {limit.unit}, the tally in {so_far.unit}"
        return Told(name, f"{NAMED_LIMITS[name].meaning}: {words}", missing=True)
    given = so_far.value or Decimal(0)
    place = f"{number_words(short(limit.value))} {limit.unit}"
    standing = "reached" if given >= limit.value else "not reached"
    words = f"{NAMED_LIMITS[name].meaning}: {number_words(given)} of {place}, {standing} {cite(limit.source)}"
    return Told(name, words, limit.source.line(), notice=given >= limit.value)


# --- protamine --------------------------------------------------------------------------------------------


def _given(case: Case, drug: str, at: Moment) -> Total | None:
    tally = next((t for t in case.checklist.tally if t.kind == "sum" and t.drug == drug), None)
    return total(case, tally, at) if tally is not None else None


def _protamine(case: Case, at: Moment) -> Iterator[Told]:
    """Protamine per 100 IU of all heparin, once protamine is given; never what should be given."""
    protamine, heparin = _given(case, PROTAMINE, at), _given(case, HEPARIN, at)
    if protamine is None or heparin is None or protamine.seq is None:
        return
    id_, source = "ratio:protamine", AL_KASSOU_2023.line()
    if protamine.left_out or heparin.left_out:
        whose = "protamine" if protamine.left_out else "heparin"
        yield Told(id_, f"protamine ratio not known: {whose} without amount", source, missing=True)
        return
    if (protamine.unit, heparin.unit) != ("mg", "IU"):
        wrong = f"protamine in {protamine.unit}, heparin in {heparin.unit}"
        yield Told(id_, f"protamine ratio not known: {wrong}", source, missing=True)
        return
    found = protamine_ratio(protamine.value, heparin.value or Decimal(0))
    if isinstance(found, Reason):
        yield Told(id_, f"protamine ratio not known: {found.text}", source, missing=True)
        return
    age = f", last heparin {ago_words(span(heparin.at, at))}" if heparin.at is not None else ""
    ratio = f"protamine {found.ratio.value:.2f} mg per 100 IU heparin"
    yield Told(id_, f"{ratio}, {_CLASSES[found.dose_class]}{age}", source)


# --- alignment --------------------------------------------------------------------------------------------


def _alignment(case: Case) -> Iterator[Told]:
    taken = latest_reading(case, COMMISSURE)
    reading = finding.reading(case.checklist, COMMISSURE)
    if taken is None or reading is None or taken.what.value is None:
        return
    degrees = in_own_unit(reading, taken.what.value, taken.what.unit)
    id_, source = "alignment", ALIGNMENT_GRADES.line()
    if degrees is None or reading.unit not in DEGREES:
        yield Told(
            id_, "commissural alignment not known: the reading is not in degrees", source, missing=True
        )
        return
    found = grade(degrees)
    if isinstance(found, Reason):
        yield Told(id_, f"commissural alignment not known: {found.text}", source, missing=True)
        return
    words = f"commissures {number_words(degrees)} deg off: {found.value}"
    yield Told(id_, words, source, notice=found is Alignment.SEVERE)


# --- views ------------------------------------------------------------------------------------------------


def _views(case: Case) -> Iterator[Told]:
    """The projections answered in the open visit, and how far each is off."""
    visit = case.visit
    stage = finding.stage(case.checklist, visit.stage) if visit is not None else None
    if visit is None or stage is None or case.plan is None:
        return
    for step in stage.step:
        answer = case.answers.get((stage.id, visit.cusp, step.id))
        used = projection_of(answer.what.value or "") if answer is not None else None
        if step.kind != "projection" or answer is None or used is None:
            continue
        view = view_of_step(step.id)
        off = off_words(case.plan, visit.cusp, view, used)
        if off:
            title = f"{view} view" if view else "view"
            words = f"{title} {projection_words(answer.what.value or '')}: {off}"
            yield Told(f"view:{step.id}", words, GEOMETRY.line())
