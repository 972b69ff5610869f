"""Where the case went another way than its checklist, as facts and never as a score."""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal, TypeVar

from labcheck.caselog.alignment import align
from labcheck.caselog.case import AnswerKey, Case, Timed, Visit
from labcheck.caselog.clockwords import span_with_basis
from labcheck.caselog.entry_words import plain, why
from labcheck.caselog.events import Event, EventAmended, EventVoided, StepAnswered
from labcheck.caselog.folding import effective_payload
from labcheck.caselog.holds import choices
from labcheck.caselog.intervals import added
from labcheck.caselog.ordering import by_happening, earlier
from labcheck.caselog.progress import slot_state, stage_title
from labcheck.caselog.stamps import Span, known_span, span
from labcheck.caselog.standing import answer_key
from labcheck.caselog.steps import StepLine, step_lines
from labcheck.caselog.telling import lag_flagged, late_words, tell
from labcheck.checklist import finding
from labcheck.checklist.unfolding import Slot, holds_for
from labcheck.checklist.words import CUSP_WORDS

T = TypeVar("T", bound=Hashable)
Kind = Literal[
    "missing", "skipped", "inverted", "rework", "late_step", "hold_passed", "late_entry", "correction"
]


@dataclass(frozen=True, slots=True)
class Deviation:
    """One fact. ``seq`` is the entry it is about, None for what has no entry."""

    kind: Kind
    words: str
    seq: int | None


@dataclass(frozen=True, slots=True)
class _Gathered:
    """What several questions ask of a case, worked out once: exports ask them of thousands of cases."""

    case: Case
    visits: Mapping[Slot, tuple[Visit, ...]]
    lines: Mapping[Slot, tuple[StepLine, ...]]
    answers: tuple[Timed[StepAnswered], ...]


def _gathered(case: Case) -> _Gathered:
    visits: dict[Slot, tuple[Visit, ...]] = {}
    for visit in case.visits:
        visits[visit.slot] = (*visits.get(visit.slot, ()), visit)
    lines = {slot: step_lines(case, slot) for slot in visits}
    return _Gathered(case, visits, lines, tuple(first_answers(case)))


def deviations(case: Case) -> tuple[Deviation, ...]:
    """Every deviation, kind by kind. Skipped by decision or call is never counted as missing."""
    gathered = _gathered(case)
    return (
        *_missing(gathered),
        *_skipped(gathered),
        *_inverted(gathered),
        *_rework(gathered),
        *_late_steps(gathered),
        *_holds(case),
        *_late_entries(case),
        *_corrections(case),
    )


def missing_stages(case: Case) -> tuple[Deviation, ...]:
    """Only the stages without a record and a decision: cheap enough for thousands of cases."""
    return tuple(_missing_stages(case))


def _missing(gathered: _Gathered) -> Iterator[Deviation]:
    """Stages overtaken without a decision, and steps without an answer in stages that were opened."""
    case = gathered.case
    yield from _missing_stages(case)
    lines = [
        (slot, line.step)
        for slot, found in gathered.lines.items()
        if slot_state(case, slot) != "open" or case.seal is not None
        for line in found
        if line.unanswered
    ]
    for slot, step in sorted(lines, key=lambda one: not one[1].killer):
        killer = "KILLER STEP " if step.killer else ""
        where = stage_title(case, slot.stage, slot.cusp)
        yield Deviation("missing", f"{killer}{step.say} ({where}): no answer", None)


def _missing_stages(case: Case) -> Iterator[Deviation]:
    for slot in case.slots:
        stage = finding.stage(case.checklist, slot.stage)
        state = slot_state(case, slot)
        gone = state == "passed" or (case.seal is not None and state in ("waiting", "left", "open"))
        if gone and stage is not None and not stage.optional:
            left = {"left": ": left and not finished", "open": ": never closed"}.get(state, "")
            yield Deviation("missing", f"{stage_title(case, slot.stage, slot.cusp)}{left}", None)


