"""Amendments: one field of an entry is replaced, and what says the same thing follows it."""

from __future__ import annotations

from typing import Any

from labcheck.caselog import events as ev
from labcheck.caselog import intents as it
from labcheck.caselog.case import Case
from labcheck.caselog.coherence import misordered
from labcheck.caselog.corrections import in_own_form, may_amend, with_field
from labcheck.caselog.deciding.result import Decided, Press, Refused
from labcheck.caselog.deciding.soundness import unsound
from labcheck.caselog.deciding.together import answers_of, coherent, counting, record_of, still_answers
from labcheck.caselog.events import Event
from labcheck.caselog.folding import effective_payload, fold_all
from labcheck.caselog.holds import choices
from labcheck.caselog.ranges import out_of_range
from labcheck.caselog.stamps import Moment
from labcheck.caselog.standing import given_answer
from labcheck.checklist import finding
from labcheck.checklist.unfolding import steps_for

_RANGED = frozenset({"value", "amount", "unit", "drug"})
"""Fields of a reading or dose by which it may leave its usual range, or come back into it."""

_SAID_AGAIN = frozenset({"value", "choice", "amount", "unit", "ostium", "drug"})
"""Fields of a reading or dose that the step it answered says too, or that decide whether it answers that step."""


def amend_event(press: Press, intent: it.AmendEvent) -> Decided | Refused:
    """Replace one field of an entry; the original stays as it was written."""
    case = press.case
    event = case.event(intent.target)
    if event is None:
        return Refused(f"there is no entry #{intent.target}")
    if event.seq in case.voided:
        return Refused(f"#{event.seq} is void: enter it anew instead")
    if not may_amend(event.kind, intent.field):
        return Refused(f"{intent.field} of {event.kind} cannot be amended: void it and enter it anew")
    record = record_of(case, event)
    if record is not None and intent.field != "reason":
        return _amend_record(press, event, record, intent)
    return _amend(press, event, intent)


def _amend_record(press: Press, answer: Event, record: Event, intent: it.AmendEvent) -> Decided | Refused:
    """A step that a reading or dose answered is put right where its value comes from, so that both say the same."""
    what: Any = record.what
    field = intent.field
    if field == "value":
        reading = finding.reading(press.case.checklist, getattr(what, "reading", ""))
        coded = reading is not None and bool(reading.options)
        field = "choice" if coded else "amount" if isinstance(what, ev.DoseGiven) else "value"
    if not may_amend(record.kind, field):
        return Refused(
            f"#{answer.seq} was answered by #{record.seq}: void #{record.seq} and enter it anew, "
            f"or void #{answer.seq} if only the step was not answered by it"
        )
    return _amend(press, record, intent.model_copy(update={"target": record.seq, "field": field}))


def _amend(press: Press, event: Event, intent: it.AmendEvent) -> Decided | Refused:
    case = press.case
    now = effective_payload(case, event.seq)
    if now is None:
        return Refused(f"there is no entry #{event.seq}")
    what, at = now
    before: str | None = str(at.wall_us)
    if intent.field == "happened":
        fresh, wrong = what, _wrong_time(press, intent.value)
    else:
        fresh = _with(what, intent)
        before = in_own_form(what, intent.field)
        wrong = _wrong_value(case, what, fresh, intent)
    if wrong is not None:
        return Refused(f"cannot amend #{event.seq}: {wrong.reason}", needs=wrong.needs)
    strange = out_of_range(case.checklist, fresh) if intent.field in _RANGED else ""
    if strange and before != intent.value and not intent.accept:
        return Refused(f"{strange}: again to accept", needs="accept")
    if before != intent.value:
        _write(press, event.seq, intent.field, intent.value, before, intent.reason)
        _write_rest(press, event, what, fresh, intent)
        if intent.field == "happened":
            _bring_along(press, event, at, intent)
    if intent.field in _RANGED and hasattr(what, "outside") and bool(strange) != what.outside:
        flag, was = ("true", "false") if strange else ("false", "true")
        _write(press, event.seq, "outside", flag, was, intent.reason)
    _follow(press, event, fresh, intent)
    if not press.written:
        return Refused(f"#{event.seq} says that already")
    if intent.field == "happened":
        after = fold_all(case, press.written)
        for seq in dict.fromkeys(e.target or 0 for e in press.written):
            early = misordered(after, seq, case)
            if early:
                return Refused(f"cannot amend #{event.seq}: {early}")
    return coherent(press, f"cannot amend #{event.seq}")


def _write(press: Press, target: int, field: str, value: str | None, before: str | None, reason: str) -> None:
    press.write(ev.EventAmended(target=target, field=field, value=value, before=before, reason=reason))


