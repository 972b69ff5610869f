"""The steps of a stage or rescue as lines: what is read out, and how it stands."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from labcheck.caselog.case import Bailout, Case
from labcheck.caselog.events import StepAnswered
from labcheck.caselog.holds import choices
from labcheck.caselog.projecting import off_words, projection_of, view_of_step
from labcheck.caselog.standing import asked_anew, given_answer
from labcheck.checklist import finding
from labcheck.checklist.model import Option, Step
from labcheck.checklist.unfolding import Slot, steps_for
from labcheck.checklist.words import Cusp, Ostium

StepState = Literal["open", "done", "not_done", "not_applicable", "value"]


@dataclass(frozen=True, slots=True)
class StepLine:
    """One step. ``words``: the answer as it stands ("274 s", "not done: fellow scrubbing"), empty if open.

    ``anew``: the number of the earlier visit that answered it, where this visit asks for it again: it is open
    once more, ``words`` and ``seq`` are those of the earlier answer. 0 otherwise. ``rescue``: the seq of the rescue
    whose step it is, None for a stage's. ``ostium``: the one that is meant where the step asks for a reading of one.
    """

    step: Step
    stage: str
    cusp: Cusp | None
    state: StepState
    words: str
    seq: int | None
    anew: int = 0
    rescue: int | None = None
    ostium: Ostium | None = None

    @property
    def unanswered(self) -> bool:
        """No answer at all is on record, not even one of an earlier visit."""
        return self.state == "open" and not self.anew


def step_lines(case: Case, slot: Slot) -> tuple[StepLine, ...]:
    """The steps this case asks for in one slot, in reading order."""
    return _lines(case, slot.stage, slot.cusp)


def bailout_lines(case: Case, bailout_seq: int) -> tuple[StepLine, ...]:
    """The read-do steps of a rescue that was opened by the event with that seq, with the answers of that one alone."""
    rescue = next((b for b in case.bailouts if b.seq == bailout_seq), None)
    if rescue is None:
        return ()
    return _lines(case, f"{finding.BAILOUT_PREFIX}{rescue.what.bailout}", rescue.what.cusp, rescue)


def number_of(case: Case, rescue: Bailout) -> int:
    """Which of its kind and place a rescue is, from 1: the second arrest is 2."""
    return sum(1 for b in case.bailouts if b.what == rescue.what and b.seq <= rescue.seq)


def meant_ostium(step: Step, cusp: Cusp | None, rescue: Bailout | None = None) -> Ostium | None:
    """The ostium that a step's reading is of: its own, its rescue's, or that of the left or right cusp it is on."""
    said = step.ostium or (rescue.what.ostium if rescue is not None else None)
    return said or (cusp if cusp in ("left", "right") else None)


def _lines(
    case: Case, stage_id: str, cusp: Cusp | None, rescue: Bailout | None = None
) -> tuple[StepLine, ...]:
    holder = finding.holder(case.checklist, stage_id)
    if holder is None or case.plan is None:
        return ()
    opened = rescue.seq if rescue is not None else None
    lines = []
    for step in steps_for(holder, case.plan, choices(case)):
        state: StepState = "open"
        words, seq, anew = "", None, 0
        answer = given_answer(case, stage_id, cusp, step.id, opened)
        if answer is not None:
            seq = answer.seq
            words = answer_words(case, step, answer.what) + _off(case, step, answer.what)
            earlier = asked_anew(case, answer)
            if earlier is None:
                state = answer.what.answer
                words += _from_before(case, answer.what)
            else:
                anew = earlier.number
                words += f" {'in' if answer.seq > earlier.seq else 'before'} visit {anew}"
        ostium = meant_ostium(step, cusp, rescue)
        lines.append(StepLine(step, stage_id, cusp, state, words, seq, anew, opened, ostium))
    return tuple(lines)


def _from_before(case: Case, what: StepAnswered) -> str:
    """Says so when an answer was given in an earlier visit to the stage that is open again: it may be stale."""
    visit = case.visit
    if visit is None or (visit.stage, visit.cusp) != (what.stage, what.cusp) or what.opened is None:
        return ""
    earlier = next((v for v in case.visits if v.seq == what.opened), None)
    if earlier is None or earlier.seq == visit.seq:
        return ""
    return f", in visit {earlier.number}"


def _off(case: Case, step: Step, what: StepAnswered) -> str:
    """How far the projection of a step is off the planned one and off perpendicular, where that is known."""
    used = projection_of(what.value or "") if step.kind == "projection" else None
    if used is None or case.plan is None:
        return ""
    off = off_words(case.plan, what.cusp, view_of_step(step.id), used)
    return f", {off}" if off else ""


def answer_words(case: Case, step: Step, what: StepAnswered) -> str:
    """An answer as it would be said: the actual value, never just "checked"."""
    tail = f": {reason_words(case, what.reason)}" if what.reason else ""
    match what.answer:
        case "done":
            return "done"
        case "not_done":
            return f"not done{tail}"
        case "not_applicable":
            return f"not applicable{tail}"
        case _:
            return f"{_value_words(case, step, what)}{tail}"


def reason_words(case: Case, reason: str) -> str:
    """A reason as the checklist words it, or as it was typed."""
    known = finding.reason(case.checklist, reason)
    return known.text if known is not None else reason


def _value_words(case: Case, step: Step, what: StepAnswered) -> str:
    value = what.value or ""
    options: tuple[Option, ...] = step.options
    if step.kind == "decision" and step.decision:
        decision = finding.decision(case.checklist, step.decision)
        options = decision.options if decision else ()
    elif step.kind == "reading" and step.reading:
        reading = finding.reading(case.checklist, step.reading)
        options = reading.options if reading else ()
    elif step.kind == "device":
        device = finding.device(case.checklist, value)
        return device.text if device else value
    chosen = finding.option(options, value)
    if chosen is not None:
        return chosen.text
    if step.kind == "projection":
        return projection_words(value)
    return f"{value} {what.unit}" if what.unit else value


def projection_words(value: str) -> str:
    """``"-20 15"`` as "RAO 20 CRA 15": signed degrees, LAO and cranial positive."""
    parts = value.split()
    if len(parts) != 2:
        return value
    across, along = parts
    first = f"{'RAO' if across.startswith('-') else 'LAO'} {across.lstrip('+-')}"
    second = f"{'CAU' if along.startswith('-') else 'CRA'} {along.lstrip('+-')}"
    return f"{first} {second}"
