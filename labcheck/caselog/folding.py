"""Folding events into a case. Pure and total: any event, however odd, gives a case and never an exception.

``fold`` applies one event. A correction makes the case be folded afresh from the events that still count, so
that a void restores exactly what was there without the voided event.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

from labcheck.caselog import folding_parts as parts
from labcheck.caselog.case import Case
from labcheck.caselog.copying import replace
from labcheck.caselog.corrections import amendments, as_amended, voids
from labcheck.caselog.events import Event
from labcheck.caselog.progress import ended_as_known
from labcheck.caselog.stamps import Moment
from labcheck.checklist.model import Checklist

Apply = Callable[[Case, int, Any, Moment, Event], Case]

APPLY: dict[str, Apply] = {
    "case.opened": parts.case_opened,
    "stage.opened": parts.stage_opened,
    "stage.closed": parts.stage_closed,
    "stage.skipped": parts.stage_skipped,
    "hold.passed": parts.hold_passed,
    "step.answered": parts.step_answered,
    "decision.made": parts.decision_made,
    "attempt.opened": parts.attempt_opened,
    "attempt.closed": parts.attempt_closed,
    "energy.started": parts.energy_started,
    "energy.stopped": parts.energy_stopped,
    "run.started": parts.run_started,
    "run.stopped": parts.run_stopped,
    "sample.sent": parts.sample_sent,
    "reading.taken": parts.reading_taken,
    "dose.given": parts.dose_given,
    "device.used": parts.device_used,
    "fault.noted": parts.fault_noted,
    "note.written": parts.note_written,
    "mark.set": parts.mark_set,
    "bailout.opened": parts.bailout_opened,
    "bailout.closed": parts.bailout_closed,
    "cusp.abandoned": parts.cusp_abandoned,
    "order.changed": parts.order_changed,
    "prompt.silenced": parts.prompt_silenced,
    "handover.made": parts.handover_made,
    "clock.compared": parts.clock_compared,
    "clock.noticed": parts.clock_noticed,
    "signout.settled": parts.signout_settled,
    "case.sealed": parts.case_sealed,
    "addendum.added": parts.addendum_added,
}
"""Kinds that change the folded case; the others (bounce, lease, attest) only stand in the log."""

_CORRECTS = frozenset({"event.voided", "event.amended"})
_TELLS_HOW = frozenset(
    {
        "stage.opened", "stage.closed", "attempt.opened", "attempt.closed", "cusp.abandoned", "order.changed",
        "addendum.added",
    }
)  # fmt: skip
"""Kinds after which a stage that has ended may turn out to have ended otherwise."""


def begin(key: str, checklist: Checklist) -> Case:
    """A case with nothing in it yet, to be run with this checklist."""
    return Case(key=key, checklist=checklist)


def fold(case: Case, event: Event) -> Case:
    """The case after one more event."""
    if event.kind in _CORRECTS:
        return refold(case, (*case.log, event))
    after = _apply(replace(case, log=(*case.log, event), epoch=event.epoch), event, event.what, event.happened)
    return ended_as_known(after) if event.kind in _TELLS_HOW else after


def fold_all(case: Case, events: Iterable[Event]) -> Case:
    """The case after several more events; a run of corrections is folded once, not once for each."""
    fresh = list(events)
    if any(event.kind in _CORRECTS for event in fresh):
        return refold(case, (*case.log, *fresh))
    for event in fresh:
        case = fold(case, event)
    return case


def refold(case: Case, log: Iterable[Event]) -> Case:
    """The case folded afresh from a whole log."""
    whole = tuple(log)
    voided = voids(whole)
    amended = amendments(whole, voided)
    fresh = begin(case.key, case.checklist)
    for event in whole:
        if event.seq in voided or event.kind in _CORRECTS:
            continue
        if changes := amended.get(event.seq):
            what, at = as_amended(event, [whole[seq - 1] for seq in changes if seq <= len(whole)])
        else:
            what, at = event.what, event.happened
        fresh = _apply(fresh, event, what, at)
    epoch = whole[-1].epoch if whole else 1
    return ended_as_known(replace(fresh, log=whole, voided=voided, amended=amended, epoch=epoch))


def effective_payload(case: Case, seq: int) -> tuple[Any, Moment] | None:
    """What an event says now, and when it happened, after amendments; None where there is no such event."""
    event = case.event(seq)
    if event is None:
        return None
    return as_amended(event, [case.log[n - 1] for n in case.amended.get(seq, ())])


def _apply(case: Case, event: Event, what: Any, at: Moment) -> Case:
    if event.from_mark is not None:
        case = parts.mark_described(case, event.from_mark, event.seq)
    apply = APPLY.get(event.kind)
    return apply(case, event.seq, what, at, event) if apply else case
