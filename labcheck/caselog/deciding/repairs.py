"""Corrections that take entries out: undo, and the void of an entry with what belongs to it. All are new events."""

from __future__ import annotations

from labcheck.caselog import events as ev
from labcheck.caselog import intents as it
from labcheck.caselog.deciding.result import Decided, Press, Refused
from labcheck.caselog.deciding.together import FIXED, coherent, counting, taken_together


def undo(press: Press) -> Decided | Refused:
    """Void every event of the last press that still counts."""
    case = press.case
    if case.seal is not None:
        return Refused("the case is sealed: void single entries with a reason instead")
    for event in reversed(case.log):
        taken_back = isinstance(event.what, ev.EventVoided) and event.what.undo
        if event.kind in FIXED or taken_back or event.seq in case.voided:
            continue
        group = counting(case, event.press)
        if any(e.kind == "case.opened" for e in group):
            break
        for undone in reversed(group):
            press.write(ev.EventVoided(target=undone.seq, reason="undo", undo=True))
        return coherent(press, "cannot undo")
    return Refused("there is nothing to undo")


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
    group = taken_together(case, event)
    if isinstance(group, Refused):
        return group
    for target in reversed(group):
        press.write(ev.EventVoided(target=target.seq, reason=intent.reason))
    return coherent(press, f"cannot void #{event.seq}")
