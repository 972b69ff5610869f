"""Hold points: what must be true before a stage may open, and what of it is not true yet."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from labcheck.caselog.case import Case
from labcheck.caselog.progress import failed, jumped, slot_state, stage_title
from labcheck.caselog.stamps import Moment, Stamp, known_span
from labcheck.caselog.standing import standing_answer
from labcheck.caselog.tallies import in_time, latest_reading, total
from labcheck.caselog.units import in_own_unit
from labcheck.checklist import finding
from labcheck.checklist.conditions import Condition
from labcheck.checklist.unfolding import Slot, cusp_word, holds_for
from labcheck.checklist.words import Cusp


@dataclass(frozen=True, slots=True)
class Unmet:
    """One thing that is not true yet: the hold's id (or ``order``, ``abandoned``) and the line to read out."""

    hold: str
    text: str


def choices(case: Case) -> dict[str, str]:
    """Decision id -> option taken."""
    return {name: made.choice for name, made in case.decisions.items()}


def unmet(case: Case, slot: Slot, now: Stamp | Moment) -> tuple[Unmet, ...]:
    """What is not true yet before this slot may open: its holds, then what it would pass over."""
    at = now.moment() if isinstance(now, Stamp) else now
    stage = finding.stage(case.checklist, slot.stage)
    if stage is None or case.plan is None:
        return ()
    out = [
        Unmet(hold.id, hold.text)
        for hold in holds_for(stage, case.plan, choices(case))
        if not all(met(case, need, slot.cusp, at) for need in hold.need)
    ]
    if slot.cusp is not None and slot.cusp in case.abandoned:
        out.append(Unmet("abandoned", f"{cusp_word(slot.cusp)} cusp was abandoned"))
    out.extend(
        Unmet("order", f"not done: {stage_title(case, missed.stage, missed.cusp)}")
        for missed in jumped(case, slot)
    )
    return tuple(out)


def met(case: Case, condition: Condition, cusp: Cusp | None, now: Moment) -> bool:
    """Whether one condition is true now."""
    match condition.subject:
        case "step":
            return _step_met(case, condition, cusp)
        case "stage":
            return _stage_met(case, condition.stage or "", cusp)
        case "each_cusp":
            return all(
                _stage_met(case, condition.each_cusp or "", target)
                for target in case.order
                if target not in case.abandoned
            )
        case "reading":
            return _reading_met(case, condition, now)
        case "tally":
            return _within(tally_value(case, condition.tally or "", now), condition)
        case _:
            made = case.decisions.get(condition.decision or "")
            return made is not None and (not condition.is_ or made.choice in condition.is_)


def _step_met(case: Case, condition: Condition, cusp: Cusp | None) -> bool:
    stage, step = (condition.step or ".").split(".", 1)
    answer = standing_answer(case, stage, cusp, step) or standing_answer(case, stage, None, step)
    if answer is None:
        owner = finding.stage(case.checklist, stage)
        if cusp is None and owner is not None and owner.per_cusp:
            return all(
                _step_met(case, condition, target) for target in case.order if target not in case.abandoned
            )
        return False
    if condition.is_:
        return answer.what.answer == "value" and answer.what.value in condition.is_
    return answer.what.answer in ("done", "value", "not_applicable")


def _stage_met(case: Case, stage: str, cusp: Cusp | None) -> bool:
    slots = [s for s in case.slots if s.stage == stage]
    own = [s for s in slots if s.cusp == cusp] or slots
    return bool(own) and all(_finished(case, slot) for slot in own)


def _finished(case: Case, slot: Slot) -> bool:
    """Done, or rightly not needed. The stage that is open counts as done: the call that opens the next ends it."""
    if slot_state(case, slot) == "open":
        return case.visit is None or not failed(case, case.visit)
    return slot_state(case, slot) in ("done", "abandoned") or (
        slot in case.skipped and case.skipped[slot].why == "decision"
    )


def _reading_met(case: Case, condition: Condition, now: Moment) -> bool:
    last = latest_reading(case, condition.reading or "")
    if last is None:
        return False
    if condition.within_min is not None:
        since = known_span(last.at, now)
        if since is None or since.us > condition.within_min * 60_000_000:
            return False
    if condition.at_least is None and condition.at_most is None:
        return True
    reading = finding.reading(case.checklist, last.what.reading)
    value = in_own_unit(reading, last.what.value, last.what.unit) if reading is not None else None
    return _within(value, condition)


def _within(value: Decimal | None, condition: Condition) -> bool:
    if value is None:
        return False
    if condition.at_least is not None and value < condition.at_least:
        return False
    return condition.at_most is None or value <= condition.at_most


def tally_value(case: Case, tally_id: str, now: Moment) -> Decimal | None:
    """The running figure of a tally in its own unit (seconds for ``seconds``); None where nothing was recorded.

    A dose whose amount was not said is not in the sum; who shows the sum says so.
    """
    tally = finding.tally(case.checklist, tally_id)
    return total(case, tally, now).value if tally is not None else None


def latest_value(case: Case, reading_id: str) -> Decimal | None:
    """The value taken last of a reading, in the checklist's own unit; None where none was taken or it has no number.

    By when it was taken: one entered late is not what the counter shows now.
    """
    reading = finding.reading(case.checklist, reading_id)
    if reading is None:
        return None
    for taken in reversed(in_time(case, (r for r in case.readings if r.what.reading == reading_id))):
        if taken.what.value is not None:
            return in_own_unit(reading, taken.what.value, taken.what.unit)
    return None
