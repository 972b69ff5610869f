"""Where the case went another way than its checklist, as facts and never as a score."""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Sequence
from dataclasses import dataclass
from typing import Literal, TypeVar

from labcheck.caselog.alignment import align
from labcheck.caselog.case import Case, Timed, Visit
from labcheck.caselog.clockwords import span_with_basis
from labcheck.caselog.entry_words import plain
from labcheck.caselog.events import Event, EventAmended, EventVoided, StepAnswered
from labcheck.caselog.holds import choices
from labcheck.caselog.intervals import added
from labcheck.caselog.ordering import by_happening
from labcheck.caselog.progress import slot_state, stage_title
from labcheck.caselog.stamps import span
from labcheck.caselog.steps import step_lines
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


def deviations(case: Case) -> tuple[Deviation, ...]:
    """Every deviation, kind by kind. Skipped by decision or call is never counted as missing."""
    return (
        *_missing(case),
        *_skipped(case),
        *_inverted(case),
        *_rework(case),
        *_late_steps(case),
        *_holds(case),
        *_late_entries(case),
        *_corrections(case),
    )


def _missing(case: Case) -> Iterator[Deviation]:
    """Stages overtaken without a decision, and steps without an answer in stages that were opened."""
    for slot in case.slots:
        stage = finding.stage(case.checklist, slot.stage)
        state = slot_state(case, slot)
        gone = state == "passed" or (case.seal is not None and state in ("waiting", "left", "open"))
        if gone and stage is not None and not stage.optional:
            left = {"left": ": left and not finished", "open": ": never closed"}.get(state, "")
            yield Deviation("missing", f"{stage_title(case, slot.stage, slot.cusp)}{left}", None)
    for slot in _visited(case):
        if slot_state(case, slot) == "open" and case.seal is None:
            continue
        for line in step_lines(case, slot):
            if line.state == "open":
                killer = "KILLER STEP " if line.step.killer else ""
                where = stage_title(case, slot.stage, slot.cusp)
                yield Deviation("missing", f"{killer}{line.step.say} ({where}): no answer", None)


def _visited(case: Case) -> tuple[Slot, ...]:
    return tuple(dict.fromkeys(v.slot for v in case.visits))


def _skipped(case: Case) -> Iterator[Deviation]:
    for slot, skip in case.skipped.items():
        title = stage_title(case, slot.stage, slot.cusp)
        yield Deviation("skipped", f"{title}: skipped by {skip.why}: {plain(skip.reason)}", skip.seq)
    for slot in _visited(case):
        for line in step_lines(case, slot):
            if line.state == "not_done":
                where = stage_title(case, slot.stage, slot.cusp)
                yield Deviation("skipped", f"{line.step.say} ({where}): {plain(line.words)}", line.seq)
    for cusp, said in case.abandoned.items():
        yield Deviation("skipped", f"{CUSP_WORDS[cusp]} cusp abandoned: {plain(said.what)}", said.seq)


def _inverted(case: Case) -> Iterator[Deviation]:
    """Stages opened, and steps of one stage answered, before what the checklist puts before them.

    The order of cusps is free, so stages are compared within one cusp and the stages of no cusp.
    """
    first: dict[Slot, Visit] = {}
    for visit in by_happening([(v.start, v.seq, v) for v in case.visits]):
        first.setdefault(visit.slot, visit)
    for cusp in case.order or (None,):
        came = [slot for slot in first if slot.cusp in (None, cusp)]
        for moved, other, early in misplaced([s for s in case.slots if s in came], came):
            if cusp is not None and moved.cusp is None and other.cusp is None and cusp != case.order[0]:
                continue
            said = f"{stage_title(case, moved.stage, moved.cusp)}: opened {'before' if early else 'after'} "
            yield Deviation("inverted", said + stage_title(case, other.stage, other.cusp), first[moved].seq)
    for slot in _visited(case):
        yield from _inverted_steps(case, slot)


def _inverted_steps(case: Case, slot: Slot) -> Iterator[Deviation]:
    lines = {line.step.id: line for line in step_lines(case, slot) if line.seq is not None}
    answers = {step: case.answers[(slot.stage, slot.cusp, step)] for step in lines}
    came = by_happening([(a.at, a.seq, step) for step, a in answers.items()])
    for moved, other, early in misplaced(list(lines), came):
        said = f"{lines[moved].step.say} ({stage_title(case, slot.stage, slot.cusp)})"
        way = "before" if early else "after"
        yield Deviation("inverted", f"{said}: answered {way} {lines[other].step.say}", lines[moved].seq)


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


def _rework(case: Case) -> Iterator[Deviation]:
    for slot in _visited(case):
        visits = [v for v in case.visits if v.slot == slot]
        if len(visits) < 2:
            continue
        again = added(span(v.start, v.end) if v.end is not None else None for v in visits[1:])
        spent = f", {span_with_basis(again)} in rework" if again is not None else ""
        title = stage_title(case, slot.stage, slot.cusp)
        yield Deviation("rework", f"{title}: {len(visits)} visits{spent}", visits[1].seq)


def _late_steps(case: Case) -> Iterator[Deviation]:
    """Steps that a hold needed and that were answered after the stage behind the hold had begun."""
    if case.plan is None:
        return
    for slot in _visited(case):
        stage = finding.stage(case.checklist, slot.stage)
        begun = next((v.start for v in case.visits if v.slot == slot), None)
        if stage is None or begun is None:
            continue
        for hold in holds_for(stage, case.plan, choices(case)):
            for need in hold.need:
                for answer in _answers_to(case, need.step, slot):
                    after = span(begun, answer.at)
                    if after.us > 0 and answer.what.answer in ("done", "value"):
                        step = finding.step(case.checklist, answer.what.stage, answer.what.step)
                        said = step.say if step is not None else answer.what.step
                        where = stage_title(case, slot.stage, slot.cusp)
                        words = f"{said}: {span_with_basis(after)} after {where} began"
                        yield Deviation("late_step", words, answer.seq)


def _answers_to(case: Case, name: str | None, slot: Slot) -> list[Timed[StepAnswered]]:
    if name is None:
        return []
    stage, _, step = name.partition(".")
    found = case.answers.get((stage, slot.cusp, step)) or case.answers.get((stage, None, step))
    return [found] if found is not None else []


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
        why = f": {plain(event.late_reason)}" if event.late_reason else ""
        yield Deviation("late_entry", f"{late_words(event)}{flag}: {tell(case, event)}{why}", event.seq)


def _corrections(case: Case) -> Iterator[Deviation]:
    made = (e for e in case.log if isinstance(e.what, EventVoided | EventAmended))
    for event in _one_a_press(made):
        undone = " (itself voided)" if event.seq in case.voided else ""
        yield Deviation("correction", f"{tell(case, event)}{undone}", event.seq)


def _one_a_press(found: Iterator[Event]) -> list[Event]:
    """The first of the events that one press made."""
    first: dict[str, Event] = {}
    for event in found:
        first.setdefault(event.press, event)
    return list(first.values())
