"""Deciding what an intent becomes: events, or a refusal that says why. Pure and total.

The same function serves keys, rehearsals, transcription and tests. It never raises; it reads no clock.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from labcheck.caselog import events as ev
from labcheck.caselog import intents as it
from labcheck.caselog.case import Case
from labcheck.caselog.deciding import (
    amending,
    answers,
    attempts,
    closing,
    moving,
    records,
    repairs,
    rescues,
    stages,
)
from labcheck.caselog.deciding.moments import when
from labcheck.caselog.deciding.result import Decided, Press, Refused
from labcheck.caselog.stamps import SAFE, Stamp

__all__ = ["Decided", "Refused", "decide"]

AFTER_SEAL = frozenset({"event.amend", "event.void", "addendum.add", "seal.attest", "lease.take"})

_Handler = Callable[[Press, Any], Decided | Refused]


def _just(what: Callable[[Any], Any]) -> _Handler:
    """A handler that writes one event and asks nothing."""

    def handle(press: Press, intent: Any) -> Decided | Refused:
        press.write(what(intent))
        return press.done()

    return handle


def _abandon(press: Press, intent: it.AbandonCusp) -> Decided | Refused:
    return stages.abandon_cusp(press, intent.cusp, intent.reason) or press.done()


def _take_lease(press: Press, intent: it.TakeLease) -> Decided | Refused:
    what = ev.LeaseTaken(console=intent.console, reason=intent.reason)
    press.write(what, epoch=press.case.epoch + 1)
    return press.done()


HANDLERS: dict[str, _Handler] = {
    "case.open": closing.open_case,
    "stage.open": stages.open_stage,
    "stage.close": lambda press, _: stages.close_stage(press),
    "stage.skip": stages.skip_stage,
    "step.answer": answers.answer_step,
    "decision.make": stages.make_decision,
    "attempt.open": lambda press, _: attempts.open_attempt(press),
    "attempt.close": attempts.close_attempt,
    "energy.on": attempts.energy_on,
    "energy.off": lambda press, _: attempts.energy_off(press),
    "run.start": attempts.start_run,
    "run.stop": attempts.stop_run,
    "sample.send": records.send_sample,
    "reading.take": records.take_reading,
    "dose.give": records.give_dose,
    "device.use": records.use_device,
    "fault.note": records.note_fault,
    "note.write": records.write_note,
    "mark.set": _just(lambda _: ev.MarkSet()),
    "bailout.open": rescues.open_bailout,
    "bailout.close": rescues.close_bailout,
    "cusp.abandon": _abandon,
    "order.change": stages.change_order,
    "cusp.move": moving.move_cusp,
    "prompt.silence": closing.silence,
    "handover.make": closing.hand_over,
    "clock.compare": closing.compare_clock,
    "clock.notice": _just(lambda intent: intent.found),
    "undo": lambda press, _: repairs.undo(press),
    "event.void": repairs.void_event,
    "event.amend": amending.amend_event,
    "signout.settle": closing.settle,
    "case.seal": lambda press, _: closing.seal(press),
    "seal.attest": closing.attest,
    "addendum.add": closing.add_fact,
    "lease.take": _take_lease,
}

NEVER_LATE = frozenset(
    {"undo", "event.void", "event.amend", "cusp.move", "lease.take", "clock.notice", "seal.attest"}
)
"""A correction is made when it is made; claiming another time for it would falsify the trail."""


def decide(case: Case, intent: it.Intent, stamp: Stamp) -> Decided | Refused:
    """What ``intent``, pressed at ``stamp``, becomes in this case.

    Returns ``Decided`` with events numbered from ``case.head_seq + 1``, to be appended in one transaction and
    then folded; or ``Refused`` with one line that says why and what to do. The case is not changed.
    """
    do = getattr(intent, "do", "")
    handler = HANDLERS.get(do)
    if handler is None:
        return Refused(f"'{do}' is no intent")
    if case.plan is None and do != "case.open":
        return Refused("the case is not open yet")
    if case.seal is not None and do not in AFTER_SEAL:
        return Refused("the case is sealed: amend, void, or add a late fact with a reason")
    if case.seal is None and do in ("addendum.add", "seal.attest"):
        return Refused("the case is not sealed: enter it as a late entry")
    if intent.claim is not None and do in NEVER_LATE:
        return Refused("a correction carries the time at which it is made")
    if case.head_seq + 500 > 2**31 or stamp.wall_us > SAFE - 1:
        return Refused("the log is full")
    placed = when(case, intent.claim, stamp)
    if isinstance(placed, Refused):
        return placed
    press = Press(case, intent, stamp, placed.at, placed.mode, placed.precision_s, placed.reason, placed.mark)
    return handler(press, intent)
