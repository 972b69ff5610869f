"""The one table of durations that console, debrief and every export carry."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Literal

from labcheck.caselog.case import Case, Visit
from labcheck.caselog.entry_words import bailout_title, why
from labcheck.caselog.points import stretch
from labcheck.caselog.progress import stage_title
from labcheck.caselog.stamps import Basis, Moment, Span, Stamp, known_span
from labcheck.checklist.conditions import Point
from labcheck.checklist.model import Interval
from labcheck.checklist.words import CUSP_WORDS, Cusp

RowKind = Literal["interval", "visit", "stage", "attempt", "bailout"]
RowState = Literal["done", "running", "missing", "skipped"]
"""``skipped``: the stage that it begins or ends with was passed over on purpose, by a decision, a call, or with its
abandoned cusp."""


@dataclass(frozen=True, slots=True)
class Row:
    """One duration, between two entries.

    ``start_seq`` and ``end_seq`` are the entries that carry the two times. ``span`` is None where the row is
    missing or skipped, running with nobody to say what time it is, or done over a restart that set the clock back:
    how long that was nobody knows. A ``stage`` row adds up all visits to one
    stage on one cusp, so its span may be shorter than from start to end. ``note`` says what is odd about the row.
    """

    id: str
    title: str
    start_seq: int | None
    end_seq: int | None
    start: Moment | None
    end: Moment | None
    span: Span | None
    state: RowState
    cusp: Cusp | None = None
    visit: int | None = None
    kind: RowKind = "interval"
    provisional: bool = False
    note: str = ""


def interval_table(case: Case, now: Stamp | None) -> tuple[Row, ...]:
    """Every duration of the case: the checklist's intervals, then visits, stages, attempts and bailouts.

    ``now`` measures what is still running; after the case it is None, and what never ended has no span.
    """
    at = now.moment() if now is not None else None
    return (
        *(_interval(case, interval, at) for interval in case.checklist.interval),
        *(_visit(case, visit, at) for visit in case.visits),
        *_stages(case, at),
        *_attempts(case, at),
        *_bailouts(case, at),
    )


def interval_rows(case: Case, now: Stamp | None) -> tuple[Row, ...]:
    """Only the checklist's own intervals."""
    at = now.moment() if now is not None else None
    return tuple(_interval(case, interval, at) for interval in case.checklist.interval)


def _interval(case: Case, interval: Interval, now: Moment | None) -> Row:
    found = stretch(case, interval.start, interval.end, live=now is not None)
    start, end = found.start, found.end
    if start is None:
        passed_over = _passed_over(case, interval.start) or _passed_over(case, interval.end)
        absent: RowState = "skipped" if passed_over else "missing"
        note = passed_over or "never began"
        return Row(interval.id, interval.title, None, None, None, None, None, absent, note=note)
    note = f"its end, entry {found.before.seq}, is before its start" if found.before else ""
    state, lasted = _measured(case, start.at, end.at if end else None, now)
    if state == "done" and lasted is None:
        note = "the clock was set back in between: its length is not known"
    passed_over = _passed_over(case, interval.end) if end is None else ""
    if passed_over:
        state, lasted, note = "skipped", None, passed_over
    return Row(
        interval.id,
        interval.title,
        start.seq,
        end.seq if end else None,
        start.at,
        end.at if end else None,
        lasted,
        state,
        provisional=start.provisional,
        note=note or ("never ended" if state == "missing" else ""),
    )


def _passed_over(case: Case, point: Point) -> str:
    """Why the stage in which this moment would lie was never entered, where that was on purpose; else ""."""
    stage = point.stage or (point.step or "").partition(".")[0]
    slots = [slot for slot in case.slots if slot.stage == stage]
    if not slots or any(v.stage == stage for v in case.visits):
        return ""
    left = [slot for slot in slots if slot.cusp is None or slot.cusp not in case.abandoned]
    if not left:
        return "cusp abandoned"
    skips = [case.skipped[slot] for slot in left if slot in case.skipped]
    if len(skips) < len(left):
        return ""
    # The reason of a decision is its question with the choice: the entries have that, a table has no room for it.
    words = ("by decision" if skip.why == "decision" else f"by call: {why(case, skip.reason)}" for skip in skips)
    return f"skipped {'; '.join(dict.fromkeys(words))}"


def _measured(
    case: Case, start: Moment, end: Moment | None, now: Moment | None
) -> tuple[RowState, Span | None]:
    if end is not None:
        return "done", known_span(start, end)
    if case.seal is not None:
        return "missing", None
    return "running", known_span(start, now) if now is not None else None


def _visit(case: Case, visit: Visit, now: Moment | None) -> Row:
    state, lasted = _measured(case, visit.start, visit.end, now)
    return Row(
        f"visit:{_slot_id(visit)}:{visit.number}",
        f"{stage_title(case, visit.stage, visit.cusp)}, visit {visit.number}",
        visit.seq,
        visit.end_seq,
        visit.start,
        visit.end,
        lasted,
        state,
        visit.cusp,
        visit.number,
        "visit",
        note={"left": "left unfinished", "abandoned": "abandoned"}.get(visit.how or "", ""),
    )


def _slot_id(visit: Visit) -> str:
    return f"{visit.stage}:{visit.cusp}" if visit.cusp else visit.stage


def _stages(case: Case, now: Moment | None) -> Iterator[Row]:
    by_slot: dict[str, list[Visit]] = {}
    for visit in case.visits:
        by_slot.setdefault(_slot_id(visit), []).append(visit)
    for slot_id, visits in by_slot.items():
        measured = [_measured(case, v.start, v.end, now) for v in visits]
        states = [state for state, _ in measured]
        state: RowState = "running" if "running" in states else "missing" if "missing" in states else "done"
        first, last = visits[0], visits[-1]
        yield Row(
            f"stage:{slot_id}",
            stage_title(case, first.stage, first.cusp),
            first.seq,
            last.end_seq,
            first.start,
            last.end,
            added(lasted for _, lasted in measured),
            state,
            first.cusp,
            None,
            "stage",
            note=f"{len(visits)} visits" if len(visits) > 1 else "",
        )


def added(spans: Iterable[Span | None]) -> Span | None:
    """The sum of spans; on the wall clock as soon as one of them is. None when one is not known."""
    us = 0
    basis: Basis = "boot"
    for one in spans:
        if one is None:
            return None
        us += one.us
        basis = "wall" if one.basis == "wall" else basis
    return Span(us=us, basis=basis)


def _attempts(case: Case, now: Moment | None) -> Iterator[Row]:
    for a in case.attempts:
        state, lasted = _measured(case, a.start, a.end, now)
        yield Row(
            f"attempt:{a.stage}:{a.cusp}:{a.number}",
            f"attempt {a.number}, {CUSP_WORDS[a.cusp]}, {stage_title(case, a.stage, None)}",
            a.seq,
            a.end_seq,
            a.start,
            a.end,
            lasted,
            state,
            a.cusp,
            None,
            "attempt",
            note=a.outcome or "",
        )


def _bailouts(case: Case, now: Moment | None) -> Iterator[Row]:
    for b in case.bailouts:
        state, lasted = _measured(case, b.start, b.end, now)
        yield Row(
            f"bailout:{b.what.bailout}:{b.seq}",
            bailout_title(case, b.what),
            b.seq,
            b.end_seq,
            b.start,
            b.end,
            lasted,
            state,
            b.what.cusp,
            None,
            "bailout",
            note=b.outcome or "",
        )
