"""Checking a checklist against itself: faults that make it unusable, and warnings worth a second look."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import product
from typing import get_args

from labcheck.checklist.check_figures import check_figures, check_paths
from labcheck.checklist.check_stages import check_stages
from labcheck.checklist.complaint import Complaint
from labcheck.checklist.faults import Faults, Where
from labcheck.checklist.finding import reasons_for
from labcheck.checklist.model import Checklist, ReasonUse, Stage, Step, When
from labcheck.checklist.words import Substrate
from labcheck.reference.named_limits import NAMED_LIMITS

MOST_STEPS = 9
"""Items at one pause point. Five to nine, about a minute: Gawande 2009, read second-hand."""
MOST_PICKS = 9
"""Picks that the keys 1 to 9 reach."""

_TABLES = (
    "source", "stage", "decision", "reading", "drug", "device", "fault", "reason", "run", "tally",
    "watch", "interval", "bailout", "signout",
)  # fmt: skip


def complaints(checklist: Checklist, name: str | None = None) -> tuple[Complaint, ...]:
    """The faults that make a checklist unusable, in the order of the file's tables; empty for a sound one.

    ``name`` is the file's name in the complaints; without it, the checklist's id.
    """
    faults = Faults(checklist, name or f"{checklist.id}.toml")
    for table in _TABLES:
        faults.unique((), table, getattr(checklist, table))
    if checklist.max_cusps > len(checklist.cusps):
        faults.add(("key max_cusps",), f"is more than the {len(checklist.cusps)} cusps that are listed")
    check_stages(faults)
    check_paths(faults)
    check_figures(faults, NAMED_LIMITS)
    for use in get_args(ReasonUse):
        if not reasons_for(checklist, use):
            faults.add(("key reason",), f'no reason has the use "{use}", so it could never be given')
    return tuple(faults.found)


def warnings(checklist: Checklist, name: str | None = None) -> tuple[Complaint, ...]:
    """What is worth a second look in a checklist that can be used: the human-factor and source findings."""
    faults = Faults(checklist, name or f"{checklist.id}.toml")
    for one in checklist.stage:
        if (count := most_steps(checklist, one)) > MOST_STEPS:
            text = f"asks for {count} steps at one pause point; more than {MOST_STEPS} are not read out"
            faults.add((f"stage {one.id}",), text)
    for use in get_args(ReasonUse):
        if (count := len(reasons_for(checklist, use))) > MOST_PICKS:
            faults.add(
                ("key reason",), f'{count} reasons have the use "{use}"; the keys 1 to 9 reach {MOST_PICKS}'
            )
    for where, count in _picks(checklist):
        if count > MOST_PICKS:
            faults.add(where, f"has {count} options; the keys 1 to 9 reach {MOST_PICKS}")
    for where in _numbers_without_source(checklist):
        faults.add((*where, "key source"), "a clinical number without a source")
    _unasked(faults)
    _unused_sources(faults)
    return tuple(faults.found)


def most_steps(checklist: Checklist, one: Stage) -> int:
    """The most steps that any one case can be asked for in a stage."""
    decisions = [d for d in checklist.decision if any(s.when and s.when.decision == d.id for s in one.step)]
    choices = [[option.id for option in d.options] for d in decisions]
    most = 0
    for substrate, cusps, protected in product(get_args(Substrate), ("one", "two"), (True, False)):
        for taken in product(*choices):
            made = dict(zip((d.id for d in decisions), taken, strict=True))
            asked = sum(_wanted(step.when, substrate, cusps, protected, made) for step in one.step)
            most = max(most, asked)
    return most


def _wanted(when: When | None, substrate: str, cusps: str, protected: bool, made: Mapping[str, str]) -> bool:
    if when is None:
        return True
    return (
        (not when.substrate or substrate in when.substrate)
        and when.cusps in (None, cusps)
        and when.protection_planned in (None, protected)
        and (when.decision is None or not when.is_ or made.get(when.decision) in when.is_)
    )


def _steps(checklist: Checklist) -> Iterator[tuple[Where, Step]]:
    for stage in checklist.stage:
        yield from (((f"stage {stage.id}", f"step {step.id}"), step) for step in stage.step)
    for bailout in checklist.bailout:
        yield from (((f"bailout {bailout.id}", f"step {step.id}"), step) for step in bailout.step)


def _picks(checklist: Checklist) -> Iterator[tuple[Where, int]]:
    for where, step in _steps(checklist):
        yield where, len(step.options)
    for stage in checklist.stage:
        yield (f"stage {stage.id}", "attempts"), len(stage.attempts.outcomes) if stage.attempts else 0
    for bailout in checklist.bailout:
        yield (f"bailout {bailout.id}",), len(bailout.outcomes)
    for table in ("decision", "reading"):
        for thing in getattr(checklist, table):
            yield (f"{table} {thing.id}",), len(thing.options)


def _numbers_without_source(checklist: Checklist) -> Iterator[Where]:
    for where, step in _steps(checklist):
        if step.low is not None and step.source is None:
            yield where
    for one in checklist.stage:
        for hold in one.hold:
            limited = any(n.at_least is not None or n.at_most is not None or n.within_min for n in hold.need)
            if limited and hold.source is None:
                yield (f"stage {one.id}", f"hold {hold.id}")
        if one.attempts and one.attempts.notice_after and one.attempts.source is None:
            yield (f"stage {one.id}", "attempts")
        energy = one.attempts.energy if one.attempts else None
        if energy and (energy.watts or energy.usual_s) and energy.source is None:
            yield (f"stage {one.id}", "attempts", "energy")
    for reading in checklist.reading:
        figures = (reading.low, reading.high, reading.target_low, reading.recheck_min)
        if any(figure is not None for figure in figures) and reading.source is None:
            yield (f"reading {reading.id}",)
    for drug in checklist.drug:
        if (drug.usual or drug.low is not None or drug.high is not None) and drug.source is None:
            yield (f"drug {drug.id}",)
    for tally in checklist.tally:
        for number, notice in enumerate(tally.notice, 1):
            if notice.source is None and tally.source is None:
                yield (f"tally {tally.id}", f"notice number {number}")
    for watch in checklist.watch:
        if (watch.due_min is not None or watch.overdue_min is not None) and watch.source is None:
            yield (f"watch {watch.id}",)


def _unasked(faults: Faults) -> None:
    asked = {step.decision for one in faults.checklist.stage for step in one.step}
    for decision in faults.checklist.decision:
        if decision.id not in asked:
            faults.add((f"decision {decision.id}",), "no step asks for it")


def _unused_sources(faults: Faults) -> None:
    used = set(_sources_named(faults.checklist.model_dump()))
    for source in faults.checklist.source:
        if source.id not in used:
            faults.add((f"source {source.id}",), "nothing in this checklist names it")


def _sources_named(value: object) -> Iterator[str]:
    if isinstance(value, Mapping):
        if isinstance(named := value.get("source"), str):
            yield named
        for item in value.values():
            yield from _sources_named(item)
    elif isinstance(value, tuple | list):
        for item in value:
            yield from _sources_named(item)
