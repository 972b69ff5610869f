"""Whether a payload says what could have been entered: asked of every amendment and of every fact after the seal.

An entry that was put right must not say what nobody would have been let say in the first place.
"""

from __future__ import annotations

from typing import Any

from labcheck.caselog import events as ev
from labcheck.caselog import intents as it
from labcheck.caselog.case import Case
from labcheck.caselog.deciding.answers import wrong_value
from labcheck.caselog.deciding.result import Refused
from labcheck.caselog.units import in_own_unit
from labcheck.checklist import finding
from labcheck.checklist.model import Option, Reading
from labcheck.checklist.unfolding import cusp_word

_ANY_PRESS = "0" * 32


def unsound(case: Case, what: Any, *, accept: bool = False) -> Refused | None:
    """Why this cannot be entered, as a line; None where it can. ``accept``: a step's odd number is meant."""
    match what:
        case ev.ReadingTaken():
            return _reading(case, what)
        case ev.DoseGiven():
            return _dose(case, what)
        case ev.StepAnswered():
            return _answer(case, what, accept)
        case ev.AttemptClosed():
            return _result(case, what)
        case ev.BailoutClosed():
            return _rescue(case, what)
        case ev.DeviceUsed():
            known: object = finding.device(case.checklist, what.device)
            return None if known else Refused(f"this checklist has no device '{what.device}'")
        case ev.FaultNoted():
            known = finding.fault(case.checklist, what.fault)
            return None if known else Refused(f"this checklist has no fault '{what.fault}'")
        case ev.NoteWritten():
            return None if what.text.strip() else Refused("the note is empty")
        case _:
            return None


def _among(options: tuple[Option, ...]) -> str:
    return ", ".join(option.id for option in options)


def _reading(case: Case, what: ev.ReadingTaken) -> Refused | None:
    reading = finding.reading(case.checklist, what.reading)
    if reading is None:
        return Refused(f"this checklist has no reading '{what.reading}'")
    wrong = _coded(reading, what) if reading.options else _measured(reading, what)
    if wrong:
        return Refused(f"{reading.title}{wrong}")
    if reading.per == "ostium" and what.ostium is None:
        return Refused(f"{reading.title}: say which ostium, left or right")
    if reading.per == "cusp" and what.cusp not in case.order:
        return Refused(f"{reading.title}: say which cusp: {' or '.join(case.order)}")
    if what.judged_by is not None and finding.option(reading.judged_by, what.judged_by) is None:
        return Refused(
            f"{reading.title} is not judged by '{what.judged_by}': use {_among(reading.judged_by) or 'nothing'}"
        )
    roles = finding.owners(case.checklist)
    if what.judge is not None and what.judge not in roles:
        return Refused(f"{reading.title}: '{what.judge}' is no role here: use {', '.join(roles) or 'none'}")
    return None


def _coded(reading: Reading, what: ev.ReadingTaken) -> str:
    if what.value is not None or what.unit is not None:
        return f" is a finding, not a number: say one of {_among(reading.options)}"
    if what.choice is None:
        return f": say one of {_among(reading.options)}; where it was not looked at, void the entry"
    if finding.option(reading.options, what.choice) is None:
        return f": '{what.choice}' is none of {_among(reading.options)}"
    return ""


def _measured(reading: Reading, what: ev.ReadingTaken) -> str:
    if what.choice is not None:
        return " is a number, not one of a list"
    if what.value is None:
        return ": say the value; where there was none, void the entry"
    if in_own_unit(reading, what.value, what.unit) is None:
        known = ", ".join(dict.fromkeys(u for u in (reading.unit, *reading.units) if u)) or "none"
        return f": unit '{what.unit}' is not known here: use {known}"
    return ""


def _dose(case: Case, what: ev.DoseGiven) -> Refused | None:
    drug = finding.drug(case.checklist, what.drug)
    if drug is None:
        return Refused(f"this checklist has no drug '{what.drug}'")
    if what.amount is not None and what.amount < 0:
        return Refused(f"{drug.title}: an amount cannot be below zero")
    if what.amount is not None and what.unit not in (None, drug.unit):
        return Refused(
            f"{drug.title} is recorded in {drug.unit}, not {what.unit}: void the entry and enter the dose anew"
        )
    return None


def _answer(case: Case, what: ev.StepAnswered, accept: bool) -> Refused | None:
    step = finding.step(case.checklist, what.stage, what.step)
    if step is None:
        return Refused(f"{what.stage} has no step '{what.step}'")
    stage = finding.stage(case.checklist, what.stage)
    if stage is not None and stage.per_cusp and what.cusp not in case.order:
        return Refused(f"{cusp_word(what.cusp) or 'no cusp'} is not a planned cusp: plan {' or '.join(case.order)}")
    if stage is not None and not stage.per_cusp and what.cusp is not None:
        return Refused(f"{stage.title} is not per cusp: leave the cusp out")
    if what.answer == "not_done" and not what.reason:
        return Refused(f"not done: {step.say}: give it its reason first")
    if what.answer == "done" and step.kind not in ("done", "dose"):
        return Refused(f"{step.say}: say the value")
    if what.answer != "value":
        return None
    decision = finding.decision(case.checklist, step.decision or "") if step.kind == "decision" else None
    if decision is not None and finding.option(decision.options, what.value or "") is None:
        return Refused(f"{step.say}: '{what.value or ''}' is none of {_among(decision.options)}")
    intent = it.AnswerStep(
        press=_ANY_PRESS, step=step.id, answer="value", value=what.value, unit=what.unit, accept=accept
    )
    return wrong_value(case, step, intent)


def _result(case: Case, what: ev.AttemptClosed) -> Refused | None:
    tried = next((a for a in case.attempts if a.seq == what.attempt), None)
    if tried is None:
        return Refused(f"#{what.attempt} is no attempt")
    stage = finding.stage(case.checklist, tried.stage)
    options = stage.attempts.outcomes if stage is not None and stage.attempts is not None else ()
    if what.outcome == "abandoned" or finding.option(options, what.outcome) is not None:
        return None
    title = stage.title if stage is not None else tried.stage
    return Refused(f"'{what.outcome}' is no result of {title}: use {_among(options)}")


def _rescue(case: Case, what: ev.BailoutClosed) -> Refused | None:
    rescue = next((b for b in case.bailouts if b.seq == what.opened), None)
    path = finding.bailout(case.checklist, rescue.what.bailout) if rescue is not None else None
    if path is None or finding.option(path.outcomes, what.outcome) is not None:
        return None
    return Refused(f"'{what.outcome}' is no outcome of {path.title}: use {_among(path.outcomes)}")
