"""Where the case stands in its checklist: the state of every slot, and the call that is expected next."""

from __future__ import annotations

from typing import Literal

from labcheck.caselog.case import Case
from labcheck.checklist import finding
from labcheck.checklist.unfolding import Slot, cusp_word
from labcheck.checklist.words import Cusp

SlotState = Literal["open", "done", "left", "skipped", "abandoned", "passed", "waiting"]
"""``passed``: overtaken by a later stage without anybody deciding so, that is, missing."""


def slot_state(case: Case, slot: Slot) -> SlotState:
    """How far one slot has come."""
    visit = case.visit
    if visit is not None and visit.slot == slot:
        return "open"
    visits = [v for v in case.visits if v.slot == slot]
    if visits and visits[-1].how == "done":
        return "done"
    if slot.cusp is not None and slot.cusp in case.abandoned:
        return "abandoned"
    if slot in case.skipped:
        return "skipped"
    if visits:
        return "left"
    return "passed" if _overtaken(case, slot) else "waiting"


def _overtaken(case: Case, slot: Slot) -> bool:
    """Whether the case has gone beyond a slot: a later one of the same cusp, or of no cusp, has been entered."""
    if slot not in case.slots:
        return False
    place = case.slots.index(slot)
    visit = case.visit
    if visit is not None and visit.slot in case.slots and case.slots.index(visit.slot) < place:
        return False
    entered = {v.slot for v in case.visits}
    later = case.slots[place + 1 :]
    return any(s in entered for s in later if slot.cusp is None or s.cusp in (None, slot.cusp))


def _wanted(case: Case, slot: Slot) -> bool:
    return slot_state(case, slot) in ("waiting", "left", "passed")


def _lane(case: Case, slot: Slot) -> str | None:
    stage = finding.stage(case.checklist, slot.stage)
    return stage.lane or stage.id if stage is not None and stage.per_cusp else None


def next_slot(case: Case) -> Slot | None:
    """The slot whose call is expected: where a rescue leads, else the next unfinished one in order.

    At the end of a lane an unfinished slot of the same lane on another cusp comes first, so that one cusp is
    never cut while the other is still to be prepared.
    """
    jump = _jump(case)
    if jump is not None:
        return jump
    visit = case.visit
    last = visit or (case.visits[-1] if case.visits else None)
    if last is None or last.slot not in case.slots:
        return next((s for s in case.slots if _wanted(case, s)), None)
    place = case.slots.index(last.slot)
    after = [s for s in case.slots[place + 1 :] if _wanted(case, s)]
    lane = _lane(case, last.slot)
    if lane is not None and (not after or _lane(case, after[0]) != lane):
        before = [s for s in case.slots[:place] if _lane(case, s) == lane and _wanted(case, s)]
        if before:
            return before[0]
    return after[0] if after else None


def _jump(case: Case) -> Slot | None:
    """Where the last finished rescue leads, until a stage has been opened after it."""
    ended = [b for b in case.bailouts if b.end_seq is not None and b.lead == "jump"]
    if not ended:
        return None
    rescue = max(ended, key=lambda b: b.end_seq or 0)
    if any(v.seq > (rescue.end_seq or 0) for v in case.visits):
        return None
    path = finding.bailout(case.checklist, rescue.what.bailout)
    if path is None or path.jump_to is None:
        return None
    return next((s for s in case.slots if s.stage == path.jump_to and slot_state(case, s) != "open"), None)


def stage_title(case: Case, stage_id: str, cusp: Cusp | None) -> str:
    """The stage as a line: its title and the cusp."""
    holder = finding.holder(case.checklist, stage_id)
    title = holder.title if holder is not None else stage_id
    return f"{title}, {cusp_word(cusp)}" if cusp else title


def call_words(case: Case, slot: Slot) -> str:
    """What the operator says to open this slot, with the cusp."""
    stage = finding.stage(case.checklist, slot.stage)
    call = stage.call if stage is not None else slot.stage
    return f"{call}, {cusp_word(slot.cusp)}" if slot.cusp else call


def next_words(case: Case) -> str:
    """The expected call in full: what ends the present stage, then what opens the next; empty at the end."""
    visit = case.visit
    present = finding.stage(case.checklist, visit.stage) if visit is not None else None
    done = present.done_call if present is not None else None
    slot = next_slot(case)
    parts = [part for part in (done, call_words(case, slot) if slot is not None else None) if part]
    if not parts and visit is not None:
        return f"{stage_title(case, visit.stage, visit.cusp)} finished"
    return ". ".join(parts)


def jumped(case: Case, target: Slot) -> tuple[Slot, ...]:
    """The unfinished slots that opening ``target`` now would pass over. Optional stages do not count.

    On the way to another cusp's slot, a cusp's own slots are not passed over: the order of cusps is free.
    """
    if target not in case.slots:
        return ()
    entered = [case.slots.index(v.slot) for v in case.visits if v.slot in case.slots]
    visit = case.visit
    if visit is not None and visit.slot in case.slots:
        place = case.slots.index(visit.slot)
    else:
        place = max(entered, default=-1)
    out = []
    for slot in case.slots[place + 1 : case.slots.index(target)]:
        stage = finding.stage(case.checklist, slot.stage)
        other_cusp = target.cusp is not None and slot.cusp not in (None, target.cusp)
        if stage is None or stage.optional or other_cusp:
            continue
        if _wanted(case, slot):
            out.append(slot)
    return tuple(out)


def closing(case: Case, target: Slot | None) -> Literal["done", "left", "abandoned"]:
    """How the open visit ends when ``target`` opens (None: nothing opens).

    It is ``left`` when the case goes back, goes to the other cusp in the middle of a lane, or when the last
    attempt is known to have failed; a stage is never called done because somebody forgot to say how it ended.
    """
    visit = case.visit
    if visit is None:
        return "done"
    if visit.cusp is not None and visit.cusp in case.abandoned:
        return "abandoned"
    if target is not None and target in case.slots and visit.slot in case.slots:
        if case.slots.index(target) <= case.slots.index(visit.slot) and not _lane_finished(case, target):
            return "left"
        other_cusp = target.cusp is not None and target.cusp != visit.cusp
        if other_cusp and not _last_of_lane(case, visit.slot, target):
            return "left"
    stage = finding.stage(case.checklist, visit.stage)
    if stage is not None and stage.attempts is not None:
        tries = [a for a in case.attempts if a.stage == visit.stage and a.cusp == visit.cusp]
        outcome = tries[-1].outcome if tries else None
        if outcome is not None and outcome not in stage.attempts.success:
            return "left"
    return "done"


def _last_of_lane(case: Case, slot: Slot, target: Slot) -> bool:
    """Whether ``slot`` is its cusp's last in its lane, or ``target`` belongs to another lane."""
    lane = _lane(case, slot)
    if lane is None or _lane(case, target) != lane:
        return True
    return [s for s in case.slots if s.cusp == slot.cusp and _lane(case, s) == lane][-1] == slot


def _lane_finished(case: Case, target: Slot) -> bool:
    """Whether going to an earlier slot is still going on: this cusp's lane is through, the other's is not."""
    visit = case.visit
    if visit is None or target.cusp is None or target.cusp == visit.cusp:
        return False
    return _lane(case, visit.slot) == _lane(case, target) and _last_of_lane(case, visit.slot, target)