def _skipped(gathered: _Gathered) -> Iterator[Deviation]:
    case = gathered.case
    for slot, skip in case.skipped.items():
        title = stage_title(case, slot.stage, slot.cusp)
        yield Deviation("skipped", f"{title}: skipped by {skip.why}: {why(case, skip.reason)}", skip.seq)
    for slot, lines in gathered.lines.items():
        for line in lines:
            if line.state == "not_done":
                where = stage_title(case, slot.stage, slot.cusp)
                yield Deviation("skipped", f"{line.step.say} ({where}): {plain(line.words)}", line.seq)
    for cusp, said in case.abandoned.items():
        yield Deviation("skipped", f"{CUSP_WORDS[cusp]} cusp abandoned: {why(case, said.what)}", said.seq)


def _inverted(gathered: _Gathered) -> Iterator[Deviation]:
    """Stages opened, and steps of one stage answered, before what the checklist puts before them.

    The order of cusps is free, so stages are compared within one cusp and the stages of no cusp.
    """
    case = gathered.case
    first: dict[Slot, Visit] = {}
    for visit in by_happening(case, ((v.start, v.seq, v) for v in case.visits)):
        first.setdefault(visit.slot, visit)
    for cusp in case.order or (None,):
        came = [slot for slot in first if slot.cusp in (None, cusp)]
        for moved, other, early in misplaced([s for s in case.slots if s in came], came):
            if cusp is not None and moved.cusp is None and other.cusp is None and cusp != case.order[0]:
                continue
            said = f"{stage_title(case, moved.stage, moved.cusp)}: opened {'before' if early else 'after'} "
            yield Deviation("inverted", said + stage_title(case, other.stage, other.cusp), first[moved].seq)
    for slot in gathered.visits:
        yield from _inverted_steps(gathered, slot)


def _inverted_steps(gathered: _Gathered, slot: Slot) -> Iterator[Deviation]:
    """Killer steps out of their order. The order of the others is free: teams do, then confirm."""
    case, visits = gathered.case, gathered.visits[slot]
    killers = {line.step.id: line.step for line in gathered.lines[slot] if line.step.killer}
    answers = {
        a.what.step: a
        for a in gathered.answers
        if (a.what.stage, a.what.cusp) == (slot.stage, slot.cusp) and _outside(case, visits, a) is None
    }
    came = by_happening(case, ((a.at, a.seq, step) for step, a in answers.items() if step in killers))
    for moved, other, early in misplaced([step for step in killers if step in came], came):
        said = f"{killers[moved].say} ({stage_title(case, slot.stage, slot.cusp)})"
        way = "before" if early else "after"
        yield Deviation("inverted", f"{said}: answered {way} {killers[other].say}", answers[moved].seq)


def first_answers(case: Case) -> list[Timed[StepAnswered]]:
    """The first answer to every step that still counts: a step that is answered anew was not done late."""
    first: dict[AnswerKey, Timed[StepAnswered]] = {}
    for event in case.log:
        if event.kind != "step.answered" or event.seq in case.voided:
            continue
        stands = effective_payload(case, event.seq)
        if stands is not None and isinstance(stands[0], StepAnswered):
            what, at = stands
            first.setdefault(answer_key(case, what), Timed(event.seq, at, what))
    return list(first.values())


def _outside(case: Case, of_stage: Sequence[Visit], answer: Timed[StepAnswered]) -> Span | None:
    """How long after its stage had ended a step was answered; None where the stage was open or yet to come."""
    visits = [v for v in of_stage if not earlier(case, answer.at, answer.seq, v.start, v.seq)]
    if not visits or not all(
        v.end is not None and earlier(case, v.end, v.end_seq or v.seq, answer.at, answer.seq) for v in visits
    ):
        return None
    ended = visits[-1].end
    return span(ended, answer.at) if ended is not None else None


def misplaced(expected: Sequence[T], came: Sequence[T]) -> Iterator[tuple[T, T, bool]]:
    """The fewest things that are out of their order: what, beside which other, and whether it came too early."""
    alignment = align(expected, came)
    for n in alignment.added:
        moved = came[n]
        if moved not in expected:
            continue
        place = expected.index(moved)
        for a, b in alignment.pairs:
            if (a > place) != (b > n):
                yield moved, expected[a], a < place
                break


