"""Bailouts: opened from anywhere, whatever the stage; closed with an outcome and where they lead."""

from __future__ import annotations

from labcheck.caselog import events as ev
from labcheck.caselog import intents as it
from labcheck.caselog.deciding.moments import before
from labcheck.caselog.deciding.result import Decided, Press, Refused
from labcheck.caselog.deciding.stages import abandon_cusp, present_cusp
from labcheck.checklist import finding


def open_bailout(press: Press, intent: it.OpenBailout) -> Decided | Refused:
    """A rescue begins. Which ostium may be said later; in a hurry nothing is asked."""
    case = press.case
    path = finding.bailout(case.checklist, intent.bailout)
    if path is None:
        return Refused(f"this checklist has no bailout '{intent.bailout}'")
    cusp = intent.cusp or (present_cusp(case) if path.per == "cusp" else None)
    same = [
        b
        for b in case.bailouts
        if b.end is None and (b.what.bailout, b.what.cusp, b.what.ostium) == (path.id, cusp, intent.ostium)
    ]
    if same:
        return Refused(f"{path.title} is running already (#{same[-1].seq})")
    press.write(ev.BailoutOpened(bailout=path.id, cusp=cusp, ostium=intent.ostium))
    return press.done()


def close_bailout(press: Press, intent: it.CloseBailout) -> Decided | Refused:
    """A rescue ends. Leading to abandoning its cusp writes that too."""
    case = press.case
    running = [b for b in case.bailouts if b.end is None and intent.bailout in (None, b.what.bailout)]
    if not running:
        return Refused("no such bailout is running")
    rescue = running[-1]
    path = finding.bailout(case.checklist, rescue.what.bailout)
    if path is None:
        return Refused(f"this checklist has no bailout '{rescue.what.bailout}'")
    if finding.option(path.outcomes, intent.outcome) is None:
        known = ", ".join(o.id for o in path.outcomes)
        return Refused(f"'{intent.outcome}' is no outcome of {path.title}: use {known}")
    if intent.lead not in path.leads:
        return Refused(f"{path.title} does not lead to {intent.lead}: use {', '.join(path.leads)}")
    if before(press.at, rescue.start, press.mode):
        return Refused(f"that is before {path.title} began")
    press.write(
        ev.BailoutClosed(opened=rescue.seq, outcome=intent.outcome, lead=intent.lead, note=intent.note)
    )
    if intent.lead == "abandon_cusp":
        cusp = rescue.what.cusp or present_cusp(case)
        if cusp is None:
            return Refused("say which cusp is abandoned (cusp panel)")
        if cusp not in case.abandoned:
            refused = abandon_cusp(press, cusp, f"rescue: {path.title}"[:200])
            if refused is not None:
                return refused
    return press.done()
