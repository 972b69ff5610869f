"""When an intent happened: at the press, or when it is claimed to have happened."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

from labcheck.caselog.case import Case, Visit
from labcheck.caselog.deciding.result import Press, Refused
from labcheck.caselog.events import ClockNoticed
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
    at = _claimed(case, stamp, claim)
    if at is None:
        return Refused("that time is still to come: check the hour, or the console's clock")
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


def _claimed(case: Case, stamp: Stamp, claim: Claim) -> Moment | None:
    """The claimed moment, in the zone in force then as far as the log knows it; None where it is still to come.

    A paper record knows no boot clock, so its moments are wall time only.
    """
    clocks = () if claim.transcribed else _clocks(case, stamp)
    if claim.ago_us is not None:
        moment = _as_shown(clocks, shifted(stamp, claim.ago_us))
    else:
        shown = _shown(clocks, stamp, claim.wall_us or 0)
        if shown is None:
            return None
        moment = shown
    if claim.transcribed:
        moment = moment.model_copy(update={"boot_us": None, "boot_id": None})
    for event in reversed(case.log):
        if _not_after(event.entered, moment):
            zone = {"off_s": event.entered.off_s, "tz": event.entered.tz}
            return moment if claim.transcribed else moment.model_copy(update=zone)
    return moment


def _not_after(entered: Stamp, moment: Moment) -> bool:
    if moment.boot_us is not None and moment.boot_id == entered.boot_id:
        return entered.boot_us <= moment.boot_us
    return entered.wall_us <= moment.wall_us


_Clock = tuple[int, int, int]
"""From this boot time to that one, microseconds, the wall clock was so much ahead of the boot clock."""


def _clocks(case: Case, stamp: Stamp) -> tuple[_Clock, ...]:
    """What the wall clock was in this boot between the steps that were noticed, oldest first; () without a step."""
    found: list[tuple[int, int]] = []
    for event in case.log:
        stepped = isinstance(event.what, ClockNoticed) and event.what.notice == "step"
        if event.entered.boot_id != stamp.boot_id:
            continue
        ahead = event.entered.wall_us - event.entered.boot_us
        if stepped or not found:
            # Before a notice that is the first entry of this boot nobody knows what the clock showed.
            found.append((event.entered.boot_us if stepped else 0, ahead))
        else:
            found[-1] = (found[-1][0], ahead)
    if len(found) < 2 and not (found and found[0][0]):
        return ()
    found[-1] = (found[-1][0], stamp.wall_us - stamp.boot_us)
    ends = [start for start, _ in found[1:]] + [stamp.boot_us]
    return tuple((start, end, ahead) for (start, ahead), end in zip(found, ends, strict=True))


def _shown(clocks: tuple[_Clock, ...], stamp: Stamp, wall_us: int) -> Moment | None:
    """When the clock showed this time: the last time it did, by what it was set to then."""
    for start, end, ahead in reversed(clocks):
        if start <= wall_us - ahead <= end:
            at = shifted(stamp, stamp.boot_us - (wall_us - ahead))
            return at.model_copy(update={"wall_us": wall_us})
    if wall_us > stamp.wall_us:
        return None
    at = shifted(stamp, stamp.wall_us - wall_us)
    return at.model_copy(update={"boot_us": None, "boot_id": None}) if clocks else at


def _as_shown(clocks: tuple[_Clock, ...], at: Moment) -> Moment:
    """A moment counted back from now, with the time that the clock showed then."""
    if at.boot_us is None:
        return at
    for start, end, ahead in reversed(clocks):
        if start <= at.boot_us <= end:
            return at.model_copy(update={"wall_us": max(0, at.boot_us + ahead)})
    return at


def before(press: Press, of: _Begun) -> bool:
    """Whether a claimed moment lies before the start of what it is to end. A live press never does: a clock that was
    set back must not stop anybody from recording. Over a restart the boots decide, not a wall clock set back.
    """
    return press.mode != "live" and press.precedes(of.start, of.seq)


def visit_then(press: Press) -> Visit | None:
    """The visit that was open when it happened; None where no stage was open then.

    What is entered late belongs to the stage and cusp of its own time, not to those of now.
    """
    now = press.case.visit
    if press.mode == "live" or (now is not None and not press.precedes(now.start, now.seq)):
        return now
    return next((visit for visit in reversed(press.case.visits) if during(press, visit)), None)


class _Begun(Protocol):
    @property
    def seq(self) -> int: ...
    @property
    def start(self) -> Moment: ...


class _Lasting(_Begun, Protocol):
    @property
    def end(self) -> Moment | None: ...
    @property
    def end_seq(self) -> int | None: ...


def during(press: Press, one: _Lasting) -> bool:
    """Whether it happened while this was on: not before it began, and before it ended."""
    ended = one.end is not None and not press.precedes(one.end, one.end_seq or one.seq)
    return not ended and not press.precedes(one.start, one.seq)
