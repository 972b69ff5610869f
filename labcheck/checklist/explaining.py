"""A checklist unfolded for a plan, as plain lines for the person who writes it."""

from __future__ import annotations

from collections.abc import Iterator

from labcheck.checklist.finding import decision, source, stage
from labcheck.checklist.model import Bailout, Checklist, Stage, Step, When
from labcheck.checklist.plan import Plan
from labcheck.checklist.unfolding import cusp_word, may_apply, unfold
from labcheck.checklist.words import Mark

MARK_WORDS: dict[Mark, str] = {
    "seen": "seen",
    "secondary": "read second-hand",
    "memory": "from memory",
    "practice": "common practice",
    "derived": "own computation or reading",
}

LEAD_WORDS = {
    "carry_on": "carry on",
    "abandon_cusp": "abandon this cusp",
    "jump": "go to",
    "convert": "convert to surgery",
}


def example_plan(checklist: Checklist, cusps: int | None = None) -> Plan:
    """The plainest plan the checklist allows, for looking at it: as many cusps as it can take, or fewer."""
    most = checklist.max_cusps if cusps is None else max(1, min(cusps, checklist.max_cusps))
    return Plan(
        technique=checklist.technique,
        substrate=checklist.substrates[0],
        targets=checklist.cusps[:most],
    )


def explain(checklist: Checklist, plan: Plan) -> list[str]:
    """What a case with this plan is asked for, stage by stage, then rescues, sign-out and sources.

    Lines that hang on a decision say so; a stage that a decision can skip says by which option.
    """
    order = ", then ".join(cusp_word(cusp) for cusp in plan.targets)
    lines = [
        f"{checklist.title} ({checklist.id}, revision {checklist.revision})",
        f"unfolded for: {plan.substrate} valve, {order}",
        checklist.verify,
    ]
    for number, slot in enumerate(unfold(checklist, plan.targets), 1):
        if one := stage(checklist, slot.stage):
            lines += ["", *_stage_lines(checklist, plan, number, one, cusp_word(slot.cusp))]
    lines += ["", "RESCUES (reachable from anywhere)"]
    for path in checklist.bailout:
        lines += _bailout_lines(checklist, plan, path)
    lines += ["", "SIGN-OUT settles"]
    lines += [f"  {item.text}{_if(item.when)}" for item in checklist.signout if may_apply(item.when, plan)]
    lines += ["", "SOURCES, and how well each was checked"]
    lines += [f"  {one.id}: {one.text} ({MARK_WORDS[one.mark]})" for one in checklist.source]
    return lines


def _stage_lines(checklist: Checklist, plan: Plan, number: int, one: Stage, cusp: str) -> Iterator[str]:
    marks = [word for word, on in (("optional", one.optional), ("quiet", one.quiet)) if on]
    call = f"{one.call}, {cusp}" if cusp else one.call
    head = f'{number:2}  {one.big}{f" {cusp}" if cusp else ""}: {one.title}. Opens at "{call}"'
    yield head + (f" ({', '.join(marks)})" if marks else "")
    for choice in checklist.decision:
        for option in choice.options:
            if one.id in option.skips:
                yield f'      skipped when {choice.id} is "{option.id}"'
    for hold in one.hold:
        if may_apply(hold.when, plan):
            yield f"      needs   {hold.text}{_if(hold.when)}{_from(checklist, hold.source)}"
    for step in one.step:
        if may_apply(step.when, plan):
            yield f"      {_step_line(checklist, step)}"
    if one.attempts:
        words = [
            f"{outcome.text}{' (success)' if outcome.id in one.attempts.success else ''}"
            for outcome in one.attempts.outcomes
        ]
        yield f"      tries   {', '.join(words)}"
        if energy := one.attempts.energy:
            watts = f", {energy.watts} W" if energy.watts else ""
            yield f"      energy  {energy.mode}{watts}{_from(checklist, energy.source)}"


def _step_line(checklist: Checklist, step: Step) -> str:
    asked = step.options
    if step.kind == "decision" and (choice := decision(checklist, step.decision or "")):
        asked = choice.options
    options = f": {' / '.join(option.text for option in asked)}" if asked else ""
    mark = "KILLER " if step.killer else "-      "
    owner = f" [{step.owner}]" if step.owner else ""
    return f"{mark} {step.say}{options}{owner}{_if(step.when)}{_from(checklist, step.source)}"


def _bailout_lines(checklist: Checklist, plan: Plan, path: Bailout) -> Iterator[str]:
    leads = []
    for lead in path.leads:
        target = stage(checklist, path.jump_to or "") if lead == "jump" else None
        leads.append(f"{LEAD_WORDS[lead]} {target.title.lower()}" if target else LEAD_WORDS[lead])
    yield f"  {path.big}: {path.title}; may end in: {', '.join(leads)}{_from(checklist, path.source)}"
    for step in path.step:
        if may_apply(step.when, plan):
            yield f"      {_step_line(checklist, step)}"


def _if(when: When | None) -> str:
    if when is None or when.decision is None:
        return ""
    return (
        f" (if {when.decision} is {' or '.join(when.is_)})"
        if when.is_
        else f" (once {when.decision} is made)"
    )


def _from(checklist: Checklist, source_id: str | None) -> str:
    found = source(checklist, source_id) if source_id else None
    return f"  <- {found.text} ({MARK_WORDS[found.mark]})" if found else ""