def _with(what: Any, intent: it.AmendEvent) -> Any | None:
    """The payload with the field replaced; an answer and its value fit each other, whichever of them was replaced."""
    fresh = with_field(what, intent.field, intent.value)
    if not isinstance(fresh, ev.StepAnswered):
        return fresh
    if intent.field == "value" and fresh.value is not None:
        return fresh.model_copy(update={"answer": "value"})
    if intent.field == "answer" and fresh.answer != "value":
        return fresh.model_copy(update={"value": None, "unit": None})
    return fresh


def _wrong_value(case: Case, what: Any, fresh: Any | None, intent: it.AmendEvent) -> Refused | None:
    """Why it cannot say that. What was wrong with the entry before is not held against its amendment."""
    if fresh is None:
        return Refused(f"'{intent.value}' is no {intent.field} of {what.kind}")
    wrong = unsound(case, fresh, accept=intent.accept)
    was = unsound(case, what, accept=True) if wrong is not None else None
    return None if wrong is None or (was is not None and was.reason == wrong.reason) else wrong


def _write_rest(press: Press, event: Event, what: Any, fresh: Any, intent: it.AmendEvent) -> None:
    """What had to change with the field, so that a step's answer and its value fit each other."""
    if not isinstance(what, ev.StepAnswered):
        return
    for field in ("answer", "value", "unit"):
        before, after = in_own_form(what, field), in_own_form(fresh, field)
        if field != intent.field and before != after:
            _write(press, event.seq, field, after, before, intent.reason)


def _follow(press: Press, record: Event, fresh: Any, intent: it.AmendEvent) -> None:
    """A step that the reading or dose answered says the same after the amendment, or is open again where the
    amended record is of something else.
    """
    case = press.case
    for answer in answers_of(case, record):
        now = effective_payload(case, answer.seq)
        if now is None:
            continue
        what, at = now
        if intent.field == "happened":
            if str(at.wall_us) != intent.value:
                _write(press, answer.seq, "happened", intent.value, str(at.wall_us), intent.reason)
        elif intent.field in _SAID_AGAIN and not still_answers(case, what, fresh):
            press.write(ev.EventVoided(target=answer.seq, reason=intent.reason))
            _answer_instead(press, what, at, fresh)
        elif intent.field in _SAID_AGAIN:
            for field, value in _said(fresh, what).items():
                before = in_own_form(what, field)
                if before != value:
                    _write(press, answer.seq, field, value, before, intent.reason)


def _answer_instead(press: Press, answer: ev.StepAnswered, at: Moment, record: Any) -> None:
    """The step beside it that asks for what the record is of now, if it is open: it was seen then, not later.

    Not where the stage was entered again since: the later visit asks anew, and nobody looked in it.
    """
    case = press.case
    holder = finding.holder(case.checklist, answer.stage)
    rescue = next((b.seq for b in case.bailouts if b.seq == answer.opened), None)
    visits = [v.seq for v in case.visits if (v.stage, v.cusp) == (answer.stage, answer.cusp)]
    if holder is None or case.plan is None or answer.opened not in (rescue, *visits[-1:]):
        return
    for step in steps_for(holder, case.plan, choices(case)):
        instead = answer.model_copy(update={"step": step.id, **_said(record, answer)})
        given = given_answer(case, answer.stage, answer.cusp, step.id, rescue)
        if given is None and still_answers(case, instead, record):
            press.write(instead, at=at, mode="amended")
            return


def _said(record: Any, answer: ev.StepAnswered) -> dict[str, str | None]:
    """What the answer says after the record. One that said only that it was done goes on saying no more."""
    number = record.amount if isinstance(record, ev.DoseGiven) else record.value
    value = getattr(record, "choice", None) or (None if number is None else f"{number:f}")
    if answer.answer == "done":
        return {}
    if value is None:
        return {"answer": "done", "value": None, "unit": None}
    return {"answer": "value", "value": value, "unit": record.unit or answer.unit}


_TWINS = {
    "stage.opened": frozenset({"stage.closed", "stage.skipped", "hold.passed"}),
    "energy.started": frozenset({"attempt.opened"}),
}
"""Kind -> what the same press brought about at the same moment: the end of the stage before, the attempt begun."""


def _bring_along(press: Press, event: Event, at: Moment, intent: it.AmendEvent) -> None:
    """What happened at the very moment of ``event``, because of it, happened at the amended time too."""
    for twin in counting(press.case, event.press):
        now = effective_payload(press.case, twin.seq) if twin.kind in _TWINS.get(event.kind, ()) else None
        if now is not None and now[1].wall_us == at.wall_us:
            _write(press, twin.seq, "happened", intent.value, str(at.wall_us), intent.reason)


def _wrong_time(press: Press, value: str | None) -> Refused | None:
    if value is None or not value.isascii() or not value.isdecimal() or len(value) > 17:
        return Refused("the time must be UTC microseconds")
    if int(value) > press.stamp.wall_us:
        return Refused("that time is still to come")
    return None
