"""Finding the named moments of a checklist in a case: the ends of watches and intervals.

Only what still counts is looked at: the folded case holds no voided event.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import Literal

from labcheck.caselog.case import Attempt, Case
from labcheck.caselog.events import AddendumAdded, StepAnswered
from labcheck.caselog.folding import effective_payload
from labcheck.caselog.ordering import by_happening, earlier
from labcheck.caselog.stamps import Moment
from labcheck.caselog.units import in_own_unit
from labcheck.checklist import finding
from labcheck.checklist.conditions import Point
from labcheck.checklist.words import Cusp


@dataclass(frozen=True, slots=True)
class Found:
    """A moment and the entry that carries it.

    ``provisional``: an energy burst has ended but its attempt has no outcome yet.
    """

    seq: int
    at: Moment
    provisional: bool = False


def find_point(case: Case, point: Point, cusp: Cusp | None = None) -> list[Found]:
    """Every moment of the case that ``point`` names, in the order in which they happened.

    ``cusp`` keeps only what belongs to that cusp. A stage counts as closed only where it was closed as done:
    a stage that was left or abandoned has not been finished. A step counts where it was answered done or with
    a value.
    """
    found = list(_FINDERS[point.event](case, point, cusp))
    return by_happening(case, ((f.at, f.seq, f) for f in found)) if len(found) > 1 else found


def provisional(case: Case, point: Point, cusp: Cusp | None = None) -> Found | None:
    """For a point of the kind ``attempt``: the open attempt whose burst has ended, still without outcome."""
    attempt = case.attempt
    if point.event != "attempt" or attempt is None or not _wanted(attempt, point, cusp):
        return None
    at = attempt.effect
    return None if at is None else Found(attempt.effect_seq, at, provisional=True)


def pick(found: list[Found], which: Literal["first", "last"]) -> Found | None:
    """One of several, already in order."""
    if not found:
        return None
    return found[0] if which == "first" else found[-1]


@dataclass(frozen=True, slots=True)
class Stretch:
    """From one named moment to another; either may not have come. ``before``: an end that came too early."""

    start: Found | None
    end: Found | None
    before: Found | None = None


def stretch(case: Case, start: Point, end: Point, *, live: bool) -> Stretch:
    """The stretch between two points: of the ends, only those not before the start can end it.

    ``live`` lets a burst whose attempt has no outcome yet begin the stretch, as provisional, where nothing
    else begins it: a cut is not less a cut because its result is still to be keyed in.
    """
    began = pick(find_point(case, start), start.which)
    if began is None and live:
        began = provisional(case, start)
    if began is None:
        return Stretch(None, None)
    ends = find_point(case, end)
    after = [f for f in ends if not earlier(case, f.at, f.seq, began.at, began.seq)]
    return Stretch(began, pick(after, end.which), ends[-1] if ends and not after else None)


def _stage_opened(case: Case, point: Point, cusp: Cusp | None) -> Iterator[Found]:
    return (Found(v.seq, v.start) for v in case.visits if v.stage == point.stage and cusp in (None, v.cusp))


def _stage_closed(case: Case, point: Point, cusp: Cusp | None) -> Iterator[Found]:
    for v in case.visits:
        if v.stage == point.stage and cusp in (None, v.cusp) and v.end is not None and v.how == "done":
            yield Found(v.end_seq or v.seq, v.end)


def _attempt_opened(case: Case, point: Point, cusp: Cusp | None) -> Iterator[Found]:
    return (Found(a.seq, a.start) for a in case.attempts if _wanted(a, point, cusp))


def _wanted(attempt: Attempt, point: Point, cusp: Cusp | None) -> bool:
    return point.stage in (None, attempt.stage) and cusp in (None, attempt.cusp)


def _attempt(case: Case, point: Point, cusp: Cusp | None) -> Iterator[Found]:
    for attempt in case.attempts:
        if not _wanted(attempt, point, cusp) or attempt.outcome is None:
            continue
        at = attempt.effect
        if at is not None and (not point.outcome or attempt.outcome in point.outcome):
            yield Found(attempt.effect_seq, at)


def _reading(case: Case, point: Point, cusp: Cusp | None) -> Iterator[Found]:
    reading = finding.reading(case.checklist, point.reading or "")
    for taken in case.readings:
        what = taken.what
        if what.reading != point.reading or cusp not in (None, what.cusp):
            continue
        value = in_own_unit(reading, what.value, what.unit) if reading is not None else what.value
        if point.at_least is None or (value is not None and value >= point.at_least):
            yield Found(taken.seq, taken.at)


def _sample(case: Case, point: Point, cusp: Cusp | None) -> Iterator[Found]:
    return (Found(s.seq, s.sent) for s in case.samples if s.reading == point.reading)


def _dose(case: Case, point: Point, cusp: Cusp | None) -> Iterator[Found]:
    return (Found(d.seq, d.at) for d in case.doses if d.what.drug == point.drug)


def _run_started(case: Case, point: Point, cusp: Cusp | None) -> Iterator[Found]:
    return (Found(s.seq, s.start) for s in case.spells if s.run == point.run and cusp in (None, s.cusp))


def _run_stopped(case: Case, point: Point, cusp: Cusp | None) -> Iterator[Found]:
    for s in case.spells:
        if s.run == point.run and cusp in (None, s.cusp) and s.end is not None:
            yield Found(s.end_seq or s.seq, s.end)


def _step(case: Case, point: Point, cusp: Cusp | None) -> Iterator[Found]:
    """Every time the step was answered: that it is answered anew does not move when it was first done.

    "Not done" takes back what was said in the same visit, or before there was one.
    """
    stage, _, step = (point.step or "").partition(".")
    if not any((a.what.stage, a.what.step) == (stage, step) for a in case.answers.values()):
        return
    stands: list[tuple[StepAnswered, Found]] = []
    for seq, what, at in _answers(case):
        if (what.stage, what.step) != (stage, step) or cusp not in (None, what.cusp):
            continue
        if what.answer in ("done", "value"):
            stands.append((what, Found(seq, at)))
        else:
            stands = [s for s in stands if s[0].cusp != what.cusp or s[0].opened not in (None, what.opened)]
    yield from (found for _, found in stands)


def _answers(case: Case) -> Iterator[tuple[int, StepAnswered, Moment]]:
    """Every answer that still counts, as amended, in the order of the log."""
    for event in case.log:
        if event.kind not in ("step.answered", "addendum.added") or event.seq in case.voided:
            continue
        stands = effective_payload(case, event.seq)
        what, at = stands if stands is not None else (event.what, event.happened)
        fact = what.fact if isinstance(what, AddendumAdded) else what
        if isinstance(fact, StepAnswered):
            yield event.seq, fact, at


def _bailout_opened(case: Case, point: Point, cusp: Cusp | None) -> Iterator[Found]:
    for b in case.bailouts:
        if point.bailout in (None, b.what.bailout) and cusp in (None, b.what.cusp):
            yield Found(b.seq, b.start)


def _case_opened(case: Case, point: Point, cusp: Cusp | None) -> Iterator[Found]:
    if case.opened is not None:
        yield Found(1, case.opened)


def _case_sealed(case: Case, point: Point, cusp: Cusp | None) -> Iterator[Found]:
    if case.seal is not None:
        yield Found(case.seal.seq, case.seal.at)


_FINDERS: dict[str, Callable[[Case, Point, Cusp | None], Iterable[Found]]] = {
    "stage.opened": _stage_opened,
    "stage.closed": _stage_closed,
    "attempt.opened": _attempt_opened,
    "attempt": _attempt,
    "reading": _reading,
    "sample": _sample,
    "dose": _dose,
    "run.started": _run_started,
    "run.stopped": _run_stopped,
    "step": _step,
    "bailout.opened": _bailout_opened,
    "case.opened": _case_opened,
    "case.sealed": _case_sealed,
}
