"""Corrections: undo, void, amend, and moving a press to the other cusp. All of them are new events."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from labcheck.caselog import events as ev
from labcheck.caselog import intents as it
from labcheck.caselog.case import Case
from labcheck.caselog.coherence import incoherence, misordered
from labcheck.caselog.corrections import in_own_form, may_amend, with_field
from labcheck.caselog.deciding.result import Decided, Press, Refused
from labcheck.caselog.deciding.stages import write_passed
from labcheck.caselog.events import Event
from labcheck.caselog.folding import effective_payload, fold_all, refold
from labcheck.caselog.progress import closing
from labcheck.caselog.ranges import out_of_range
from labcheck.caselog.stamps import Moment
from labcheck.checklist.unfolding import Slot, cusp_word

FIXED = frozenset(
    {"case.opened", "case.sealed", "clock.noticed", "press.bounced", "lease.taken", "seal.attested"}
)
"""Kinds that cannot be taken back: they say what the program itself saw, or open and close the case."""


def _coherent(press: Press, what: str) -> Decided | Refused:
    """The correction, unless the case it would leave makes no sense."""
    wrong = incoherence(fold_all(press.case, press.written))
    return Refused(f"{what}: {wrong}") if wrong else press.done()


def undo(press: Press) -> Decided | Refused:
    """Void every event of the last press that still counts."""
    case = press.case
    if case.seal is not None:
        return Refused("the case is sealed: void single entries with a reason instead")
    for event in reversed(case.log):
        taken_back = isinstance(event.what, ev.EventVoided) and event.what.undo
        if event.kind in FIXED or taken_back or event.seq in case.voided:
            continue
        group = _counting(case, event.press)
        if any(e.kind == "case.opened" for e in group):
            break
        for undone in reversed(group):
            press.write(ev.EventVoided(target=undone.seq, reason="undo", undo=True))
        return _coherent(press, "cannot undo")
    return Refused("there is nothing to undo")


def _counting(case: Case, press_id: str) -> list[Event]:
    return [e for e in case.log if e.press == press_id and e.seq not in case.voided and e.kind not in FIXED]


_ANSWERING = frozenset({"reading.taken", "dose.given", "decision.made"})
"""Kinds whose press may also have answered a step or skipped stages: those go and change with them."""

_SAID_AGAIN = {"value": "value", "choice": "value", "amount": "value", "unit": "unit"}
"""Field of a reading or dose -> field of the step answer that repeats it."""


def void_event(press: Press, intent: it.VoidEvent) -> Decided | Refused:
    """Take one entry out, with what the same press wrote because of it (a stage's closing, a step's answer)."""
    case = press.case
    event = case.event(intent.target)
    if event is None:
        return Refused(f"there is no entry #{intent.target}")
    if event.kind in FIXED:
        return Refused(f"#{event.seq} {event.kind} cannot be voided")
    if event.seq in case.voided:
        return Refused(f"#{event.seq} is void already (by #{case.voided[event.seq]})")
    group = [event]
    if event.kind.startswith("stage.") or event.kind in _ANSWERING or event.kind == "hold.passed":
        group = _counting(case, event.press)
    for target in reversed(group):
        press.write(ev.EventVoided(target=target.seq, reason=intent.reason))
    return _coherent(press, f"cannot void #{event.seq}")


def amend_event(press: Press, intent: it.AmendEvent) -> Decided | Refused:
    """Replace one field of an entry; the original stays as it was written."""
    case = press.case
    event = case.event(intent.target)
    now = effective_payload(case, intent.target)
    if event is None or now is None:
        return Refused(f"there is no entry #{intent.target}")
    if event.seq in case.voided:
        return Refused(f"#{event.seq} is void: enter it anew instead")
    if not may_amend(event.kind, intent.field):
        return Refused(f"{intent.field} of {event.kind} cannot be amended: void it and enter it anew")
    what, at = now
    strange = ""
    if intent.field == "happened":
        wrong = _wrong_time(press, intent.value)
        before: str | None = str(at.wall_us)
    else:
        fresh = with_field(what, intent.field, intent.value)
        wrong = None if fresh is not None else f"'{intent.value}' is no {intent.field} of {event.kind}"
        before = in_own_form(what, intent.field)
        strange = out_of_range(case.checklist, fresh)
    if wrong:
        return Refused(f"cannot amend #{event.seq}: {wrong}")
    if before == intent.value:
        return Refused(f"#{event.seq} says that already")
    if strange and intent.field in _SAID_AGAIN and not intent.accept:
        return Refused(f"{strange}: again to accept", needs="accept")
    press.write(
        ev.EventAmended(
            target=event.seq, field=intent.field, value=intent.value, before=before, reason=intent.reason
        )
    )
    if intent.field in _SAID_AGAIN and bool(strange) != getattr(what, "outside", bool(strange)):
        flag, was = ("true", "false") if strange else ("false", "true")
        press.write(
            ev.EventAmended(target=event.seq, field="outside", value=flag, before=was, reason=intent.reason)
        )
    _amend_answer(press, event, intent)
    if intent.field == "happened":
        early = misordered(fold_all(case, press.written), event.seq)
        if early:
            return Refused(f"cannot amend #{event.seq}: {early}")
    return _coherent(press, f"cannot amend #{event.seq}")


def _amend_answer(press: Press, event: Event, intent: it.AmendEvent) -> None:
    """A step that the reading or dose answered says the same thing after the amendment."""
    case = press.case
    if event.kind not in _ANSWERING:
        return
    field = intent.field if intent.field == "happened" else _SAID_AGAIN.get(intent.field)
    for answer in _counting(case, event.press):
        now = effective_payload(case, answer.seq)
        if answer.kind != "step.answered" or field is None or now is None:
            continue
        what, at = now
        before = str(at.wall_us) if field == "happened" else in_own_form(what, field)
        if before is not None or what.answer == "value":
            press.write(
                ev.EventAmended(
                    target=answer.seq, field=field, value=intent.value, before=before, reason=intent.reason
                )
            )


def _wrong_time(press: Press, value: str | None) -> str | None:
    if value is None or not value.isascii() or not value.isdecimal() or len(value) > 17:
        return "the time must be UTC microseconds"
    if int(value) > press.stamp.wall_us:
        return "that time is still to come"
    return None


def move_cusp(press: Press, intent: it.MoveCusp) -> Decided | Refused:
    """Wrong cusp: void what the press wrote with all that leans on it, and write it anew on the right cusp."""
    case = press.case
    if intent.cusp not in case.order:
        return Refused(f"{cusp_word(intent.cusp)} is not a planned cusp")
    first = _to_move(case, intent.target)
    if isinstance(first, Refused):
        return first
    chain = _leaning(case, first)
    if all(getattr(e.what, "cusp", intent.cusp) == intent.cusp for e in chain):
        return Refused(f"that is on the {cusp_word(intent.cusp)} cusp already")
    chain = [*_brought(case, first), *chain]
    if 2 * len(chain) > 400:
        return Refused("too much leans on that entry to move it: void it and enter it anew")
    for event in reversed(chain):
        press.write(ev.EventVoided(target=event.seq, reason=f"moved to {cusp_word(intent.cusp)} cusp"))
    renamed: dict[int, int] = {}
    for event in chain:
        payload = effective_payload(case, event.seq)
        if payload is not None and event.kind not in _JUDGED:
            what, at = payload
            if event.seq == first.seq and isinstance(what, ev.StageOpened):
                _judge_anew(press, first, Slot(what.stage, intent.cusp), at)
            anew = _renamed(case, what, intent.cusp, renamed)
            if isinstance(what, ev.StageClosed) and event.press == first.press:
                target = Slot(getattr(first.what, "stage", ""), intent.cusp)
                anew = what.model_copy(update={"how": closing(fold_all(case, press.written), target)})
            renamed[event.seq] = press.write(anew, at=at, mode="amended")
    return _coherent(press, "cannot move")


_JUDGED = frozenset({"stage.skipped", "hold.passed"})
"""What the press that opens a stage says about this stage and cusp alone: another cusp has its own."""


def _brought(case: Case, opening: Event) -> list[Event]:
    """What the opening of a stage brought with the same press: what it closed, passed over and was held by."""
    if opening.kind != "stage.opened":
        return []
    return [e for e in _counting(case, opening.press) if e.kind == "stage.closed" or e.kind in _JUDGED]


def _judge_anew(press: Press, opening: Event, slot: Slot, at: Moment) -> None:
    """The holds and passed stages of the right cusp, as the case stood when the stage was called.

    A reason that was given for the wrong cusp is kept, since it was given at that call.
    """
    case = press.case
    together = [e for e in case.log if e.press == opening.press]
    # A stage that was moved before begins with the voids of what it replaced: those belong to what was before it.
    start = next(e.seq for e in together if e.kind != "event.voided")
    was = refold(case, case.log[: start - 1])
    given = [e.what.reason for e in together if isinstance(e.what, ev.StageSkipped | ev.HoldPassed)]
    reason = given[0] if given else f"moved to {cusp_word(slot.cusp)} cusp"
    write_passed(press, was, slot, reason, opening.entered, at=at, mode="amended")


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
    """An energy burst or a result moves with its whole attempt."""
    for _ in range(4):
        field = {"energy.stopped": "burst", "energy.started": "attempt", "attempt.closed": "attempt"}.get(
            event.kind
        )
        above = case.event(getattr(event.what, field)) if field else None
        if above is None:
            break
        event = above
    return event


def _leaning(case: Case, first: Event) -> list[Event]:
    """The event and all that count and name it, directly or through each other, in the order of the log."""
    chain = {first.seq}
    for event in case.log[first.seq :]:
        if event.seq not in case.voided and event.kind != "press.bounced" and chain & set(event.named()):
            chain.add(event.seq)
    return [case.log[seq - 1] for seq in sorted(chain)]


def _renamed(case: Case, what: Any, cusp: str, renamed: dict[int, int]) -> Any:
    """The payload on another cusp, numbered there, naming the new events instead of the voided ones."""
    changes: dict[str, Any] = {}
    if getattr(what, "cusp", None):
        changes["cusp"] = cusp
    for field in ev.REFERENCES:
        named = getattr(what, field, None)
        if isinstance(named, int) and named in renamed:
            changes[field] = renamed[named]
    if what.kind == "attempt.opened":
        changes["number"] = 1 + _most(
            a.number for a in case.attempts if (a.stage, a.cusp) == (what.stage, cusp)
        )
        if what.opened is not None and what.opened not in renamed:
            changes["opened"] = None
    if what.kind == "stage.opened":
        changes["visit"] = 1 + sum(1 for v in case.visits if (v.stage, v.cusp) == (what.stage, cusp))
    return what.model_copy(update=changes)


def _most(numbers: Iterable[int]) -> int:
    return max(numbers, default=0)
