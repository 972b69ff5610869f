"""Wrong cusp: what a press wrote is voided with all that belongs to it, and written anew on the right cusp."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from labcheck.caselog import events as ev
from labcheck.caselog import intents as it
from labcheck.caselog.case import Case
from labcheck.caselog.deciding.result import Decided, Press, Refused
from labcheck.caselog.deciding.stages import write_passed
from labcheck.caselog.deciding.together import (
    abandonment,
    answers_of,
    coherent,
    counting,
    record_of,
    still_answers,
)
from labcheck.caselog.events import Event
from labcheck.caselog.folding import effective_payload, fold_all, refold
from labcheck.caselog.ordering import earlier, up_to
from labcheck.caselog.progress import closing
from labcheck.caselog.stamps import Mode, Moment
from labcheck.checklist import finding
from labcheck.checklist.unfolding import Slot, cusp_word
from labcheck.checklist.words import Cusp


@dataclass
class _Move:
    """One move: from which cusp, to which, what moves, and the new number of everything that was written anew."""

    press: Press
    first: Event
    cusp: Cusp
    was: Cusp
    moving: set[int] = field(default_factory=set)
    renamed: dict[int, int] = field(default_factory=dict)

    @property
    def now(self) -> Case:
        """The case with what is written so far."""
        return fold_all(self.press.case, self.press.written)

    def written(self, seq: int) -> Any:
        """The payload that was written with that seq."""
        return next(e.what for e in self.press.written if e.seq == seq)

    def write(self, event: Event, what: Any, at: Moment) -> None:
        """The event anew. What was entered late stays late, with its reason, its precision and its mark."""
        self.renamed[event.seq] = self.press.write(what, at=at, mode=_mode(event))
        self.trust(event, -1)

    def trust(self, event: Event, since: int) -> None:
        """How well the time of what was written last is known: as that of ``event`` was."""
        for place in range(len(self.press.written))[since:]:
            known = {
                "precision_s": event.precision_s,
                "late_reason": event.late_reason,
                "from_mark": self.renamed.get(event.from_mark or 0, event.from_mark),
            }
            self.press.written[place] = self.press.written[place].model_copy(update=known)


def _mode(event: Event) -> Mode:
    return event.mode if event.mode in ("late", "transcribed") else "amended"


def move_cusp(press: Press, intent: it.MoveCusp) -> Decided | Refused:
    """Wrong cusp: void what the press wrote with all that leans on it, and write it anew on the right cusp."""
    case = press.case
    if intent.cusp not in case.order:
        return Refused(f"{cusp_word(intent.cusp)} is not a planned cusp")
    first = _to_move(case, intent.target)
    if isinstance(first, Refused):
        return first
    move = _Move(press, first, intent.cusp, getattr(first.what, "cusp", intent.cusp))
    if move.was == intent.cusp:
        return Refused(f"that is on the {cusp_word(intent.cusp)} cusp already")
    chain = _chain(move)
    if 2 * len(chain) > 400:
        return Refused("too much leans on that entry to move it: void it and enter it anew")
    for event in reversed(chain):
        press.write(ev.EventVoided(target=event.seq, reason=f"moved to {cusp_word(intent.cusp)} cusp"))
    for event in chain:
        payload = effective_payload(case, event.seq)
        if payload is not None and not _left_out(move, event):
            _write_anew(move, event, *payload)
    return coherent(press, "cannot move")


def _write_anew(move: _Move, event: Event, what: Any, at: Moment) -> None:
    if isinstance(what, ev.StageOpened):
        _judge_anew(move, Slot(what.stage, move.cusp), at)
    if isinstance(what, ev.CuspAbandoned):
        if move.cusp in move.now.abandoned:
            return
        _end_attempt(move, event, what.reason, at)
    if isinstance(what, ev.StageClosed) and event.press == move.first.press:
        target = Slot(getattr(move.first.what, "stage", ""), move.cusp)
        what = what.model_copy(update={"how": closing(move.now, target)})
    move.write(event, _renamed(move, event, what), at)


def _end_attempt(move: _Move, event: Event, reason: str, at: Moment) -> None:
    """Abandoning a cusp ends the attempt that is open on it."""
    attempt = move.now.attempt
    if attempt is None or attempt.cusp != move.cusp or earlier(move.now, at, event.seq, attempt.start, attempt.seq):
        return
    what = ev.AttemptClosed(attempt=attempt.seq, outcome="abandoned", reason=reason)
    move.press.write(what, at=at, mode=_mode(event))
    move.trust(event, -1)


_JUDGED = frozenset({"stage.skipped", "hold.passed"})
"""What the press that opens a stage says about this stage and cusp alone: another cusp has its own."""


def _left_out(move: _Move, event: Event) -> bool:
    """What is not so on the right cusp: what was judged for the wrong one, the end of a try that did not move with
    the abandonment that ended it, and the answer of a step that asks for the other ostium.
    """
    if event.kind in _JUDGED:
        return True
    if isinstance(event.what, ev.AttemptClosed):
        return event.what.attempt not in move.moving
    record = record_of(move.press.case, event)
    anew = move.renamed.get(record.seq) if record is not None and event.seq not in move.moving else None
    if anew is None or not isinstance(event.what, ev.StepAnswered):
        return False
    return not still_answers(move.press.case, event.what, move.written(anew))


def _judge_anew(move: _Move, slot: Slot, at: Moment) -> None:
    """The holds and passed stages of the right cusp, as the case stood when the stage was called.

    A reason that was given for the wrong cusp is kept, since it was given at that call.
    """
    case = move.press.case
    together = [e for e in case.log if e.press == move.first.press]
    given = [e.what.reason for e in together if isinstance(e.what, ev.StageSkipped | ev.HoldPassed)]
    reason = given[0] if given else f"moved to {cusp_word(slot.cusp)} cusp"
    opening = _called(case, move.first)
    start = next(e.seq for e in case.log if e.press == opening.press)
    was = refold(case, case.log[: start - 1])
    if opening.mode != "live":
        was = up_to(was, at)
    written = len(move.press.written)
    write_passed(move.press, was, slot, reason, at, at=at, mode=_mode(move.first))
    move.trust(move.first, written)


def _called(case: Case, opening: Event) -> Event:
    """The entry of the call itself: a stage that was moved before replaced one, which may have replaced another."""
    for _ in range(len(case.log)):
        together = (e for e in case.log if e.press == opening.press and isinstance(e.what, ev.EventVoided))
        replaced = (case.event(e.target or 0) for e in together)
        before = next((e for e in replaced if e is not None and e.kind == "stage.opened"), None)
        if before is None:
            break
        opening = before
    return opening


def _to_move(case: Case, target: int | None) -> Event | Refused:
    if target is not None:
        event = case.event(target)
        if event is None or event.seq in case.voided:
            return Refused(f"there is no entry #{target} that counts")
    else:
        having = (e for e in reversed(case.log) if e.seq not in case.voided)
        event = next((e for e in having if getattr(e.what, "cusp", None) or e.kind in _PARTS), None)
        if event is None:
            return Refused("no entry with a cusp to move")
    root = _root(case, event)
    if not getattr(root.what, "cusp", None):
        return Refused(f"#{event.seq} {event.kind} has no cusp")
    visit = case.visit
    if root.kind == "stage.opened" and (visit is None or visit.seq != root.seq):
        return Refused("that stage has ended: void it and enter it anew as a late entry")
    return root


_PARTS = frozenset({"energy.started", "energy.stopped", "attempt.closed"})


def _root(case: Case, event: Event) -> Event:
    """What moves as one: a burst, a result or a fault with its attempt, all of a rescue with its opening, and a
    reading with the step of a cusp that it answered.
    """
    for _ in range(5):
        above = _above(case, event)
        if above is None or above.seq in case.voided:
            break
        event = above
    return event


def _above(case: Case, event: Event) -> Event | None:
    match event.what:
        case ev.EnergyStopped():
            return case.event(event.what.burst)
        case ev.EnergyStarted() | ev.AttemptClosed() | ev.FaultNoted():
            return case.event(event.what.attempt or 0)
        case ev.BailoutClosed():
            return case.event(event.what.opened)
        case ev.StepAnswered() if event.what.stage.startswith(finding.BAILOUT_PREFIX):
            return case.event(event.what.opened or 0)
        case ev.CuspAbandoned():
            ends = [e.what.opened for e in abandonment(case, event) if isinstance(e.what, ev.BailoutClosed)]
            rescue = case.event(ends[0]) if ends else None
            return rescue if rescue is not None and getattr(rescue.what, "cusp", None) else None
        case ev.ReadingTaken() | ev.DoseGiven() if not getattr(event.what, "cusp", None):
            return next((a for a in answers_of(case, event) if getattr(a.what, "cusp", None)), None)
        case _:
            return None


def _chain(move: _Move) -> list[Event]:
    """All that is written anew, in the order of the log. What is only a pair of it keeps its own cusp."""
    case, fresh = move.press.case, [move.first]
    while fresh:
        event = fresh.pop()
        if event.seq not in move.moving:
            move.moving.add(event.seq)
            fresh += _tied(move, event)
    pairs: set[int] = set()
    for seq in move.moving:
        event = case.log[seq - 1]
        record = record_of(case, event) or event
        pairs |= {record.seq, *(a.seq for a in answers_of(case, record))}
    if move.first.kind == "stage.opened":
        brought = counting(case, move.first.press)
        pairs |= {e.seq for e in brought if e.kind == "stage.closed" or e.kind in _JUDGED}
    return [case.log[seq - 1] for seq in sorted(move.moving | pairs)]


def _tied(move: _Move, event: Event) -> list[Event]:
    """What counts and moves because ``event`` does."""
    case = move.press.case
    after = [e for e in case.log[event.seq :] if e.seq not in case.voided and e.kind != "press.bounced"]
    found = [e for e in after if event.seq in e.named() and not _elsewhere(move, e)]
    record = record_of(case, event)
    if record is not None and getattr(record.what, "cusp", None) == move.was:
        found.append(record)
    if getattr(event.what, "cusp", None):
        found += [a for a in answers_of(case, event) if not _elsewhere(move, a)]
    if event.kind in ("bailout.closed", "cusp.abandoned"):
        found += [e for e in abandonment(case, event) if e.kind != "bailout.closed"]
    if isinstance(event.what, ev.StageOpened):
        found += [e for e in after if _done_in(move, event, e)]
    return found


def _elsewhere(move: _Move, event: Event) -> bool:
    """An answer for another place, given by the same reading."""
    return isinstance(event.what, ev.StepAnswered) and event.what.cusp != move.was


def _done_in(move: _Move, opening: Event, event: Event) -> bool:
    """Whether an entry took its cusp from the stage that is open: it says nothing else of where it belongs."""
    if not isinstance(event.what, ev.DeviceUsed | ev.NoteWritten | ev.ReadingTaken | ev.FaultNoted):
        return False
    if event.what.cusp != move.was or getattr(event.what, "attempt", None):
        return False
    return not earlier(move.press.case, event.happened, event.seq, opening.happened, opening.seq)


def _renamed(move: _Move, event: Event, what: Any) -> Any:
    """The payload on the right cusp, numbered there, naming the new events instead of the voided ones."""
    changes: dict[str, Any] = {}
    moves = event.seq in move.moving
    if moves and getattr(what, "cusp", None):
        changes["cusp"] = move.cusp
    for name in ev.REFERENCES:
        named = getattr(what, name, None)
        if isinstance(named, int) and named in move.renamed:
            changes[name] = move.renamed[named]
    here = [v for v in move.now.visits if (v.stage, v.cusp) == (getattr(what, "stage", None), move.cusp)]
    if what.kind == "attempt.opened":
        numbers = [a.number for a in move.now.attempts if (a.stage, a.cusp) == (what.stage, move.cusp)]
        changes["number"] = 1 + max(numbers, default=0)
        if what.opened is not None and what.opened not in move.renamed:
            changes["opened"] = None
    if what.kind == "stage.opened":
        changes["visit"] = 1 + len(here)
    if what.kind == "step.answered" and moves and what.opened is not None and what.opened not in move.renamed:
        changes["opened"] = here[-1].seq if here else None
    if what.kind == "reading.taken" and what.ostium == move.was and _meant_by_cusp(move, event):
        changes["ostium"] = move.cusp if move.cusp in ("left", "right") else what.ostium
    return what.model_copy(update=changes)


def _meant_by_cusp(move: _Move, record: Event) -> bool:
    """Whether a reading's ostium is that of the cusp whose step asked for it, and moves with the step."""
    case = move.press.case
    for answer in answers_of(case, record):
        if isinstance(answer.what, ev.StepAnswered) and answer.seq in move.moving:
            step = finding.step(case.checklist, answer.what.stage, answer.what.step)
            rescue = case.event(answer.what.opened or 0)
            placed = getattr(rescue.what, "ostium", None) if rescue is not None else None
            if step is not None and step.ostium is None and placed is None:
                return True
    return False
