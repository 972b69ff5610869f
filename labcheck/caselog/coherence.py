"""Whether a folded case makes sense. Corrections are refused when they would leave one that makes less."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from labcheck.caselog.case import Case
from labcheck.caselog.events import AddendumAdded, AttemptOpened
from labcheck.caselog.ordering import by_happening, earlier
from labcheck.caselog.stamps import Moment, span
from labcheck.checklist.unfolding import cusp_word


def incoherence(case: Case, besides: Case | None = None) -> str | None:
    """The first thing that makes no sense, as one line; None when all is well.

    ``besides``: the case as it is now, whose own faults are passed over. A log written before a rule was known may
    hold what the rule forbids, and must not be locked against correction by it.
    """
    known = set(_wrong(besides)) if besides is not None else set()
    return next((line for line in _wrong(case) if line not in known), None)


def _wrong(case: Case) -> Iterator[str]:
    yield from _names_void(case)
    open_visits = [v for v in case.visits if v.end is None]
    if len(open_visits) > 1:
        yield f"two stages would be open (#{open_visits[0].seq} and #{open_visits[1].seq})"
    elif open_visits and open_visits[0].seq != case.open_visit:
        yield f"the stage of #{open_visits[0].seq} would never end, though another was opened after it"
    bursts = [b for a in case.attempts for b in a.bursts if b.end is None]
    if len(bursts) > 1:
        yield f"two energy bursts would be on (#{bursts[0].seq} and #{bursts[1].seq})"
    elif bursts and bursts[0].seq != case.open_burst:
        yield f"the energy burst #{bursts[0].seq} would never end, though another came after it"
    running = [s.run for s in case.spells if s.end is None]
    if len(running) != len(set(running)):
        yield "the same run would be on twice"
    numbers = [(a.stage, a.cusp, a.number) for a in case.attempts]
    if len(numbers) != len(set(numbers)):
        yield "two attempts would have the same number"
    yield from _said_twice(case)
    yield from _unplanned(case)


def _names_void(case: Case) -> Iterator[str]:
    for event in case.log:
        if event.seq in case.voided or event.kind in ("press.bounced", "event.voided", "event.amended"):
            continue
        for named in event.named():
            if named in case.voided:
                yield f"#{event.seq} leans on #{named}: void #{event.seq} first"


_ENDS = {
    "stage.closed": "opened",
    "attempt.closed": "attempt",
    "energy.stopped": "burst",
    "run.stopped": "run",
    "bailout.closed": "opened",
    "reading.taken": "sample",
}
"""Kind -> the field that names what it ends or is the result of: each of those has one."""


def _said_twice(case: Case) -> Iterator[str]:
    """Two ends or results of one thing: a result that is restored beside the one that took its place."""
    first: dict[int, int] = {}
    for event in case.log:
        if event.seq in case.voided:
            continue
        what = event.what.fact if isinstance(event.what, AddendumAdded) else event.what
        ended = getattr(what, _ENDS.get(what.kind, ""), None)
        if not isinstance(ended, int):
            continue
        if ended in first:
            yield (
                f"#{first[ended]} and #{event.seq} would both be the end or result of #{ended}: "
                f"void #{event.seq} first"
            )
        first.setdefault(ended, event.seq)


def _unplanned(case: Case) -> Iterator[str]:
    """Work on a cusp that is not in the plan any more: no line, no endpoint and no sign-out would speak of it."""
    begun = [(v.seq, v.cusp) for v in case.visits] + [(a.seq, a.cusp) for a in case.attempts]
    begun += [(said.seq, cusp) for cusp, said in case.abandoned.items()]
    for seq, cusp in begun:
        if cusp is not None and cusp not in case.order:
            yield f"#{seq} is on the {cusp_word(cusp)} cusp, which would not be planned: void or move #{seq} first"


def misordered(case: Case, target: int, besides: Case) -> str | None:
    """Why the time of ``target`` cannot be as it is in ``case``: something would end before it began, or two things
    would overlap that do not in ``besides``, the case before the correction.
    """
    pairs: list[tuple[int, Moment, int | None, Moment | None]] = []
    pairs += [(v.seq, v.start, v.end_seq, v.end) for v in case.visits]
    pairs += [(a.seq, a.start, a.end_seq, a.end) for a in case.attempts]
    pairs += [(b.seq, b.start, b.end_seq, b.end) for a in case.attempts for b in a.bursts]
    pairs += [(s.seq, s.start, s.end_seq, s.end) for s in case.spells]
    pairs += [(b.seq, b.start, b.end_seq, b.end) for b in case.bailouts]
    for seq, start, end_seq, end in pairs:
        if target in (seq, end_seq) and end is not None and span(start, end).us < 0:
            return f"#{end_seq} would end before #{seq} began"
    known = {*_outside(besides), *_overlapping(besides)}
    return next((line for line in (*_outside(case), *_overlapping(case)) if line not in known), None)


def _outside(case: Case) -> Iterator[str]:
    """Bursts before their attempt began, and attempts before the visit they were tried in."""
    starts = {visit.seq: visit.start for visit in case.visits}
    for attempt in case.attempts:
        for burst in attempt.bursts:
            if earlier(case, burst.start, burst.seq, attempt.start, attempt.seq):
                yield f"#{burst.seq} would come before its attempt #{attempt.seq} began: amend the other first"
        event = case.event(attempt.seq)
        visit = event.what.opened if event is not None and isinstance(event.what, AttemptOpened) else None
        if visit in starts and earlier(case, attempt.start, attempt.seq, starts[visit], visit):
            yield f"attempt #{attempt.seq} would come before its stage #{visit} began: amend the other first"


def _overlapping(case: Case) -> Iterator[str]:
    """Stages, bursts, and spells of one run that are on at the same time: their durations would be added twice."""
    visits = [(v.seq, v.start, v.end_seq, v.end) for v in case.visits]
    yield from _two_at_once(case, "the stages of", visits)
    bursts = [(b.seq, b.start, b.end_seq, b.end) for a in case.attempts for b in a.bursts]
    yield from _two_at_once(case, "the bursts of", bursts)
    for run in dict.fromkeys(s.run for s in case.spells):
        spells = [(s.seq, s.start, s.end_seq, s.end) for s in case.spells if s.run == run]
        yield from _two_at_once(case, "the spells of", spells)


def _two_at_once(
    case: Case, what: str, spans: list[tuple[int, Moment, int | None, Moment | None]]
) -> Iterator[str]:
    inorder = by_happening(case, ((span_[1], span_[0], span_) for span_ in spans))
    for (seq, _, end_seq, end), (after, start, _, _) in pairwise(inorder):
        if end is None or earlier(case, start, after, end, end_seq or seq):
            first, second = sorted((seq, after))
            yield f"{what} #{first} and #{second} would overlap: amend the other first"
