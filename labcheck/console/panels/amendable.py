"""What a field of an entry may be amended to, where it is one of a list: nobody should have to know the codes."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from labcheck.caselog.case import Case
from labcheck.caselog.events import Event
from labcheck.checklist import finding
from labcheck.checklist.model import Option

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


def _options(options: Iterable[Option]) -> tuple[tuple[str, str], ...]:
    return tuple((option.id, option.text) for option in options)
