"""Whether a payload says what could have been entered: asked of every amendment and of every fact after the seal.

An entry that was put right must not say what nobody would have been let say in the first place.
"""

from __future__ import annotations

from typing import Any

from labcheck.caselog import events as ev
from labcheck.caselog import intents as it
from labcheck.caselog.case import Case
from labcheck.caselog.deciding.answers import wrong_value
from labcheck.caselog.deciding.enterable import (
    among,
    wrong_dose,
    wrong_end,
    wrong_other,
    wrong_reading,
    wrong_result,
)
from labcheck.caselog.deciding.result import Refused
from labcheck.checklist import finding
from labcheck.checklist.unfolding import cusp_word

_ANY_PRESS = "0" * 32


def unsound(case: Case, what: Any, *, accept: bool = False) -> Refused | None:
    """Why this cannot be entered, as a line; None where it can. ``accept``: a step's odd number is meant."""
    match what:
        case ev.ReadingTaken():
            return wrong_reading(case, what, amending=True)
        case ev.DoseGiven():
            return wrong_dose(case, what, amending=True)
        case ev.StepAnswered():
            return _answer(case, what, accept)
        case ev.AttemptClosed():
            return _result(case, what)
        case ev.BailoutClosed():
            return _rescue(case, what)
        case ev.DeviceUsed() | ev.FaultNoted() | ev.NoteWritten():
            return wrong_other(case, what)
        case _:
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
        return Refused(f"{step.say}: '{what.value or ''}' is none of {among(decision.options)}")
    intent = it.AnswerStep(
        press=_ANY_PRESS, step=step.id, answer="value", value=what.value, unit=what.unit, accept=accept
    )
    return wrong_value(case, step, intent)


def _result(case: Case, what: ev.AttemptClosed) -> Refused | None:
    tried = next((a for a in case.attempts if a.seq == what.attempt), None)
    if tried is None:
        return Refused(f"#{what.attempt} is no attempt")
    stage = finding.stage(case.checklist, tried.stage)
    return wrong_result(stage, what.outcome) if stage is not None else None


def _rescue(case: Case, what: ev.BailoutClosed) -> Refused | None:
    rescue = next((b for b in case.bailouts if b.seq == what.opened), None)
    path = finding.bailout(case.checklist, rescue.what.bailout) if rescue is not None else None
    return wrong_end(path, what.outcome) if path is not None else None
