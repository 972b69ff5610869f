"""What must be settled before a case can be sealed: by doing it, or by a reason.

The ids are stable for the life of a case, so that a settled item stays settled: they name the entry, or the
step and cusp, or the checklist's own item.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from labcheck.caselog.case import Case
from labcheck.caselog.clockwords import clock_words
from labcheck.caselog.endpoints import untried
from labcheck.caselog.entry_words import attempt_name, bailout_title, reading_title, run_title
from labcheck.caselog.holds import choices, met
from labcheck.caselog.neuroprotection import FILTERS_OUT, ITEM, filters_in
from labcheck.caselog.progress import stage_title
from labcheck.caselog.stamps import Stamp
from labcheck.caselog.steps import step_lines
from labcheck.checklist.unfolding import Slot, applies

UNKNOWN_RECORDER = "unknown"
"""The tag of a recorder who has not said who they are."""


@dataclass(frozen=True, slots=True)
class Item:
    """One line of the sign-out list. ``settled`` is the reason it was settled with, None while it is open.

    ``killer``: a killer step of a stage that was opened has no answer.
    """

    id: str
    text: str
    settled: str | None
    killer: bool = False


def signout_items(case: Case, now: Stamp) -> tuple[Item, ...]:
    """Everything that still stands open, settled items among it. What was done since is not listed."""
    return tuple(
        Item(id, text, _settled(case, id, asked), asked > 0)
        for id, text, asked in (*_still_on(case), *_killers(case), *_needs(case, now))  # noqa: A001
    )


def _settled(case: Case, item: str, asked: int) -> str | None:
    """The reason it was settled with. A killer step that a later visit asks for again is not settled for that one."""
    settled = case.settled.get(item)
    return settled.what if settled is not None and settled.seq > asked else None


Line = tuple[str, str, int]
"""An id, its words, and of a killer step the visit that asks for it, 0 for all others."""


def _still_on(case: Case) -> Iterator[Line]:
    """What was begun and never ended."""
    visit, burst = case.visit, case.burst
    if visit is not None:
        yield f"visit:{visit.seq}", f"stage still open: {stage_title(case, visit.stage, visit.cusp)}", 0
    if burst is not None:
        yield f"burst:{burst.seq}", f"energy still on: {attempt_name(case, burst.attempt)}", 0
    for attempt in case.attempts:
        if attempt.outcome is None:
            yield f"attempt:{attempt.seq}", f"no outcome: {attempt_name(case, attempt.seq)}", 0
    yield from _untried(case)
    for spell in case.spells:
        if spell.end is None:
            yield f"run:{spell.seq}", f"still on: {run_title(case, spell.run)}", 0
    for sample in case.samples:
        if sample.answered is None:
            sent = f"sent {clock_words(sample.sent, seconds=False)}, no result"
            yield f"sample:{sample.seq}", f"{reading_title(case, sample.reading)} {sent}", 0
    for bailout in case.bailouts:
        if bailout.end is None:
            yield f"bailout:{bailout.seq}", f"bailout still open: {bailout_title(case, bailout.what)}", 0
    for mark in case.marks:
        if mark.what is None:
            yield f"mark:{mark.seq}", f"mark at {clock_words(mark.at)} is not described", 0


def _untried(case: Case) -> Iterator[Line]:
    """Stages in which a leaflet was to be cut, entered and without any attempt on record: how it went nobody said."""
    for cusp in case.order:
        visit = untried(case, cusp) if cusp not in case.abandoned else None
        if visit is not None:
            yield f"tries:{visit.seq}", f"no attempt recorded: {stage_title(case, visit.stage, cusp)}", 0


def _killers(case: Case) -> Iterator[Line]:
    """Killer steps without an answer, in every stage that was opened and not abandoned with its cusp."""
    for slot in dict.fromkeys(v.slot for v in case.visits):
        if slot.cusp is not None and slot.cusp in case.abandoned:
            continue
        asked = max(v.seq for v in case.visits if v.slot == slot)
        for line in step_lines(case, slot):
            if line.step.killer and line.state == "open":
                again = f"{line.words}, not answered again" if line.anew else "no answer"
                text = f"{again}: {line.step.say} ({stage_title(case, slot.stage, slot.cusp)})"
                yield step_id(case, slot, line.step.id), text, asked


def step_id(case: Case, slot: Slot, step: str) -> str:
    """The id of a step's item. Long ones name the first visit instead, to stay within 80 characters."""
    cusp = f":{slot.cusp}" if slot.cusp else ""
    full = f"step:{slot.stage}.{step}{cusp}"
    if len(full) <= 80:
        return full
    first = next((v.seq for v in case.visits if v.slot == slot), 0)
    return f"step:{first}.{step}"


def _needs(case: Case, now: Stamp) -> Iterator[Line]:
    """The checklist's own sign-out items whose need is not met, filters that no entry took out, and a record
    nobody has put their tag to."""
    own_line = False
    if case.plan is not None:
        for item in case.checklist.signout:
            if not applies(item.when, case.plan, choices(case)):
                continue
            if not all(met(case, need, None, now.moment()) for need in item.need):
                yield f"signout:{item.id}", item.text, 0
                own_line = own_line or item.id == FILTERS_OUT
    if filters_in(case) and not own_line:
        yield ITEM, "filters still in: no entry says that they came out", 0
    if case.recorder == UNKNOWN_RECORDER:
        yield "recorder", "who is at the keys is not recorded", 0
