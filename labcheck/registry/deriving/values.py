"""Rows for readings, doses, step answers, decisions and clock comparisons."""

from __future__ import annotations

import math
from collections.abc import Iterator
from decimal import Decimal, InvalidOperation

from labcheck.caselog.events import StepAnswered
from labcheck.caselog.folding import effective_payload
from labcheck.checklist import finding
from labcheck.checklist.model import Option, Step, Thing
from labcheck.registry.deriving.frame import Frame, number
from labcheck.registry.rows.values import ClockRow, DecisionRow, DoseRow, ReadingRow, StepRow
from labcheck.registry.times import seconds


def reading_rows(frame: Frame) -> Iterator[ReadingRow]:
    """Every reading that counts, as it stands."""
    sent = {s.answered: s.sent for s in frame.case.samples if s.answered is not None}
    for reading in frame.case.readings:
        what, sampled = reading.what, sent.get(reading.seq)
        yield ReadingRow.model_validate(
            {
                "case_id": frame.case_id,
                "seq": reading.seq,
                "reading": what.reading,
                "cusp": what.cusp,
                "ostium": what.ostium,
                "taken_at": frame.at(reading.at),
                "taken_rel_s": frame.rel(reading.at),
                "sampled_at": frame.clock(sampled),
                "sampled_rel_s": frame.rel(sampled),
                "value": number(what.value),
                "unit": what.unit,
                "choice": what.choice,
                "judged_by": what.judged_by,
                "judge": what.judge,
                "outside": what.outside,
                "reset": what.reset,
                "amended": reading.seq in frame.case.amended,
                "late": frame.late(reading.seq),
                "note": what.note,
            }
        )


def dose_rows(frame: Frame) -> Iterator[DoseRow]:
    """Every dose that counts, as it stands."""
    for dose in frame.case.doses:
        yield DoseRow.model_validate(
            {
                "case_id": frame.case_id,
                "seq": dose.seq,
                "drug": dose.what.drug,
                "given_at": frame.at(dose.at),
                "given_rel_s": frame.rel(dose.at),
                "amount": number(dose.what.amount),
                "unit": dose.what.unit,
                "amended": dose.seq in frame.case.amended,
                "late": frame.late(dose.seq),
                "note": dose.what.note,
            }
        )


def step_rows(frame: Frame) -> Iterator[StepRow]:
    """The last answer to every step, by place in the log."""
    visits = {visit.seq: visit.number for visit in frame.case.visits}
    within = {*visits, *(rescue.seq for rescue in frame.case.bailouts)}
    for answer in sorted(frame.case.answers.values(), key=lambda a: a.seq):
        what = answer.what
        step = finding.step(frame.case.checklist, what.stage, what.step)
        option = chosen(frame, step, what)
        yield StepRow.model_validate(
            {
                "case_id": frame.case_id,
                "seq": answer.seq,
                "stage": what.stage,
                "cusp": what.cusp,
                "visit": visits.get(what.opened or 0),
                "opened_seq": what.opened if what.opened in within else None,
                "step": what.step,
                "killer": step is not None and step.killer,
                "answer": what.answer,
                "option": option.id if option is not None else None,
                "value": asked_number(step, what),
                "answered_at": frame.at(answer.at),
                "answered_rel_s": frame.rel(answer.at),
                "value_text": what.value,
                "unit": what.unit,
                "late": frame.late(answer.seq),
                "reason_code": frame.reason_code(what.reason),
                "reason": what.reason,
            }
        )


def chosen(frame: Frame, step: Step | None, what: StepAnswered) -> Option | Thing | None:
    """The option that an answer names, for steps that offer some; of a step that asks for a device, the device."""
    if step is None or what.value is None:
        return None
    if step.kind == "device":
        return finding.device(frame.case.checklist, what.value)
    options = step.options
    if step.kind == "decision" and step.decision is not None:
        decision = finding.decision(frame.case.checklist, step.decision)
        options = decision.options if decision is not None else ()
    elif step.kind == "reading" and step.reading is not None:
        reading = finding.reading(frame.case.checklist, step.reading)
        options = reading.options if reading is not None else ()
    return finding.option(options, what.value)


NUMBERS = frozenset({"number", "reading", "dose"})
"""Kinds of step whose answer is a number, where it is not an option."""


def asked_number(step: Step | None, what: StepAnswered) -> float | None:
    """The number an answer gives, for steps that ask for one."""
    if step is None or step.kind not in NUMBERS or what.value is None:
        return None
    try:
        found = float(Decimal(what.value))
    except InvalidOperation:
        return None
    return found if math.isfinite(found) else None


def decision_rows(frame: Frame) -> Iterator[DecisionRow]:
    """Every decision as it stands."""
    for name, choice in sorted(frame.case.decisions.items(), key=lambda item: item[1].seq):
        made = effective_payload(frame.case, choice.seq)
        if made is None:
            continue
        yield DecisionRow.model_validate(
            {
                "case_id": frame.case_id,
                "seq": choice.seq,
                "decision": name,
                "choice": choice.choice,
                "made_at": frame.at(made[1]),
                "made_rel_s": frame.rel(made[1]),
                "reason_code": frame.reason_code(choice.reason),
                "reason": choice.reason,
            }
        )


def clock_rows(frame: Frame) -> Iterator[ClockRow]:
    """Every clock comparison that counts."""
    for compared in frame.case.comparisons:
        yield ClockRow.model_validate(
            {
                "case_id": frame.case_id,
                "seq": compared.seq,
                "clock": compared.what.clock,
                "compared_at": frame.at(compared.at),
                "compared_rel_s": frame.rel(compared.at),
                "clock_offset_s": seconds(compared.what.offset_us),
                "uncertainty_s": seconds(compared.what.uncertainty_us),
                "resolution_s": seconds(compared.what.resolution_us),
            }
        )
