"""What an amendment says, in columns that a profile can hold back: ids, numbers, clock times and typed text apart."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from typing import Any

from labcheck.caselog.corrections import as_amended, moved
from labcheck.caselog.events import Event, EventAmended, StepAnswered
from labcheck.checklist import finding
from labcheck.checklist.model import Checklist
from labcheck.registry.deriving.frame import Frame, number
from labcheck.registry.deriving.values import asked_number, chosen

COLUMNS = ("value", "value_at", "value_text", "unit", "choice")
"""Where the new value stands; the value before stands in the column with ``before`` (see ``BEFORE``)."""
BEFORE: Mapping[str, str] = {
    "value": "before_value",
    "value_at": "before_at",
    "value_text": "before_text",
    "unit": "before_unit",
    "choice": "before_choice",
}
MOST_DIGITS = 17
"""Of microseconds since 1970, as the console takes them (year 5138); more is no time that a file could spell."""
FIXED: Mapping[str, frozenset[str]] = {
    "answer": frozenset({"done", "not_done", "not_applicable", "value"}),
    "action": frozenset({"opened", "placed", "changed", "removed", "failed"}),
    "ostium": frozenset({"left", "right"}),
    "reset": frozenset({"true", "false"}),
    "outside": frozenset({"true", "false"}),
}
"""Fields that hold one of a fixed list."""
NUMBERS = frozenset({"value", "amount", "rate", "watts"})


@dataclass(frozen=True, slots=True)
class _Target:
    """The entry that is amended and its payload just before the amendment."""

    frame: Frame
    event: Event
    what: Any


def amendment(frame: Frame, event: Event) -> dict[str, Any]:
    """The new value and the one before, each in the columns of its form; nothing for other entries."""
    what = event.what
    changed = frame.case.event(what.target) if isinstance(what, EventAmended) else None
    if not isinstance(what, EventAmended) or changed is None:
        return {}
    earlier = [frame.case.log[n - 1] for n in frame.case.amended.get(changed.seq, ()) if n < event.seq]
    target = _Target(frame, changed, as_amended(changed, earlier)[0])
    new, old = (_said(target, what.field, text) for text in (what.value, what.before))
    return {**new, **{BEFORE[name]: value for name, value in old.items()}}


def _said(target: _Target, field: str, text: str | None) -> dict[str, Any]:
    found: dict[str, Any] = dict.fromkeys(COLUMNS)
    if text is None:
        return found
    if field == "happened":
        return found | _moment(target, text)
    if field == "unit":
        return found | {"unit": text}
    if isinstance(target.what, StepAnswered) and field == "value":
        return found | _answer(target, target.what, text)
    if field in NUMBERS and (amount := _amount(text)) is not None:
        return found | {"value": amount, "unit": _unit(target, field)}
    if field == "reason":
        code = target.frame.reason_code(text)
        return found | {"choice": code, "value_text": None if code == text else text}
    return found | {"choice" if text in _known(target, field) else "value_text": text}


def _moment(target: _Target, text: str) -> dict[str, Any]:
    if not text.isdecimal() or len(text) > MOST_DIGITS:
        return {}
    at = moved(target.event.happened, int(text))
    return {"value": target.frame.rel(at), "unit": "s", "value_at": target.frame.at(at)}


def _answer(target: _Target, what: StepAnswered, text: str) -> dict[str, Any]:
    step = finding.step(target.frame.case.checklist, what.stage, what.step)
    said = what.model_copy(update={"value": text})
    option, amount = chosen(target.frame, step, said), asked_number(step, said)
    if option is not None:
        return {"choice": option.id}
    return {"value": amount, "unit": what.unit} if amount is not None else {"value_text": text}


def _amount(text: str) -> float | None:
    try:
        exact = Decimal(text)
    except InvalidOperation:
        return None
    return number(exact) if exact.is_finite() else None


def _unit(target: _Target, field: str) -> str | None:
    if field == "watts":
        return "W"
    if field == "rate":
        return rate_unit(target.frame, getattr(target.what, "run", ""))
    unit: str | None = getattr(target.what, "unit", None)
    return unit


def rate_unit(frame: Frame, run: str) -> str | None:
    """The unit in which the rate of a run is entered."""
    found = finding.run(frame.case.checklist, run)
    return found.rate_unit if found is not None else None


def _known(target: _Target, field: str) -> Iterable[str]:
    """The words that this field may hold by the checklist, as ids; any other word was typed."""
    if field in FIXED:
        return FIXED[field]
    finder = _IDS.get(field)
    return finder(target.frame.case.checklist, target) if finder is not None else ()


def _of_reading(field: str) -> Callable[[Checklist, _Target], Iterable[str]]:
    def ids(checklist: Checklist, target: _Target) -> Iterable[str]:
        reading = finding.reading(checklist, getattr(target.what, "reading", ""))
        return [option.id for option in getattr(reading, field, ())]

    return ids


def _outcomes(checklist: Checklist, target: _Target) -> Iterable[str]:
    """The outcomes of the attempt or rescue that the amended entry ended."""
    begun = target.frame.case.event(
        getattr(target.what, "attempt", None) or getattr(target.what, "opened", None) or 0
    )
    stage = finding.stage(checklist, getattr(begun.what, "stage", "")) if begun else None
    rescue = finding.bailout(checklist, getattr(begun.what, "bailout", "")) if begun else None
    attempts = stage.attempts if stage is not None else None
    return [
        "abandoned",
        *(o.id for o in (attempts.outcomes if attempts else ())),
        *(o.id for o in (rescue.outcomes if rescue else ())),
    ]


_IDS: Mapping[str, Callable[[Checklist, _Target], Iterable[str]]] = {
    "drug": lambda checklist, _: [drug.id for drug in checklist.drug],
    "device": lambda checklist, _: [device.id for device in checklist.device],
    "fault": lambda checklist, _: [fault.id for fault in checklist.fault],
    "judge": lambda checklist, _: finding.owners(checklist),
    "choice": _of_reading("options"),
    "judged_by": _of_reading("judged_by"),
    "outcome": _outcomes,
}
