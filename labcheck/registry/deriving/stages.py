"""Rows for visits, attempts, energy bursts and runs."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from decimal import Decimal
from typing import Literal

from labcheck.caselog.case import Attempt, Visit
from labcheck.caselog.progress import slot_state, stage_title
from labcheck.caselog.stamps import known_span
from labcheck.checklist import finding
from labcheck.checklist.unfolding import Slot
from labcheck.registry.deriving.amending import rate_unit
from labcheck.registry.deriving.frame import Frame, number
from labcheck.registry.deriving.quality import worst
from labcheck.registry.rows.stages import AttemptRow, BurstRow, VisitRow
from labcheck.registry.rows.values import RunRow
from labcheck.registry.times import seconds

Result = Literal["success", "fault", "failed", "abandoned", "open"]


def visit_rows(frame: Frame) -> Iterator[VisitRow]:
    """Every visit in order of entry, then every expected stage that had none (skipped, abandoned, missing)."""
    place = 0
    for visit in frame.case.visits:
        place += 1
        yield _visit(frame, visit, place)
    for slot in frame.case.slots:
        row = _unvisited(frame, slot, place + 1)
        if row is not None:
            place += 1
            yield row


def _visit(frame: Frame, visit: Visit, place: int) -> VisitRow:
    state = visit.how or "open"
    return VisitRow.model_validate(
        {
            "case_id": frame.case_id,
            "place": place,
            "seq": visit.seq,
            "stage": visit.stage,
            "title": stage_title(frame.case, visit.stage, visit.cusp),
            "cusp": visit.cusp,
            "visit": visit.number,
            "state": state,
            **frame.stretch(visit.start, visit.end),
            "time_quality": worst(frame.case, (visit.seq, visit.end_seq)),
            "late": visit.late,
            "reason_code": None,
            "reason": None,
        }
    )


def _unvisited(frame: Frame, slot: Slot, place: int) -> VisitRow | None:
    if any(v.slot == slot for v in frame.case.visits):
        return None
    state, reason = slot_state(frame.case, slot), None
    if state == "skipped":
        skip = frame.case.skipped[slot]
        named, reason = f"skipped_by_{skip.why}", skip.reason
    elif state == "passed":
        named = "missing"
    elif state == "abandoned" and slot.cusp is not None:
        named, reason = "abandoned", frame.case.abandoned[slot.cusp].what
    else:
        return None
    return VisitRow.model_validate(
        {
            "case_id": frame.case_id,
            "place": place,
            "seq": None,
            "stage": slot.stage,
            "title": stage_title(frame.case, slot.stage, slot.cusp),
            "cusp": slot.cusp,
            "visit": None,
            "state": named,
            **frame.stretch(None, None),
            "time_quality": None,
            "late": False,
            "reason_code": frame.reason_code(reason),
            "reason": reason,
        }
    )


def result_of(frame: Frame, attempt: Attempt) -> Result:
    """What the checklist counts an attempt's outcome as."""
    if attempt.outcome is None:
        return "open"
    if attempt.outcome == "abandoned":
        return "abandoned"
    stage = finding.stage(frame.case.checklist, attempt.stage)
    if stage is not None and stage.attempts is not None:
        if attempt.outcome in stage.attempts.success:
            return "success"
        if attempt.outcome in stage.attempts.fault:
            return "fault"
    return "failed"


def energy_s(attempts: Iterable[Attempt]) -> float | None:
    """Seconds of energy in the finished bursts of these attempts; None, which is not zero, where none is recorded or
    the length of one is not known."""
    found = [known_span(b.start, b.end) for a in attempts for b in a.bursts if b.end is not None]
    known = [one.us for one in found if one is not None]
    return seconds(sum(known)) if found and len(known) == len(found) else None


def _bursts(frame: Frame, attempt: Attempt) -> int | None:
    """How many bursts are recorded; None where none is and the attempt was told after the fact."""
    told = attempt.late or (attempt.end_seq is not None and frame.late(attempt.end_seq))
    return None if told and not attempt.bursts else len(attempt.bursts)


def attempt_rows(frame: Frame) -> Iterator[AttemptRow]:
    """Every attempt that counts."""
    for attempt in frame.case.attempts:
        yield AttemptRow.model_validate(
            {
                "case_id": frame.case_id,
                "seq": attempt.seq,
                "stage": attempt.stage,
                "cusp": attempt.cusp,
                "number": attempt.number,
                **frame.stretch(attempt.start, attempt.end),
                "time_quality": worst(frame.case, (attempt.seq, attempt.end_seq)),
                "effect_at": frame.clock(attempt.effect),
                "effect_rel_s": frame.rel(attempt.effect),
                "outcome": attempt.outcome,
                "result": result_of(frame, attempt),
                "bursts": _bursts(frame, attempt),
                "energy_s": energy_s([attempt]),
                "late": attempt.late,
                "reason_code": frame.reason_code(attempt.reason),
                "reason": attempt.reason,
            }
        )


def burst_rows(frame: Frame) -> Iterator[BurstRow]:
    """Every energy burst that counts."""
    for attempt in frame.case.attempts:
        for burst in attempt.bursts:
            yield BurstRow.model_validate(
                {
                    "case_id": frame.case_id,
                    "seq": burst.seq,
                    "attempt_seq": attempt.seq,
                    "cusp": burst.cusp,
                    **frame.stretch(burst.start, burst.end),
                    "time_quality": worst(frame.case, (burst.seq, burst.end_seq)),
                    "watts": burst.watts,
                    "mode": burst.mode,
                }
            )


def run_rows(frame: Frame) -> Iterator[RunRow]:
    """Every on-off spell that counts."""
    for spell in frame.case.spells:
        yield RunRow.model_validate(
            {
                "case_id": frame.case_id,
                "seq": spell.seq,
                "run": spell.run,
                "cusp": spell.cusp,
                **frame.stretch(spell.start, spell.end),
                "time_quality": worst(frame.case, (spell.seq, spell.end_seq)),
                "rate": number(Decimal(spell.rate)) if spell.rate is not None else None,
                "unit": rate_unit(frame, spell.run) if spell.rate is not None else None,
            }
        )
