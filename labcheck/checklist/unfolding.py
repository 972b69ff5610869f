"""Unfolding a checklist for a plan: which stages come, in which order, with which steps and holds."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import groupby

from labcheck.checklist.model import Bailout, Checklist, Hold, Stage, Step, When
from labcheck.checklist.plan import Plan
from labcheck.checklist.words import CUSP_WORDS, Cusp


@dataclass(frozen=True, slots=True)
class Slot:
    """One place in the expected order: a stage, and the cusp where the stage is per cusp."""

    stage: str
    cusp: Cusp | None = None


def unfold(checklist: Checklist, plan_targets: tuple[Cusp, ...]) -> tuple[Slot, ...]:
    """The expected order of stages. Neighbouring per-cusp stages of one lane run through for the first
    cusp, then for the next; a per-cusp stage outside a lane runs for each cusp by itself.
    """
    slots: list[Slot] = []
    for group in _groups(checklist.stage):
        cusps: tuple[Cusp | None, ...] = plan_targets if group[0].per_cusp else (None,)
        slots.extend(Slot(stage.id, cusp) for cusp in cusps for stage in group)
    return tuple(slots)


def _groups(stages: Iterable[Stage]) -> list[tuple[Stage, ...]]:
    def key(numbered: tuple[int, Stage]) -> tuple[str, str | int]:
        number, stage = numbered
        if stage.per_cusp and stage.lane is not None:
            return "lane", stage.lane
        return "alone", number

    return [tuple(stage for _, stage in run) for _, run in groupby(enumerate(stages), key)]


def applies(when: When | None, plan: Plan, decisions: Mapping[str, str]) -> bool:
    """Whether something limited by ``when`` is wanted in this case.

    ``decisions`` maps decision id to the option taken. What depends on a decision that has not been
    taken yet does not apply.
    """
    if when is None:
        return True
    if not may_apply(when, plan):
        return False
    if when.decision is None:
        return True
    taken = decisions.get(when.decision)
    return taken is not None and (not when.is_ or taken in when.is_)


def may_apply(when: When | None, plan: Plan) -> bool:
    """Whether the plan leaves it open that something limited by ``when`` is wanted, whatever is decided."""
    if when is None:
        return True
    cusps = "one" if len(plan.targets) == 1 else "two"
    return (
        (not when.substrate or plan.substrate in when.substrate)
        and when.cusps in (None, cusps)
        and when.protection_planned in (None, bool(plan.protection_planned))
    )


def steps_for(stage: Stage | Bailout, plan: Plan, decisions: Mapping[str, str]) -> tuple[Step, ...]:
    """The steps of a stage or bailout that this case asks for, in order."""
    return tuple(step for step in stage.step if applies(step.when, plan, decisions))


def holds_for(stage: Stage, plan: Plan, decisions: Mapping[str, str]) -> tuple[Hold, ...]:
    """The hold points of a stage that this case asks for, in order."""
    return tuple(hold for hold in stage.hold if applies(hold.when, plan, decisions))


def skipped_stages(checklist: Checklist, decisions: Mapping[str, str]) -> dict[str, str]:
    """Stages that the decisions taken so far skip, each with the decision that skips it.

    A stage that another taken option opens is not skipped.
    """
    opened: set[str] = set()
    skipped: dict[str, str] = {}
    for decision in checklist.decision:
        for option in decision.options:
            if decisions.get(decision.id) == option.id:
                opened.update(option.opens)
                skipped.update(dict.fromkeys(option.skips, decision.id))
    return {stage: decision for stage, decision in skipped.items() if stage not in opened}


def cusp_word(cusp: Cusp | None) -> str:
    """The cusp as it is said aloud; empty for a stage that is not per cusp."""
    return CUSP_WORDS[cusp] if cusp else ""
