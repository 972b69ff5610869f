"""The steps a hold still waits for, to be answered where the hold stands in the way.

The step may belong to a stage that is long closed (the return pad, ticked at the time-out): nobody should have
to go back to it, or to pass a hold with a reason, when what it asks for has just been said aloud.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from labcheck.caselog.case import Case
from labcheck.caselog.holds import choices, met
from labcheck.caselog.intents import AnswerStep, OpenStage
from labcheck.caselog.progress import next_slot
from labcheck.checklist import finding
from labcheck.checklist.conditions import Condition
from labcheck.checklist.model import Step
from labcheck.checklist.unfolding import Slot, holds_for
from labcheck.checklist.words import Cusp
from labcheck.console.panels.panel import Desk, Press, record
from labcheck.console.panels.pick import Item
from labcheck.console.session import Refusal


def items(desk: Desk, refusal: Refusal) -> list[Item]:
    """One line for each step that a hold of the refused call waits for and that is answered by "done"."""
    intent = refusal.intent
    if not isinstance(intent, OpenStage) or intent.claim is not None:
        return []
    slot = Slot(intent.stage, intent.cusp) if intent.stage else next_slot(desk.case)
    if slot is None:
        return []
    return [
        Item(f"done now: {step.say}", _answer(desk, stage, cusp, step))
        for stage, cusp, step in _waited_for(desk.case, slot, refusal)
    ]


def _waited_for(case: Case, slot: Slot, refusal: Refusal) -> Iterator[tuple[str, Cusp | None, Step]]:
    stage = finding.stage(case.checklist, slot.stage)
    if stage is None or case.plan is None:
        return
    for hold in holds_for(stage, case.plan, choices(case)):
        for need in hold.need:
            found = _step(case, need, slot, refusal)
            if found is not None:
                yield found


def _step(case: Case, need: Condition, slot: Slot, refusal: Refusal) -> tuple[str, Cusp | None, Step] | None:
    if need.step is None or met(case, need, slot.cusp, refusal.stamp.moment()):
        return None
    stage_id, step_id = need.step.split(".")
    owner, step = finding.stage(case.checklist, stage_id), finding.step(case.checklist, stage_id, step_id)
    if owner is None or step is None or step.kind != "done" or (owner.per_cusp and slot.cusp is None):
        return None
    return stage_id, slot.cusp if owner.per_cusp else None, step


def _answer(desk: Desk, stage: str, cusp: Cusp | None, step: Step) -> Callable[[Press], None]:
    return lambda press: record(desk, press, AnswerStep, stage=stage, cusp=cusp, step=step.id, answer="done")
