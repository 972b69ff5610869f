"""When an intent happened: at the press, or when it is claimed to have happened."""

from __future__ import annotations

from dataclasses import dataclass

from labcheck.caselog.case import Case, Visit
from labcheck.caselog.deciding.result import Press, Refused
from labcheck.caselog.intents import Claim
from labcheck.caselog.stamps import Mode, Moment, Stamp, shifted, span


@dataclass(frozen=True, slots=True)
class When:
    """The moment, how it is known, and how finely (seconds)."""

    at: Moment
    mode: Mode = "live"
    precision_s: int = 0
    reason: str | None = None
    mark: int | None = None


def when(case: Case, claim: Claim | None, stamp: Stamp) -> When | Refused:
    """Turn a claim into a moment, or say why it cannot be."""
    if claim is None:
        return When(stamp.moment())
    given = [claim.ago_us, claim.wall_us, claim.mark]
    if sum(value is not None for value in given) != 1:
        return Refused("say when in one way only: minutes ago, a time, or a mark")
    mode: Mode = "transcribed" if claim.transcribed else "live" if _held(claim) else "late"
    if claim.mark is not None:
        return _at_mark(case, claim, mode)
    back = claim.ago_us if claim.ago_us is not None else stamp.wall_us - (claim.wall_us or 0)
    if back < 0:
        return Refused("that time is still to come: check the hour, or the console's clock")
    at = _placed(case, stamp, back, bare=claim.transcribed)
    if claim.off_s is not None:
        at = at.model_copy(update={"off_s": claim.off_s, "tz": claim.tz or ""})
    if mode != "live" and case.opened is not None and span(case.opened, at).us < 0 and claim.reason is None:
        return Refused("that is before the case was opened: give a reason", needs="reason")
    return When(at, mode, 0 if mode == "live" else claim.precision_s, claim.reason)


HELD_US = 60_000_000
"""How long a press may wait for its reason and still be called live (our choice, no source)."""


def _held(claim: Claim) -> bool:
    return claim.held and claim.ago_us is not None and claim.ago_us <= HELD_US


def _at_mark(case: Case, claim: Claim, mode: Mode) -> When | Refused:
    mark = next((m for m in case.marks if m.seq == claim.mark), None)
    if mark is None:
        return Refused(f"there is no mark #{claim.mark}")
    if mark.what is not None:
        return Refused(f"mark #{claim.mark} is already described by #{mark.what}")
    return When(mark.at, mode, 0, claim.reason, claim.mark)


def _placed(case: Case, stamp: Stamp, back_us: int, *, bare: bool) -> Moment:
    """The moment so long before the stamp, in the zone in force then as far as the log knows it.

    A paper record knows no boot clock, so its moments are wall time only.
    """
    moment = shifted(stamp, back_us)
    if bare:
        moment = moment.model_copy(update={"boot_us": None, "boot_id": None})
    for event in reversed(case.log):
        if event.entered.wall_us <= moment.wall_us:
            zone = {"off_s": event.entered.off_s, "tz": event.entered.tz}
            return moment if bare else moment.model_copy(update=zone)
    return moment


def before(at: Moment, start: Moment, mode: Mode) -> bool:
    """Whether a claimed moment lies before the start of what it is to end. A live press never does:
    a clock that was set back must not stop anybody from recording."""
    return mode != "live" and span(start, at).us < 0


def visit_then(press: Press) -> Visit | None:
    """The visit that was open when it happened; None where no stage was open then.

    What is entered late belongs to the stage and cusp of its own time, not to those of now.
    """
    now = press.case.visit
    if press.mode == "live" or (now is not None and not press.precedes(now.start, now.seq)):
        return now
    for visit in reversed(press.case.visits):
        ended = visit.end is not None and not press.precedes(visit.end, visit.end_seq or visit.seq)
        if not ended and not press.precedes(visit.start, visit.seq):
            return visit
    return None
