"""The case drawn to scale: stages as runs on a time axis, one lane per cusp, letters for what happened.

The console draws it while the case grows and the debrief draws it afterwards, from the same values.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from labcheck.caselog.case import Case
from labcheck.caselog.entry_words import bailout_title, cusp_of, joined, outcome_words, run_title
from labcheck.caselog.events import Event, EventAmended, EventVoided
from labcheck.caselog.folding import effective_payload
from labcheck.caselog.ordering import earlier
from labcheck.caselog.progress import stage_title
from labcheck.caselog.stamps import Moment, Stamp, span
from labcheck.caselog.telling import tell_now
from labcheck.checklist.words import CUSP_WORDS, Cusp

LETTERS: dict[str, str] = {
    "energy.started": "E",
    "reading.taken": "R",
    "sample.sent": "S",
    "dose.given": "D",
    "device.used": "V",
    "fault.noted": "F",
    "note.written": "N",
    "mark.set": "M",
    "bailout.opened": "B",
    "cusp.abandoned": "A",
    "order.changed": "O",
    "decision.made": "C",
    "hold.passed": "H",
    "handover.made": "P",
    "clock.noticed": "K",
    "clock.compared": "K",
    "event.voided": "x",
    "event.amended": "~",
    "addendum.added": "+",
    "case.sealed": "Z",
}
"""The letter of every kind that is drawn as a mark; legends and exports read this table."""

_CORRECTION_SHOWN = frozenset(LETTERS) | {"stage.opened", "attempt.closed", "step.answered"}
"""A correction of these stands where the corrected entry stood; of one press the others would only crowd it."""


@dataclass(frozen=True, slots=True)
class Bar:
    """A run on a lane, in microseconds from the start of the trace. ``how`` it ended, empty while ``open``.

    ``seq`` is the entry that began it; ``wall``: one of its ends could only be placed by the wall clock.
    """

    label: str
    from_us: int
    to_us: int
    open: bool
    how: str
    seq: int = 0
    words: str = ""
    wall: bool = False


@dataclass(frozen=True, slots=True)
class TraceMark:
    """One entry at its place. ``corrected``: it was amended, or it is a correction. ``late`` as in the tail."""

    at_us: int
    letter: str
    words: str
    seq: int
    corrected: bool
    late: bool = False


@dataclass(frozen=True, slots=True)
class TraceRow:
    """One lane. ``id`` is ``case``, a cusp, or ``other``."""

    id: str
    title: str
    bars: tuple[Bar, ...]
    marks: tuple[TraceMark, ...]


@dataclass(frozen=True, slots=True)
class Trace:
    """The whole drawing. ``access_us``: where access began, from which the axis counts, if it did."""

    start: Moment
    end_us: int
    rows: tuple[TraceRow, ...]
    access_us: int | None = None


def trace(case: Case, now: Stamp | None = None, *, worded: bool = True) -> Trace:
    """The trace up to ``now``; without it, up to the last thing that happened.

    ``worded``: whether every mark says what it stands for; a drawing that shows letters only is made faster
    without. It begins with the first thing that happened, which is the opening of the case unless something was
    entered late from before it.
    """
    start = _start(case, now)
    marks = _marks(case, start, worded)
    end_us = _end(case, now, start, marks)
    rows = [TraceRow("case", "case", tuple(_stage_bars(case, start, end_us)), _lane(marks, "case"))]
    for cusp in dict.fromkeys((*_targets(case), *(a.cusp for a in case.attempts))):
        bars = tuple(_attempt_bars(case, cusp, start, end_us))
        rows.append(TraceRow(cusp, CUSP_WORDS[cusp], bars, _lane(marks, cusp)))
    rows.append(TraceRow("other", "other", tuple(_other_bars(case, start, end_us)), _lane(marks, "other")))
    return Trace(start, end_us, tuple(rows), _access(case, start))


def _end(case: Case, now: Stamp | None, start: Moment, marks: Mapping[str, list[TraceMark]]) -> int:
    if case.seal is not None:
        return max(0, span(start, case.seal.at).us)
    if now is not None:
        return max(0, span(start, now.moment()).us)
    ends = [m.at_us for lane in marks.values() for m in lane]
    ends += [span(start, at).us for v in case.visits for at in (v.start, v.end) if at is not None]
    return max((*ends, 0))


def _targets(case: Case) -> tuple[Cusp, ...]:
    return case.plan.targets if case.plan is not None else case.order


def _start(case: Case, now: Stamp | None) -> Moment:
    if not case.log:
        return now.moment() if now is not None else Moment(wall_us=0, off_s=0, tz="UTC")
    first, seq = case.opened or case.log[0].happened, 1
    for event in case.log:
        if event.seq in case.voided or (event.mode == "live" and event.seq not in case.amended):
            continue
        at = _at(case, event)
        if earlier(case, at, event.seq, first, seq):
            first, seq = at, event.seq
    return first


def _access(case: Case, start: Moment) -> int | None:
    begun = [span(start, v.start).us for v in case.visits if v.stage == case.checklist.access_stage]
    return min(begun, default=None)


def _lane(marks: Mapping[str, list[TraceMark]], lane: str) -> tuple[TraceMark, ...]:
    return tuple(sorted(marks.get(lane, ()), key=lambda m: (m.at_us, m.seq)))


def _marks(case: Case, start: Moment, worded: bool) -> dict[str, list[TraceMark]]:
    """A mark for every entry that has a letter and still counts, and one for every correction, by lane."""
    lanes: dict[str, list[TraceMark]] = {}
    for event in case.log:
        letter = LETTERS.get(event.what.kind)
        if letter is None or event.seq in case.voided:
            continue
        about, corrected = event, event.seq in case.amended
        if isinstance(event.what, EventVoided | EventAmended):
            named = case.event(event.what.target)
            if named is None or named.kind not in _CORRECTION_SHOWN:
                continue
            about, corrected = named, True
        at_us = max(0, span(start, _at(case, about)).us)
        words = tell_now(case, event) if worded else ""
        late = event.mode == "late"
        lanes.setdefault(_place(about), []).append(
            TraceMark(at_us, letter, words, event.seq, corrected, late)
        )
    return lanes


def _place(event: Event) -> str:
    if event.kind == "stage.opened":
        return "case"
    cusp: Cusp | None = getattr(event.what, "cusp", None)
    return cusp or "other"


def _at(case: Case, event: Event) -> Moment:
    """When it happened, as amended."""
    if event.seq not in case.amended:
        return event.happened
    stands = effective_payload(case, event.seq)
    return stands[1] if stands is not None else event.happened


def _bar(
    label: str, words: str, seq: int, times: tuple[Moment, Moment, Moment | None], end_us: int, how: str
) -> Bar:
    start, begin, end = times
    first = span(start, begin)
    last = span(start, end) if end is not None else None
    from_us = max(0, first.us)
    to_us = max(from_us, last.us if last is not None else end_us)
    wall = "wall" in (first.basis, last.basis if last is not None else "boot")
    return Bar(label, from_us, to_us, end is None, how, seq, words, wall)


def _stage_bars(case: Case, start: Moment, end_us: int) -> Iterator[Bar]:
    big = {s.id: s.big.lower() for s in case.checklist.stage}
    for v in case.visits:
        cusp = f" {CUSP_WORDS[v.cusp][:1].upper()}" if v.cusp else ""
        words = f"{stage_title(case, v.stage, v.cusp)}, visit {v.number}"
        yield _bar(
            f"{big.get(v.stage, v.stage)}{cusp}",
            words,
            v.seq,
            (start, v.start, v.end),
            end_us,
            v.how or "",
        )


def _attempt_bars(case: Case, cusp: Cusp, start: Moment, end_us: int) -> Iterator[Bar]:
    for a in case.attempts:
        if a.cusp == cusp:
            result = outcome_words(case, a.stage, a.outcome) if a.outcome else ""
            words = f"{stage_title(case, a.stage, a.cusp)}, attempt {a.number} {result}".strip()
            label = f"{a.number} {result}".strip()
            yield _bar(label, words, a.seq, (start, a.start, a.end), end_us, a.outcome or "")


def _other_bars(case: Case, start: Moment, end_us: int) -> Iterator[Bar]:
    for b in case.bailouts:
        title = bailout_title(case, b.what)
        yield _bar(title, title, b.seq, (start, b.start, b.end), end_us, b.outcome or "")
    for s in case.spells:
        title = joined([run_title(case, s.run), cusp_of(s.cusp)])
        yield _bar(title, title, s.seq, (start, s.start, s.end), end_us, "")
