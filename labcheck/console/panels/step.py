"""Answering the marked step: done at once where that is an answer, else its value, in the form the step asks for."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from labcheck.caselog.events import Event
from labcheck.caselog.intents import AnswerStep
from labcheck.caselog.limit_words import usual_words
from labcheck.caselog.projecting import offered, view_of_step
from labcheck.caselog.steps import StepLine
from labcheck.caselog.typed_times import in_two_digits
from labcheck.checklist import finding
from labcheck.checklist.model import Option
from labcheck.console.panels import drug, entries, reading, things
from labcheck.console.panels.asking import Ask
from labcheck.console.panels.panel import Desk, Panel, Press, record
from labcheck.console.panels.pick import Item, Pick
from labcheck.console.panels.reasons import reason_pick

PROJECTION = re.compile(r"[+-]?\d{1,2} [+-]?\d{1,2}")


def answer(desk: Desk, line: StepLine, press: Press) -> None:
    """Right: the plain answer. A step that wants a value opens for it; nothing is recorded until it is there."""
    if line.step.kind == "done":
        record(desk, press, AnswerStep, **_who(line), answer="done")
        return
    panel = value_panel(desk, line)
    if panel is not None:
        desk.turn(panel)


def other(desk: Desk, line: StepLine) -> Panel:
    """Left: every other answer. What a reading or dose recorded is corrected there, or there is another one."""
    recorded = _recorded(desk, line)
    first = "done" if line.step.kind == "done" else "its value"
    if recorded is not None:
        first = "measured again" if line.step.kind == "reading" else "given once more"
    items = [Item(first, lambda press: answer(desk, line, press))]
    if recorded is not None:
        entry = recorded
        items.append(Item("correct what was recorded", lambda _press: desk.turn(entries.correcting(desk, entry))))
    items.append(Item("NOT done", _not_done(desk, line)))
    items.append(Item("does not apply in this case", _not_applicable(desk, line)))
    return Pick(desk, f"STEP  {line.step.say}", items, panel_id="step")


def _recorded(desk: Desk, line: StepLine) -> Event | None:
    """The entry of the reading or dose that answered the step; None where there is none."""
    answered = desk.case.event(line.seq) if line.seq is not None and line.state in ("done", "value") else None
    if answered is None or line.step.kind not in ("reading", "dose"):
        return None
    kinds = ("reading.taken", "dose.given")
    return next((e for e in desk.case.log if e.press == answered.press and e.kind in kinds), None)


def value_panel(desk: Desk, line: StepLine) -> Panel | None:
    """The panel that asks for a step's value."""
    step = line.step
    match step.kind:
        case "reading" if step.reading:
            return reading.start(desk, step.reading, _place(desk, line), step.id, line.rescue)
        case "dose" if step.drug:
            return drug.start(desk, step.drug)
        case "decision" if step.decision:
            return things.start_decision(desk, step.decision)
        case "choice":
            return _options(desk, line, step.options)
        case "device":
            return _devices(desk, line)
        case _:
            return _typed(desk, line)


def _place(desk: Desk, line: StepLine) -> str | None:
    """The cusp or ostium that the step's reading is of; None where it has none, or the panel has to ask."""
    found = finding.reading(desk.case.checklist, line.step.reading or "")
    return line.ostium if found is not None and found.per == "ostium" else line.cusp


def _who(line: StepLine) -> dict[str, Any]:
    return {"step": line.step.id, "stage": line.stage, "cusp": line.cusp, "rescue": line.rescue}


def _options(desk: Desk, line: StepLine, options: tuple[Option, ...]) -> Panel:
    items = [Item(option.text, _option(desk, line, option)) for option in options]
    return Pick(desk, f"STEP  {line.step.say}", items, panel_id="step")


def _devices(desk: Desk, line: StepLine) -> Panel:
    """The devices that belong to the step, where the checklist says which; the others one key further."""
    known = tuple(Option(id=d.id, text=d.text) for d in desk.case.checklist.device)
    own = tuple(option for option in known if option.id in line.step.devices)
    if not own or len(own) == len(known):
        return _options(desk, line, known)
    items = [Item(option.text, _option(desk, line, option)) for option in own]
    others = tuple(option for option in known if option not in own)
    items.append(Item("another device", lambda _press: desk.turn(_options(desk, line, others))))
    return Pick(desk, f"STEP  {line.step.say}", items, panel_id="step")


def _option(desk: Desk, line: StepLine, option: Option) -> Callable[[Press], None]:
    def chosen(press: Press) -> None:
        fields = {**_who(line), "answer": "value", "value": option.id}
        if not option.needs_reason:
            record(desk, press, AnswerStep, **fields)
            return

        def because(text: str, again: Press) -> None:
            record(desk, again, AnswerStep, **fields, reason=text)

        desk.turn(reason_pick(desk, f"WHY: {option.text}", "not_done", because))

    return chosen


def _typed(desk: Desk, line: StepLine) -> Panel:
    step = line.step
    allowed, ask, lead = None, "answer", []
    if step.kind == "number":
        allowed, ask = reading.NUMBER, "value"
        words = usual_words(desk.case, step.low, step.high, step.source)
        lead = [words] if words else []
    elif step.kind == "time":
        allowed, ask = "0123456789:", "time hh:mm"
    elif step.kind == "projection":
        allowed, ask = "0123456789+- ", "degrees"
        lead = ["two numbers: LAO is plus and RAO minus, then cranial plus and caudal minus, as in -20 15"]
        lead += _aim(desk, line)

    def done(text: str, press: Press) -> str:
        complaint = _wrong(step.kind, text)
        if not complaint:
            value = _as_written(step.kind, text)
            record(desk, press, AnswerStep, **_who(line), answer="value", value=value, unit=step.unit)
        return complaint

    units = (step.unit,) if step.unit else ()
    return Ask(desk, f"STEP  {step.say}", ask, done, panel_id="step", lead=lead, units=units, allowed=allowed)


def _aim(desk: Desk, line: StepLine) -> list[str]:
    """The view to aim for, to read beside what is typed; never typed by itself, since it may not be the one used."""
    view, plan = view_of_step(line.step.id), desk.case.plan
    aim = offered(plan, line.cusp, view) if plan is not None and line.cusp is not None and view is not None else None
    if aim is None:
        return []
    return [f"{'planned' if aim.planned else 'computed from the hinge points'}: {aim.projection.text()}"]


def _as_written(kind: str, text: str) -> str:
    """The value in the form entries write it: "09:05" for "9:05", "27.4" for "27,4"."""
    number = reading.number(text) if kind == "number" else None
    if number is not None:
        return f"{number:f}"
    return (in_two_digits(text) if kind == "time" else None) or text


def _wrong(kind: str, text: str) -> str:
    if not text:
        return "nothing typed"
    if kind == "number" and reading.number(text) is None:
        return reading.no_number(text)
    if kind == "time" and in_two_digits(text) is None:
        return f'"{text}" is not a time such as 14:05'
    if kind == "projection" and not PROJECTION.fullmatch(text):
        return f'"{text}" is not two numbers such as -20 15'
    return ""


def _not_done(desk: Desk, line: StepLine) -> Callable[[Press], None]:
    def ask(_press: Press) -> None:
        def because(text: str, press: Press) -> None:
            record(desk, press, AnswerStep, **_who(line), answer="not_done", reason=text)

        desk.turn(reason_pick(desk, f"NOT DONE: {line.step.say}", "not_done", because))

    return ask


def _not_applicable(desk: Desk, line: StepLine) -> Callable[[Press], None]:
    return lambda press: record(desk, press, AnswerStep, **_who(line), answer="not_applicable")
