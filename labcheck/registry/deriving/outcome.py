"""Rows for the case as a whole, its rescues, intervals and deviations."""

from __future__ import annotations

from collections.abc import Iterator

from labcheck.caselog.case import Case
from labcheck.caselog.deviations import deviations
from labcheck.caselog.events import CaseOpened
from labcheck.caselog.intervals import Row as Interval
from labcheck.caselog.intervals import interval_table
from labcheck.caselog.tallies import totals
from labcheck.checklist import finding
from labcheck.ledger.chain import Head
from labcheck.registry.deriving.frame import Frame, number
from labcheck.registry.deriving.quality import worst
from labcheck.registry.deriving.stages import energy_s
from labcheck.registry.rows.outcome import BailoutRow, CaseRow, DeviationRow, IntervalRow, TotalRow
from labcheck.registry.times import aware, seconds

OLDEST = 90
"""Ages from here on are one group in the registry profile (45 CFR 164.514(b)(2): over 89; from memory)."""


def case_row(frame: Frame, head: Head) -> CaseRow:
    """The case's one row."""
    case, plan = frame.case, frame.case.plan
    age = plan.age_years if plan is not None else None
    opening = case.log[0].what if case.log else None
    return CaseRow.model_validate(
        {
            "case_id": frame.case_id,
            "subject_id": frame.subject_id,
            "profile": frame.profile,
            "rehearsal": case.rehearsal,
            "year": aware(case.opened).year if case.opened is not None and not frame.shift_us else None,
            "opened_at": frame.clock(case.opened),
            "access_at": frame.clock(frame.origin),
            "sealed_at": frame.clock(case.seal.at if case.seal is not None else None),
            "utc_offset": frame.offset(case.opened) if case.opened is not None else None,
            "sealed": case.seal is not None,
            "technique": plan.technique if plan is not None else None,
            "substrate": plan.substrate if plan is not None else None,
            "mounting": plan.mounting if plan is not None else None,
            "targets": ";".join(plan.targets if plan is not None else ()),
            "protection_planned": ";".join(plan.protection_planned or ("none",))
            if plan is not None
            else None,
            "valve_class": plan.valve_class if plan is not None else None,
            "access": plan.access if plan is not None else None,
            "age_years": min(age, OLDEST) if age is not None and frame.profile != "hospital" else age,
            "sex": plan.sex if plan is not None else None,
            "weight_kg": number(plan.weight_kg) if plan is not None else None,
            "height_cm": number(plan.height_cm) if plan is not None else None,
            "creatinine": number(plan.creatinine) if plan is not None else None,
            "creatinine_unit": plan.creatinine_unit if plan is not None else None,
            "baseline_act_s": number(plan.baseline_act_s) if plan is not None else None,
            "checklist_id": case.checklist.id,
            "checklist_revision": opening.checklist_revision if isinstance(opening, CaseOpened) else "",
            "checklist_digest": frame.checklist_digest,
            "entries": len(case.log),
            "late_entries": sum(e.mode != "live" and case.counts(e.seq) for e in case.log),
            "voided_entries": len(case.voided),
            "attempts": len(case.attempts),
            "bailouts": len(case.bailouts),
            "energy_s": energy_s(case.attempts),
            "head": f"sha256:{head.hash_hex}",
        }
    )


def bailout_rows(frame: Frame) -> Iterator[BailoutRow]:
    """Every rescue that counts."""
    for rescue in frame.case.bailouts:
        path = finding.bailout(frame.case.checklist, rescue.what.bailout)
        closing = frame.case.event(rescue.end_seq) if rescue.end_seq is not None else None
        yield BailoutRow.model_validate(
            {
                "case_id": frame.case_id,
                "seq": rescue.seq,
                "bailout": rescue.what.bailout,
                "endpoint": path.endpoint if path is not None else "none",
                "cusp": rescue.what.cusp,
                "ostium": rescue.what.ostium,
                **frame.stretch(rescue.start, rescue.end),
                "time_quality": worst(frame.case, (rescue.seq, rescue.end_seq)),
                "outcome": rescue.outcome,
                "leads_to": rescue.lead,
                "note": getattr(closing.what, "note", None) if closing is not None else None,
            }
        )


def interval_rows(frame: Frame) -> Iterator[IntervalRow]:
    """Every interval of the one table that console and debrief show too."""
    for place, row in enumerate(interval_table(frame.case, None), 1):
        yield IntervalRow.model_validate(
            {
                "case_id": frame.case_id,
                "place": place,
                "interval": row.id,
                "of": row.kind,
                "title": row.title,
                "state": row.state,
                "cusp": row.cusp,
                "visit": row.visit,
                "start_seq": row.start_seq,
                "end_seq": row.end_seq,
                **frame.stretch(row.start, row.end),
                "duration_s": seconds(row.span.us) if row.span is not None else None,
                "duration_basis": row.span.basis if row.span is not None else None,
                "time_quality": worst(frame.case, _ends(frame.case, row)),
                "provisional": row.provisional,
            }
        )


def _ends(case: Case, row: Interval) -> tuple[int | None, ...]:
    """The entries that carry the ends of an interval: of a stage those of all its visits, for it adds them up."""
    if row.kind != "stage":
        return (row.start_seq, row.end_seq)
    stage = next((v.slot for v in case.visits if v.seq == row.start_seq), None)
    return tuple(seq for v in case.visits if v.slot == stage for seq in (v.seq, v.end_seq))


def total_rows(frame: Frame) -> Iterator[TotalRow]:
    """Every tally of the checklist; what was still on at the end counts up to the last entry."""
    if not frame.case.log:
        return
    for found in totals(frame.case, frame.case.log[-1].entered.moment()):
        yield TotalRow.model_validate(
            {
                "case_id": frame.case_id,
                "total": found.tally.id,
                "of": found.tally.kind,
                "value": round(float(found.value), 6) if found.value is not None else None,
                "unit": found.unit or None,
                "left_out": found.left_out,
                "seq": found.seq,
            }
        )


def deviation_rows(frame: Frame) -> Iterator[DeviationRow]:
    """Every deviation, in words and by kind."""
    for place, deviation in enumerate(deviations(frame.case), 1):
        yield DeviationRow.model_validate(
            {
                "case_id": frame.case_id,
                "place": place,
                "deviation": deviation.kind,
                "seq": deviation.seq,
                "words": deviation.words,
            }
        )
