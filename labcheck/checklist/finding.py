"""Looking things up in a checklist by their id. Every function gives None where nothing has that id.

A checklist holds a few dozen things of a kind, so a plain scan is quicker than hashing the whole
checklist for a cache.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Protocol, TypeVar

from labcheck.checklist.model import (
    Bailout,
    Checklist,
    Decision,
    Drug,
    Interval,
    Option,
    Reading,
    Reason,
    ReasonUse,
    Run,
    SignOut,
    Source,
    Stage,
    Step,
    Tally,
    Thing,
    Watch,
)

BAILOUT_PREFIX = "bailout:"
"""Marks a bailout where a stage id is expected, as in ``bailout:coronary``."""


class _HasId(Protocol):
    @property
    def id(self) -> str: ...


_T = TypeVar("_T", bound=_HasId)


def by_id(things: Iterable[_T], id: str) -> _T | None:  # noqa: A002 (the checklist's own word)
    """The first of ``things`` whose id is ``id``."""
    return next((thing for thing in things if thing.id == id), None)


def stage(checklist: Checklist, stage_id: str) -> Stage | None:
    return by_id(checklist.stage, stage_id)


def bailout(checklist: Checklist, bailout_id: str) -> Bailout | None:
    """The bailout of that id, given bare or as ``bailout:<id>``."""
    return by_id(checklist.bailout, bailout_id.removeprefix(BAILOUT_PREFIX))


def holder(checklist: Checklist, stage_id: str) -> Stage | Bailout | None:
    """What holds the steps of ``stage_id``: a stage, or a bailout for ``bailout:<id>``."""
    if stage_id.startswith(BAILOUT_PREFIX):
        return bailout(checklist, stage_id)
    return stage(checklist, stage_id)


def step(checklist: Checklist, stage_id: str, step_id: str) -> Step | None:
    """A step of a stage, or of a bailout when ``stage_id`` is ``bailout:<id>``."""
    owner = holder(checklist, stage_id)
    return by_id(owner.step, step_id) if owner else None


def option(options: Iterable[Option], option_id: str) -> Option | None:
    return by_id(options, option_id)


def decision(checklist: Checklist, decision_id: str) -> Decision | None:
    return by_id(checklist.decision, decision_id)


def reading(checklist: Checklist, reading_id: str) -> Reading | None:
    return by_id(checklist.reading, reading_id)


def drug(checklist: Checklist, drug_id: str) -> Drug | None:
    return by_id(checklist.drug, drug_id)


def device(checklist: Checklist, device_id: str) -> Thing | None:
    return by_id(checklist.device, device_id)


def fault(checklist: Checklist, fault_id: str) -> Thing | None:
    return by_id(checklist.fault, fault_id)


def reason(checklist: Checklist, reason_id: str) -> Reason | None:
    return by_id(checklist.reason, reason_id)


def reasons_for(checklist: Checklist, use: ReasonUse) -> tuple[Reason, ...]:
    """The reasons offered for one use, in the order in which the file lists them (keys 1, 2, 3 ...)."""
    return tuple(reason for reason in checklist.reason if use in reason.uses)


def run(checklist: Checklist, run_id: str) -> Run | None:
    return by_id(checklist.run, run_id)


def tally(checklist: Checklist, tally_id: str) -> Tally | None:
    return by_id(checklist.tally, tally_id)


def watch(checklist: Checklist, watch_id: str) -> Watch | None:
    return by_id(checklist.watch, watch_id)


def interval(checklist: Checklist, interval_id: str) -> Interval | None:
    return by_id(checklist.interval, interval_id)


def signout(checklist: Checklist, signout_id: str) -> SignOut | None:
    return by_id(checklist.signout, signout_id)


def owners(checklist: Checklist) -> tuple[str, ...]:
    """Who answers steps in this checklist, each role once, in the order in which they first appear.

    ``all`` is no role: nobody in particular answers for it.
    """
    holders: tuple[Stage | Bailout, ...] = (*checklist.stage, *checklist.bailout)
    found = (step.owner for holder in holders for step in holder.step)
    return tuple(dict.fromkeys(owner for owner in found if owner and owner != "all"))


def source(checklist: Checklist, source_id: str) -> Source | None:
    return by_id(checklist.source, source_id)