def _rework(gathered: _Gathered) -> Iterator[Deviation]:
    for slot, visits in gathered.visits.items():
        if len(visits) < 2:
            continue
        again = added(known_span(v.start, v.end) if v.end is not None else None for v in visits[1:])
        spent = f", {span_with_basis(again)} in rework" if again is not None else ""
        title = stage_title(gathered.case, slot.stage, slot.cusp)
        yield Deviation("rework", f"{title}: {len(visits)} visits{spent}", visits[1].seq)


def _late_steps(gathered: _Gathered) -> Iterator[Deviation]:
    """Steps first answered after a stage whose hold needed them had begun, or after their own stage had ended."""
    case = gathered.case
    answers = [a for a in gathered.answers if a.what.answer in ("done", "value")]
    told: set[int] = set()
    for slot, visits in gathered.visits.items():
        begun, needed = visits[0].start, _needed(case, slot)
        for answer in answers:
            if answer.what.cusp not in (None, slot.cusp) or _name(answer.what) not in needed:
                continue
            if earlier(case, begun, visits[0].seq, answer.at, answer.seq):
                after = span(begun, answer.at)
                told.add(answer.seq)
                where = stage_title(case, slot.stage, slot.cusp)
                said = _step_words(case, answer.what)
                yield Deviation(
                    "late_step", f"{said}: {span_with_basis(after)} after {where} began", answer.seq
                )
    for answer in answers:
        own = Slot(answer.what.stage, answer.what.cusp)
        over = _outside(case, gathered.visits.get(own, ()), answer)
        if over is not None and answer.seq not in told:
            where = stage_title(case, own.stage, own.cusp)
            said = _step_words(case, answer.what)
            yield Deviation("late_step", f"{said}: {span_with_basis(over)} after {where} ended", answer.seq)


def _step_words(case: Case, what: StepAnswered) -> str:
    step = finding.step(case.checklist, what.stage, what.step)
    return step.say if step is not None else what.step


def _name(what: StepAnswered) -> str:
    """A step as holds name it."""
    return f"{what.stage}.{what.step}"


def _needed(case: Case, slot: Slot) -> frozenset[str]:
    """The steps that the holds of this slot's stage ask for."""
    stage = finding.stage(case.checklist, slot.stage)
    if stage is None or case.plan is None:
        return frozenset()
    holds = holds_for(stage, case.plan, choices(case))
    return frozenset(need.step for hold in holds for need in hold.need if need.step is not None)


def _holds(case: Case) -> Iterator[Deviation]:
    for passed in case.holds_passed:
        event = case.event(passed.seq)
        if event is not None:
            yield Deviation("hold_passed", tell(case, event), passed.seq)


def _late_entries(case: Case) -> Iterator[Deviation]:
    """Late entries one by one; a case copied from paper in one line."""
    copied = [e for e in case.log if e.mode == "transcribed" and e.seq not in case.voided]
    if copied:
        words = f"{len(copied)} of {len(case.log)} entries were copied from paper"
        yield Deviation("late_entry", words, copied[0].seq)
    for event in _one_a_press(e for e in case.log if e.mode == "late" and e.seq not in case.voided):
        flag = ", more than 20 min" if lag_flagged(event) else ""
        reason = f": {why(case, event.late_reason)}" if event.late_reason else ""
        yield Deviation("late_entry", f"{late_words(event)}{flag}: {tell(case, event)}{reason}", event.seq)


def _corrections(case: Case) -> Iterator[Deviation]:
    made = (e for e in case.log if isinstance(e.what, EventVoided | EventAmended))
    for event in {event.press: event for event in reversed(list(made))}.values():
        undone = " (itself voided)" if event.seq in case.voided else ""
        yield Deviation("correction", f"{tell(case, event)}{undone}", event.seq)


def _one_a_press(found: Iterator[Event]) -> list[Event]:
    """One event for each press: the last it made, which says most."""
    return list({event.press: event for event in found}.values())
