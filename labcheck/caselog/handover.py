"""What the next recorder must know: the lines that are read back at a handover, on one screen."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from labcheck.caselog.case import Case
from labcheck.caselog.clockwords import clock_words
from labcheck.caselog.entry_words import attempt_name, cusp_of
from labcheck.caselog.figures import Figure, figures
from labcheck.caselog.ordering import by_happening
from labcheck.caselog.progress import call_words, next_slot, stage_title
from labcheck.caselog.signout import signout_items
from labcheck.caselog.stamps import Stamp
from labcheck.checklist import finding
from labcheck.checklist.conditions import Condition
from labcheck.checklist.words import Cusp

MOST = 16
"""Lines to be read back at once; an 80 by 24 screen shows them in two pages."""


def open_items(case: Case, now: Stamp) -> tuple[str, ...]:
    """The present stage, what is on, what is in the patient, what is due and what is still open."""
    shown = figures(case, now)
    lines = tuple(
        dict.fromkeys((*_where(case), *_running(shown), *_inside(case), *_due(shown), *_open(case, now)))
    )
    if len(lines) <= MOST:
        return lines
    return (*lines[: MOST - 1], f"and {len(lines) - MOST + 1} more on the sign-out list")


def _where(case: Case) -> Iterator[str]:
    visit = case.visit
    if visit is not None:
        since = clock_words(visit.start, seconds=False)
        yield f"now: {stage_title(case, visit.stage, visit.cusp)}, since {since}"
    attempt, burst = case.attempt, case.burst
    if burst is not None:
        yield f"{attempt_name(case, burst.attempt)}: energy ON"
    if attempt is not None and (burst is None or burst.attempt != attempt.seq):
        yield f"{attempt_name(case, attempt.seq)}: no outcome yet"
    for cusp in case.abandoned:
        yield f"{cusp_of(cusp)} abandoned"
    slot = next_slot(case)
    if slot is not None:
        yield f'next call: "{call_words(case, slot)}"'


def _running(shown: Iterable[Figure]) -> Iterator[str]:
    """Rescues, runs, samples and watches, as the figures say them."""
    return (f.words for f in shown if f.id.partition(":")[0] in ("bailout", "run", "sample", "watch"))


def _inside(case: Case) -> Iterator[str]:
    """Devices whose last entry says that they are in."""
    for device_id, cusp in _placed(case):
        device = finding.device(case.checklist, device_id)
        name = device.text if device else device_id
        yield f"in: {name}, {cusp_of(cusp)}" if cusp else f"in: {name}"


def _placed(case: Case) -> dict[tuple[str, Cusp | None], None]:
    """The devices that are in, each with the cusp it was placed on.

    Devices are often taken out in a stage of another cusp, or of none. One taken out where none of its kind is in
    is the only one there is; in a stage of no cusp it is all of them.
    """
    inside: dict[tuple[str, Cusp | None], None] = {}
    for what in by_happening(case, ((d.at, d.seq, d.what) for d in case.devices)):
        place = (what.device, what.cusp)
        if what.action in ("placed", "changed"):
            inside[place] = None
            continue
        gone = [place]
        if what.action == "removed" and place not in inside:
            same = [one for one in inside if one[0] == what.device]
            gone = same if what.cusp is None or len(same) == 1 else []
        for one in gone:
            inside.pop(one, None)
    return inside


def _due(shown: Iterable[Figure]) -> Iterator[str]:
    return (f.words for f in shown if f.level in ("due", "overdue"))


def _open(case: Case, now: Stamp) -> Iterator[str]:
    """Marks, killer steps without an answer, and what the checklist wants done in a stage already entered.

    What belongs to stages still to come is not read back: it would drown what is open.
    """
    entered = {visit.stage for visit in case.visits}
    for item in signout_items(case, now):
        kind, _, name = item.id.partition(":")
        own = finding.signout(case.checklist, name) if kind == "signout" else None
        reached = own is not None and any(_stages_of(case, need) & entered for need in own.need)
        if item.settled is None and (item.killer or kind in ("mark", "device") or reached):
            yield item.text


def _stages_of(case: Case, need: Condition) -> set[str]:
    """The stages in which a condition is made true."""
    named = need.stage or need.each_cusp or (need.step or "").partition(".")[0]
    if named:
        return {named}
    return {
        stage.id
        for stage in case.checklist.stage
        for step in stage.step
        if (need.reading and step.reading == need.reading)
        or (need.decision and step.decision == need.decision)
    }
