"""Answering a step: the actual value, checked against what the step asks for."""

from __future__ import annotations

import re
from decimal import Decimal, InvalidOperation

from labcheck.caselog import events as ev
from labcheck.caselog import intents as it
from labcheck.caselog.case import Case
from labcheck.caselog.deciding.records import give_dose, take_reading
from labcheck.caselog.deciding.rescues import rescue_meant
from labcheck.caselog.deciding.result import Decided, Press, Refused
from labcheck.caselog.deciding.stages import make_decision, slot_named
from labcheck.caselog.standing import standing_answer
from labcheck.caselog.steps import meant_ostium
from labcheck.caselog.units import in_own_unit
from labcheck.checklist import finding
from labcheck.checklist.model import Option, Step
from labcheck.checklist.words import Cusp

_TIME = re.compile(r"^([01]\d|2[0-3]):[0-5]\d(:[0-5]\d)?$")
_NUMBER = re.compile(r"^[+-]?\d{1,9}(\.\d{1,9})?$")


def answer_step(press: Press, intent: it.AnswerStep) -> Decided | Refused:
    """One step's answer; reading, dose and decision steps record the thing itself, and that answers them."""
    case = press.case
    place = _place(press, intent)
    if isinstance(place, Refused):
        return place
    stage_id, cusp, opened = place
    step = finding.step(case.checklist, stage_id, intent.step)
    if step is None:
        return Refused(f"{stage_id} has no step '{intent.step}'")
    if intent.answer == "not_done" and not intent.reason:
        return Refused(f"not done: {step.say}: give a reason", needs="reason")
    if intent.answer == "done" and step.kind not in ("done", "dose"):
        return Refused(f"{step.say}: say the value")
    if intent.answer == "value" or (intent.answer == "done" and step.kind == "dose"):
        handed_on = _handed_on(press, intent, step, place)
        if handed_on is not None:
            return handed_on
        wrong = wrong_value(case, step, intent) if intent.answer == "value" else None
        if wrong is not None:
            return wrong
    press.write(
        ev.StepAnswered(
            stage=stage_id,
            cusp=cusp,
            step=step.id,
            opened=opened,
            answer=intent.answer,
            value=intent.value if intent.answer == "value" else None,
            unit=(intent.unit or step.unit) if intent.answer == "value" else None,
            reason=intent.reason,
        )
    )
    return press.done()


def _place(press: Press, intent: it.AnswerStep) -> tuple[str, Cusp | None, int | None] | Refused:
    """The stage, cusp and visit (or rescue) that the answer belongs to."""
    case = press.case
    visit = case.visit
    if intent.rescue is not None or (intent.stage or "").startswith(finding.BAILOUT_PREFIX):
        rescue = rescue_meant(press, intent)
        if isinstance(rescue, Refused):
            return rescue
        return f"{finding.BAILOUT_PREFIX}{rescue.what.bailout}", rescue.what.cusp, rescue.seq
    if intent.stage is None:
        if visit is None:
            return Refused("no stage is open: open one first")
        return visit.stage, visit.cusp, visit.seq
    slot = slot_named(case, intent.stage, intent.cusp)
    if isinstance(slot, Refused):
        return slot
    visits = [v for v in case.visits if v.slot == slot]
    return slot.stage, slot.cusp, visits[-1].seq if visits else None


def _handed_on(
    press: Press, intent: it.AnswerStep, step: Step, place: tuple[str, Cusp | None, int | None]
) -> Decided | Refused | None:
    """Steps that ask for a reading, a dose or a decision record that; the answer follows from it.

    A decision finds the step that asks for it in any stage that is not per cusp. Readings and doses are handed on
    only for the open visit's own steps, where the record finds the step again; elsewhere the answer stands alone.
    """
    visit = press.case.visit
    here = visit is not None and place[2] == visit.seq
    if step.kind == "decision" and step.decision and (here or _asks_alone(press.case, place[0])):
        choice = (intent.value or "?")[:80]
        return make_decision(
            press,
            it.MakeDecision(press=intent.press, decision=step.decision, choice=choice, reason=intent.reason),
        )
    if not here:
        return None
    if step.kind == "reading" and step.reading:
        return _reading_step(press, intent, step, place[1])
    if step.kind == "dose" and step.drug:
        given = standing_answer(press.case, place[0], place[1], step.id)
        if given is not None and given.what.answer in ("done", "value"):
            # A second answer may be a second dose or a slip in the first: no dose is made up from it.
            return Refused(f"{step.say}: answered by #{given.seq}: correct that entry, or record another dose")
        amount = _number(intent.value or "") if intent.value else None
        if intent.value and amount is None:
            return Refused(f"{step.say}: '{intent.value}' is not a number")
        return give_dose(
            press,
            it.GiveDose(
                press=intent.press,
                drug=step.drug,
                amount=amount,
                unit=intent.unit,
                accept=intent.accept,
            ),
            step.id,
        )
    return None


