"""Bailouts: opened from anywhere, whatever the stage; closed with an outcome and where they lead."""

from __future__ import annotations

from labcheck.caselog import events as ev
from labcheck.caselog import intents as it
from labcheck.caselog.case import Bailout, Case
from labcheck.caselog.deciding.enterable import wrong_end
from labcheck.caselog.deciding.moments import before
from labcheck.caselog.deciding.result import Decided, Press, Refused
from labcheck.caselog.deciding.stages import abandon_cusp, cusp_then
from labcheck.caselog.entry_words import bailout_title
from labcheck.caselog.stamps import Moment, span
from labcheck.checklist import finding
from labcheck.checklist.unfolding import cusp_word
from labcheck.checklist.words import Cusp, Ostium


def open_bailout(press: Press, intent: it.OpenBailout) -> Decided | Refused:
    """A rescue begins. Which ostium may be said later; in a hurry nothing is asked."""
    case = press.case
    path = finding.bailout(case.checklist, intent.bailout)
    if path is None:
        return Refused(f"this checklist has no bailout '{intent.bailout}'")
    cusp = intent.cusp or (cusp_then(press) if path.per == "cusp" else None)
    same = [
        b
        for b in case.bailouts
        if b.end is None and (b.what.bailout, b.what.cusp, b.what.ostium) == (path.id, cusp, intent.ostium)
    ]
    if same:
        return Refused(f"{path.title} is running already (#{same[-1].seq})")
    press.write(ev.BailoutOpened(bailout=path.id, cusp=cusp, ostium=intent.ostium))
    return press.done()


def rescue_meant(press: Press, intent: it.AnswerStep) -> Bailout | Refused:
    """The rescue whose step is answered: the one that is named, else the last one of its kind and place.

    A claimed time speaks of the rescue that ran then; without one a rescue that is running comes first.
    """
    kind = (intent.stage or "").removeprefix(finding.BAILOUT_PREFIX)
    if intent.rescue is not None:
        named = _named(press.case, intent.rescue)
        if isinstance(named, Bailout) and intent.stage is not None and kind != named.what.bailout:
            return Refused(f"the rescue of #{named.seq} is not {kind}")
        return named
    rescues = [b for b in press.case.bailouts if b.what.bailout == kind]
    if not rescues:
        return Refused(f"bailout {kind} was not opened")
    rescues = [b for b in rescues if _placed(b, intent.cusp, intent.ostium)]
    if not rescues:
        return Refused(f"bailout {kind} was not opened there: {intent.ostium or cusp_word(intent.cusp)}")
    running = [b for b in rescues if b.end is None]
    if intent.claim is not None:
        then = [b for b in rescues if not _apart(b, press.at)]
        return (then or running or rescues)[-1]
    return (running or rescues)[-1]


def _apart(rescue: Bailout, at: Moment) -> bool:
    """Whether a moment lies before a rescue began or after it ended."""
    return span(rescue.start, at).us < 0 or (rescue.end is not None and span(at, rescue.end).us < 0)


def _placed(rescue: Bailout, cusp: Cusp | None, ostium: Ostium | None) -> bool:
    """Whether a rescue is on this cusp and ostium, as far as both are said."""
    what = rescue.what
    return (cusp is None or what.cusp in (None, cusp)) and (ostium is None or what.ostium in (None, ostium))


def _named(case: Case, seq: int) -> Bailout | Refused:
    return next((b for b in case.bailouts if b.seq == seq), None) or Refused(f"entry #{seq} opened no rescue")


def _to_end(press: Press, intent: it.CloseBailout) -> Bailout | Refused:
    """The rescue that a closing means; it must be running."""
    running = [b for b in press.case.bailouts if b.end is None]
    if intent.rescue is not None:
        named = _named(press.case, intent.rescue)
        if isinstance(named, Bailout) and named not in running:
            title = bailout_title(press.case, named.what)
            return Refused(f"{title} has ended already (#{named.end_seq})")
        return named
    known = [b for b in running if intent.bailout in (None, b.what.bailout)]
    known = [b for b in known if _placed(b, intent.cusp, intent.ostium)]
    return known[-1] if known else Refused("no such bailout is running")


def close_bailout(press: Press, intent: it.CloseBailout) -> Decided | Refused:
    """A rescue ends. Leading to abandoning its cusp writes that too."""
    case = press.case
    rescue = _to_end(press, intent)
    if isinstance(rescue, Refused):
        return rescue
    path = finding.bailout(case.checklist, rescue.what.bailout)
    if path is None:
        return Refused(f"this checklist has no bailout '{rescue.what.bailout}'")
    wrong = wrong_end(path, intent.outcome)
    if wrong is not None:
        return wrong
    if intent.lead not in path.leads:
        return Refused(f"{path.title} does not lead to {intent.lead}: use {', '.join(path.leads)}")
    if before(press, rescue):
        return Refused(f"that is before {path.title} began")
    press.write(
        ev.BailoutClosed(opened=rescue.seq, outcome=intent.outcome, lead=intent.lead, note=intent.note)
    )
    if intent.lead == "abandon_cusp":
        cusp = rescue.what.cusp or cusp_then(press)
        if cusp is None:
            return Refused("say which cusp is abandoned (cusp panel)")
        if cusp not in case.abandoned:
            refused = abandon_cusp(press, cusp, f"rescue: {path.title}"[:200])
            if refused is not None:
                return refused
    return press.done()
