"""Where the case stands in its checklist: the state of every slot, and the call that is expected next."""

from __future__ import annotations

from typing import Literal

from labcheck.caselog.case import Attempt, Case, Visit
from labcheck.caselog.copying import replace
from labcheck.caselog.events import StageClosed
from labcheck.caselog.ordering import by_happening, earlier
from labcheck.checklist import finding
from labcheck.checklist.model import Stage
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

    It is ``left`` when the case goes back, goes to the other cusp in the middle of a lane, or when the tries are
    known to have failed; a stage is never called done because somebody forgot to say how it ended.
    """
    visit = case.visit
    if visit is None:
        return "done"
    if visit.cusp is not None and visit.cusp in case.abandoned:
        return "abandoned"
    return "left" if _turns_away(case, visit.slot, target) or failed(case, visit) else "done"


def _turns_away(case: Case, here: Slot, target: Slot | None) -> bool:
    """Whether going on to ``target`` leaves a stage before it is finished, whatever its tries came to."""
    if target is None or target not in case.slots or here not in case.slots:
        return False
    if case.slots.index(target) <= case.slots.index(here) and not _lane_finished(case, here, target):
        return True
    other_cusp = target.cusp is not None and target.cusp != here.cusp
    return other_cusp and not _last_of_lane(case, here, target)


PROTECTION = "coronary_protection"
"""The technique that modifies no leaflet. Its tries wire a coronary: a wire can be lost again, a cut is not undone."""


def failed(case: Case, visit: Visit) -> bool:
    """Whether the tries of a visit are known to have failed, by the last of them that began.

    In the stage that modifies the leaflet any success counts: what is cut stays cut, whatever was tried after it.
    """
    stage = finding.stage(case.checklist, visit.stage)
    if stage is None or stage.attempts is None:
        return False
    tries = _tries(case, visit)
    outcomes = [one.outcome for one in tries]
    if not tries or outcomes[-1] is None or outcomes[-1] in stage.attempts.success:
        return False
    modifies = case.checklist.technique != PROTECTION and stage == deciding_stage(case)
    return not (modifies and any(outcome in stage.attempts.success for outcome in outcomes))


def deciding_stage(case: Case) -> Stage | None:
    """The last stage of the checklist that has tries on a cusp: they say what became of the leaflet, or of the wire."""
    stages = [s for s in case.checklist.stage if s.per_cusp and s.attempts is not None]
    return stages[-1] if stages else None


def _tries(case: Case, visit: Visit) -> list[Attempt]:
    """The tries of a visit in the order in which they began; those before it where it has none.

    What was crossed in an earlier visit has to be crossed again in this one.
    """
    here = [v for v in case.visits if v.slot == visit.slot]
    later = next((v for v in here if v.seq > visit.seq), None)
    tries = [a for a in case.attempts if (a.stage, a.cusp) == (visit.stage, visit.cusp)]
    if later is not None:
        tries = [a for a in tries if earlier(case, a.start, a.seq, later.start, later.seq)]
    own = [a for a in tries if not earlier(case, a.start, a.seq, visit.start, visit.seq)]
    return by_happening(case, ((a.start, a.seq, a) for a in (own or tries)))


def ended_as_known(case: Case) -> Case:
    """The case with every visit ended as its tries say by now: a result may be said or put right after the call.

    What the call itself decided stays: a stage left for an earlier one, or for the other cusp, was left.
    """
    visits = tuple(_as_known(case, visit) for visit in case.visits)
    return case if visits == case.visits else replace(case, visits=visits)


def _as_known(case: Case, visit: Visit) -> Visit:
    event = case.event(visit.end_seq) if visit.end_seq is not None else None
    if event is None or not isinstance(event.what, StageClosed):
        return visit
    how = event.what.how
    stage = finding.stage(case.checklist, visit.stage)
    given_up = how == "abandoned" and visit.cusp in case.abandoned
    if stage is not None and stage.attempts is not None and not given_up:
        target = next((v.slot for v in case.visits if v.seq > event.seq and _same_press(case, v, event.press)), None)
        away = how != "done" and _turns_away(case, visit.slot, target)
        how = "left" if away or failed(case, visit) else "done"
    return visit if how == visit.how else replace(visit, how=how)


def _same_press(case: Case, visit: Visit, press: str) -> bool:
    event = case.event(visit.seq)
    return event is not None and event.press == press


def _last_of_lane(case: Case, slot: Slot, target: Slot) -> bool:
    """Whether ``slot`` is its cusp's last in its lane, or ``target`` belongs to another lane."""
    lane = _lane(case, slot)
    if lane is None or _lane(case, target) != lane:
        return True
    return [s for s in case.slots if s.cusp == slot.cusp and _lane(case, s) == lane][-1] == slot


def _lane_finished(case: Case, here: Slot, target: Slot) -> bool:
    """Whether going to an earlier slot is still going on: this cusp's lane is through, the other's is not."""
    if target.cusp is None or target.cusp == here.cusp:
        return False
    return _lane(case, here) == _lane(case, target) and _last_of_lane(case, here, target)
