"""Which entries belong together: a reading and the steps it answered, the end of a rescue and what it abandoned."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from labcheck.caselog import events as ev
from labcheck.caselog.case import Case
from labcheck.caselog.coherence import incoherence
from labcheck.caselog.deciding.result import Decided, Press, Refused
from labcheck.caselog.events import Event
from labcheck.caselog.folding import effective_payload, fold_all
from labcheck.caselog.steps import meant_ostium
from labcheck.checklist import finding

FIXED = frozenset(
    {"case.opened", "case.sealed", "clock.noticed", "press.bounced", "lease.taken", "seal.attested"}
)
"""Kinds that cannot be taken back: they say what the program itself saw, or open and close the case."""

_RECORDS = (ev.ReadingTaken, ev.DoseGiven, ev.DecisionMade)
"""What may also have answered a step with the same press: those go and change with it."""


def coherent(press: Press, what: str) -> Decided | Refused:
    """The correction, unless the case it would leave makes less sense than it does now."""
    wrong = incoherence(fold_all(press.case, press.written), besides=press.case)
    return Refused(f"{what}: {wrong}") if wrong else press.done()


def counting(case: Case, press_id: str) -> list[Event]:
    """The entries of one press that still count and may be taken back."""
    return [e for e in case.log if e.press == press_id and e.seq not in case.voided and e.kind not in FIXED]


def answers_of(case: Case, record: Event) -> list[Event]:
    """The answers that count which a reading, dose or decision gave, with its press or when it was put right.

    They follow it, up to the next such record: a press that moved a stage has written several.
    """
    if not isinstance(record.what, _RECORDS):
        return []
    found: dict[int, Event] = {}
    for head in (record.seq, *case.amended.get(record.seq, ())):
        for event in _after(case, case.log[head - 1]):
            if isinstance(event.what, _RECORDS):
                break
            if isinstance(event.what, ev.StepAnswered) and _gave(case, record, event.what):
                found[event.seq] = event
    return [event for event in found.values() if event.seq not in case.voided]


def _after(case: Case, first: Event) -> Iterator[Event]:
    for event in case.log[first.seq :]:
        if event.press != first.press:
            break
        yield event


def record_of(case: Case, answer: Event) -> Event | None:
    """The reading, dose or decision that counts and gave this answer; None where it was answered by itself."""
    if not isinstance(answer.what, ev.StepAnswered):
        return None
    for event in reversed(case.log[: answer.seq - 1]):
        if event.press != answer.press:
            return None
        record = case.event(event.target or 0) if isinstance(event.what, ev.EventAmended) else event
        if record is not None and isinstance(record.what, _RECORDS):
            gave = record.seq not in case.voided and _gave(case, record, answer.what)
            return record if gave else None
    return None


def _gave(case: Case, record: Event, answer: ev.StepAnswered) -> bool:
    now = effective_payload(case, record.seq)
    return _asks(case, answer, record.what) or (now is not None and _asks(case, answer, now[0]))


def _asks(case: Case, answer: ev.StepAnswered, record: Any) -> bool:
    """Whether the answered step asks for what this is a record of."""
    step = finding.step(case.checklist, answer.stage, answer.step)
    if step is None or answer.answer not in ("done", "value"):
        return False
    match record:
        case ev.ReadingTaken():
            return step.kind == "reading" and step.reading == record.reading
        case ev.DoseGiven():
            return step.kind == "dose" and step.drug == record.drug
        case _:
            return step.kind == "decision" and step.decision == record.decision


def still_answers(case: Case, answer: ev.StepAnswered, record: Any) -> bool:
    """Whether a record as it is now still answers the step: the same thing, at the ostium that is meant."""
    if not _asks(case, answer, record):
        return False
    step = finding.step(case.checklist, answer.stage, answer.step)
    if step is None or not isinstance(record, ev.ReadingTaken):
        return True
    rescue = next((b for b in case.bailouts if b.seq == answer.opened), None)
    meant = meant_ostium(step, answer.cusp, rescue)
    return (step.ostium if record.ostium is None else meant) in (None, record.ostium)


def abandonment(case: Case, event: Event) -> list[Event]:
    """What abandoned a cusp together with this entry: the end of a rescue, of an attempt, and the abandonment."""
    parts = [e for e in counting(case, event.press) if e.kind in _ABANDONING]
    given_up = [e for e in parts if getattr(e.what, "outcome", "abandoned") == "abandoned"]
    given_up += [e for e in parts if isinstance(e.what, ev.BailoutClosed) and e.what.lead == "abandon_cusp"]
    if not any(e.kind == "cusp.abandoned" for e in given_up):
        return [event]
    return sorted({e.seq: e for e in [event, *given_up]}.values(), key=lambda e: e.seq)


_ABANDONING = frozenset({"bailout.closed", "attempt.closed", "cusp.abandoned"})


def taken_together(case: Case, event: Event) -> list[Event] | Refused:
    """The entries that a void of ``event`` takes out, in the order of the log."""
    group = counting(case, event.press)
    opening = next((e for e in group if e.kind == "stage.opened"), None)
    match event.what:
        case ev.HoldPassed() | ev.StageSkipped() if opening is not None:
            return Refused(
                f"#{event.seq} belongs to the call of #{opening.seq}: "
                f"void #{opening.seq} to take the whole call back, or amend the reason"
            )
        case ev.StageOpened() | ev.StageClosed() | ev.StageSkipped() | ev.DecisionMade():
            return group
        case ev.EventVoided() | ev.EventAmended():
            # A correction of several entries is taken back whole: half of it would let two entries disagree.
            return group
        case ev.ReadingTaken() | ev.DoseGiven():
            return [event, *answers_of(case, event)]
        case ev.BailoutClosed() | ev.CuspAbandoned():
            return abandonment(case, event)
        case _:
            return [event]