def _asks_alone(case: Case, stage_id: str) -> bool:
    """Whether a decision taken for this stage's step is answered there, whichever stage is open."""
    stage = finding.stage(case.checklist, stage_id)
    return stage is not None and not stage.per_cusp


def _reading_step(press: Press, intent: it.AnswerStep, step: Step, cusp: Cusp | None) -> Decided | Refused:
    """The reading a step asks for. On a left or right cusp, its own ostium is meant unless the step names one."""
    reading = finding.reading(press.case.checklist, step.reading or "")
    coded = reading is not None and bool(reading.options)
    reading_per_ostium = reading is not None and reading.per == "ostium"
    value = None if coded else _number(intent.value or "")
    if not coded and value is None:
        return Refused(f"{step.say}: '{intent.value or ''}' is not a number")
    return take_reading(
        press,
        it.TakeReading(
            press=intent.press,
            reading=step.reading or "?",
            value=value,
            choice=(intent.value or "?")[:80] if coded else None,
            unit=intent.unit,
            ostium=meant_ostium(step, cusp) if reading_per_ostium else step.ostium,
            accept=intent.accept,
            step=step.id,
        ),
    )


def _number(text: str) -> Decimal | None:
    """A plain decimal as typed: no exponent, no infinity."""
    if not _NUMBER.match(text):
        return None
    try:
        return Decimal(text)
    except InvalidOperation:
        return None


def wrong_value(case: Case, step: Step, intent: it.AnswerStep) -> Refused | None:
    """Why a step cannot have this value; with ``accept`` one outside its range is taken."""
    value = intent.value or ""
    match step.kind:
        case "done":
            return Refused(f"{step.say}: answer done, not done or not applicable")
        case "choice":
            if finding.option(step.options, value) is None:
                return Refused(f"{step.say}: '{value}' is none of {', '.join(o.id for o in step.options)}")
        case "reading" if findings := _findings(case, step):
            if finding.option(findings, value) is None:
                return Refused(f"{step.say}: '{value}' is none of {', '.join(o.id for o in findings)}")
        case "number" | "reading" | "dose":
            return _wrong_unit(case, step, intent.unit) or _wrong_number(step, value, intent.accept)
        case "time":
            if not _TIME.match(value):
                return Refused(f"{step.say}: '{value}' is not a time: write hh:mm or hh:mm:ss")
        case "text" | "decision":
            if not value.strip():
                return Refused(f"{step.say}: the answer is empty")
        case "device":
            if finding.device(case.checklist, value) is None:
                return Refused(f"{step.say}: this checklist has no device '{value}'")
        case "projection":
            return _wrong_projection(step, value)
    return None


def _findings(case: Case, step: Step) -> tuple[Option, ...]:
    """What the reading of a step may be found to be; empty where it is a number."""
    reading = finding.reading(case.checklist, step.reading or "")
    return reading.options if reading is not None else ()


def _wrong_unit(case: Case, step: Step, unit: str | None) -> Refused | None:
    """A unit that this step's value is not kept in: it would stand beside the number as if it were right."""
    if unit is None:
        return None
    if step.kind == "reading":
        reading = finding.reading(case.checklist, step.reading or "")
        if reading is None or in_own_unit(reading, Decimal(1), unit) is not None:
            return None
        known = list(dict.fromkeys(u for u in (reading.unit, *reading.units) if u))
    elif step.kind == "dose":
        drug = finding.drug(case.checklist, step.drug or "")
        known = [drug.unit] if drug is not None else []
    else:
        known = [step.unit] if step.unit else []
    if unit in known:
        return None
    use = f"use {', '.join(known)}" if known else "it has none"
    return Refused(f"{step.say}: unit '{unit}' is not known here: {use}")


def _wrong_number(step: Step, value: str, accept: bool) -> Refused | None:
    number = _number(value)
    if number is None:
        return Refused(f"{step.say}: '{value}' is not a number")
    strange = (step.low is not None and number < step.low) or (step.high is not None and number > step.high)
    if strange and not accept:
        low = "" if step.low is None else f"{step.low:f}"
        high = "" if step.high is None else f"{step.high:f}"
        return Refused(
            f"{step.say}: {value} is outside {low} to {high} {step.unit or ''}".rstrip()
            + ": again to accept",
            needs="accept",
        )
    return None


def _wrong_projection(step: Step, value: str) -> Refused | None:
    """Two signed degrees, LAO and cranial positive: within 90 and 45 (common practice, no source)."""
    parts = [_number(part) for part in value.split()]
    if len(parts) != 2 or any(part is None for part in parts):
        return Refused(f"{step.say}: write two signed degrees, LAO+ RAO- then CRA+ CAU-, as in -20 15")
    across, along = parts
    if across is None or along is None or abs(across) > 90 or abs(along) > 45:
        return Refused(f"{step.say}: {value} is outside 90 across and 45 along")
    return None
