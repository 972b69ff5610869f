"""What a field of an entry may be amended to: one of a list, where nobody should have to know the codes, or typed."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from labcheck.caselog.case import Case
from labcheck.caselog.corrections import in_own_form, with_field
from labcheck.caselog.events import Event, StepAnswered
from labcheck.caselog.typed_times import in_two_digits
from labcheck.checklist import finding
from labcheck.checklist.model import Option
from labcheck.console.panels import reading

ANSWERS = (("done", "done"), ("not_done", "not done"), ("not_applicable", "does not apply"))


def wordings(case: Case, event: Event, field: str) -> tuple[tuple[str, str], ...]:
    """(value, words) for each choice; empty where the field is free."""
    what: Any = event.what
    checklist = case.checklist
    match (event.kind, field):
        case ("step.answered", "answer"):
            return ANSWERS
        case ("attempt.closed", "outcome"):
            tried = next((a for a in case.attempts if a.seq == what.attempt), None)
            stage = finding.stage(checklist, tried.stage) if tried is not None else None
            return _options(stage.attempts.outcomes) if stage is not None and stage.attempts is not None else ()
        case ("bailout.closed", "outcome"):
            rescue = next((b for b in case.bailouts if b.seq == what.opened), None)
            path = finding.bailout(checklist, rescue.what.bailout) if rescue is not None else None
            return _options(path.outcomes) if path is not None else ()
        case ("step.answered", "value"):
            step = finding.step(checklist, what.stage, what.step)
            return _options(step.options) if step is not None else ()
        case ("reading.taken", "choice" | "judged_by" | "unit"):
            reading = finding.reading(checklist, what.reading)
            if reading is None:
                return ()
            if field == "unit":
                return tuple((unit, unit) for unit in reading.units)
            return _options(reading.options if field == "choice" else reading.judged_by)
        case (_, "ostium"):
            return (("left", "left"), ("right", "right"))
        case ("dose.given", "drug"):
            return tuple((drug.id, drug.title) for drug in checklist.drug)
        case ("device.used", "device"):
            return tuple((thing.id, thing.text) for thing in checklist.device)
        case ("device.used", "action"):
            return tuple((action, action) for action in ("opened", "placed", "changed", "removed", "failed"))
        case ("fault.noted", "fault"):
            return tuple((thing.id, thing.text) for thing in checklist.fault)
        case _:
            return ()


def as_recorded(case: Case, what: Any, field: str, text: str) -> tuple[str | None, str]:
    """What was typed for a field, in the form entries write it ("27.4" for "27,4"), and a complaint or "".

    ``what``: the entry's payload as it stands. None is an emptied field.
    """
    if text == (in_own_form(what, field) or ""):
        return None, "that is what it says already"
    if not text:
        may_be_empty = with_field(what, field, None) is not None
        return None, "" if may_be_empty else "it cannot be empty: type it, or void the entry"
    kind = _step_kind(case, what) if field == "value" else ""
    numeric = kind == "number" or (with_field(what, field, "1.5") is not None and with_field(what, field, "a") is None)
    if kind == "time":
        time = in_two_digits(text)
        return time, "" if time is not None else f'"{text}" is not a time such as 14:05'
    if numeric:
        number = reading.number(text)
        if number is None:
            return None, reading.no_number(text)
        text = f"{number:f}"
    fresh = with_field(what, field, text)
    if fresh is None:
        return None, f'"{text}" is no {field.replace("_", " ")} of this entry'
    return text, "that is what it says already" if fresh == what else ""


def _step_kind(case: Case, what: Any) -> str:
    step = finding.step(case.checklist, what.stage, what.step) if isinstance(what, StepAnswered) else None
    return step.kind if step is not None else ""


def _options(options: Iterable[Option]) -> tuple[tuple[str, str], ...]:
    return tuple((option.id, option.text) for option in options)
