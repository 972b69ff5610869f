"""Checking what refers to what outside the stages: decisions, figures, watches, rescues and sign-out."""

from __future__ import annotations

from collections.abc import Collection

from labcheck.checklist.check_stages import check_condition, check_point, check_step, check_when
from labcheck.checklist.complaint import nearest
from labcheck.checklist.faults import Faults
from labcheck.checklist.finding import reading
from labcheck.checklist.model import Bailout, Reading, Tally

_TALLY_NEEDS = {
    "sum": ("drug",),
    "latest": ("reading",),
    "cumulative": ("reading",),
    "count": ("run", "energy"),
    "seconds": ("run", "energy"),
}
"""What each kind of tally is built from: exactly one of these keys."""


def check_figures(faults: Faults, limits: Collection[str]) -> None:
    """``limits`` are the names that a notice may give instead of a number."""
    checklist = faults.checklist
    for drug in checklist.drug:
        where = (f"drug {drug.id}",)
        faults.must_exist(where, "source", "source", drug.source)
        faults.in_order(where, drug.low, drug.high)
        for amount in drug.usual:
            below = drug.low is not None and amount < drug.low
            if below or (drug.high is not None and amount > drug.high):
                faults.add((*where, "key usual"), f"{amount} is outside the range low to high")
    for run in checklist.run:
        faults.must_exist((f"run {run.id}",), "source", "source", run.source)
    for one in checklist.reading:
        _check_reading(faults, one)
    for tally in checklist.tally:
        _check_tally(faults, tally, limits)
    for watch in checklist.watch:
        where = (f"watch {watch.id}",)
        faults.must_exist(where, "source", "source", watch.source)
        check_when(faults, where, watch.when)
        check_point(faults, (*where, "start"), watch.start)
        check_point(faults, (*where, "end"), watch.end)
        if watch.again is not None:
            check_point(faults, (*where, "again"), watch.again)
        if watch.counts == "down" and watch.due_min is None:
            faults.add((*where, "key due_min"), "must be given for a watch that counts down")
        if watch.due_min is not None and watch.overdue_min is not None and watch.overdue_min < watch.due_min:
            faults.add((*where, "key overdue_min"), "must not be less than due_min")
    for interval in checklist.interval:
        where = (f"interval {interval.id}",)
        check_point(faults, (*where, "start"), interval.start)
        check_point(faults, (*where, "end"), interval.end)


def check_paths(faults: Faults) -> None:
    """Decisions, bailouts and sign-out items: what opens, skips, ends or settles something."""
    checklist = faults.checklist
    for decision in checklist.decision:
        where = (f"decision {decision.id}",)
        faults.must_exist(where, "source", "source", decision.source)
        faults.unique(where, "option", decision.options)
        for option in decision.options:
            inside = (*where, f"option {option.id}")
            for key in ("opens", "skips"):
                for stage in getattr(option, key):
                    faults.must_exist(inside, key, "stage", stage)
    for bailout in checklist.bailout:
        _check_bailout(faults, bailout)
    for item in checklist.signout:
        where = (f"signout {item.id}",)
        check_when(faults, where, item.when)
        for need in item.need:
            check_condition(faults, where, need)


def _check_reading(faults: Faults, one: Reading) -> None:
    where = (f"reading {one.id}",)
    faults.must_exist(where, "source", "source", one.source)
    faults.in_order(where, one.low, one.high)
    faults.plain_options(where, one.options)
    faults.plain_options(where, one.judged_by)
    if bool(one.options) == (one.unit is not None):
        faults.add((*where, "key unit"), "needs a unit or a list of options, and not both")
    if one.options and (one.units or one.cumulative or one.low is not None or one.high is not None):
        faults.add((*where, "key options"), "a coded reading has no units, range or running total")
    if one.units and one.unit not in one.units:
        faults.add((*where, "key units"), f'must hold the unit itself ("{one.unit}") among the others')


def _check_tally(faults: Faults, tally: Tally, limits: Collection[str]) -> None:
    where = (f"tally {tally.id}",)
    needs = _TALLY_NEEDS[tally.kind]
    given = [key for key in ("drug", "reading", "run", "energy") if getattr(tally, key)]
    if len(given) != 1 or given[0] not in needs:
        text = f"a tally of kind {tally.kind} is built from {' or '.join(needs)}; it names "
        faults.add(where, text + (" and ".join(given) or "nothing"))
    for key in ("drug", "reading", "run", "source"):
        faults.must_exist(where, key, key, getattr(tally, key))
    if (
        tally.kind == "cumulative"
        and (one := reading(faults.checklist, tally.reading or ""))
        and not one.cumulative
    ):
        faults.add((*where, "key reading"), f'reading "{one.id}" is not cumulative')
    if tally.per_kg and tally.kind != "sum":
        faults.add((*where, "key per_kg"), "belongs to a tally of kind sum")
    for number, notice in enumerate(tally.notice, 1):
        inside = (*where, f"notice number {number}")
        faults.must_exist(inside, "source", "source", notice.source)
        if (notice.at is None) == (notice.limit is None):
            faults.add(inside, "needs a number (at) or a named limit (limit), and not both")
        if notice.limit is not None and notice.limit not in limits:
            close = nearest(notice.limit, limits)
            faults.add((*inside, "key limit"), f'there is no limit named "{notice.limit}"', close)


def _check_bailout(faults: Faults, bailout: Bailout) -> None:
    where = (f"bailout {bailout.id}",)
    faults.must_exist(where, "source", "source", bailout.source)
    faults.unique(where, "step", bailout.step)
    faults.plain_options(where, bailout.outcomes)
    for step in bailout.step:
        check_step(faults, (*where, f"step {step.id}"), step)
    if ("jump" in bailout.leads) != (bailout.jump_to is not None):
        faults.add((*where, "key jump_to"), "must be given when leads has jump, and only then")
    faults.must_exist(where, "jump_to", "stage", bailout.jump_to)
