"""The order in which things happened, for those entered late or amended, and over a restart."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TypeVar

from labcheck.caselog.case import Case
from labcheck.caselog.copying import replace
from labcheck.caselog.events import EventAmended
from labcheck.caselog.stamps import Moment

T = TypeVar("T")


def by_happening(case: Case, timed: Iterable[tuple[Moment, int, T]]) -> list[T]:
    """Things in the order in which they happened, from (moment, seq of the entry that says it, thing)."""
    out: list[tuple[Moment, int, T]] = []
    for at, seq, thing in sorted(timed, key=lambda one: one[1]):
        place = len(out)
        while place and earlier(case, at, seq, out[place - 1][0], out[place - 1][1]):
            place -= 1
        out.insert(place, (at, seq, thing))
    return [thing for _, _, thing in out]


def earlier(case: Case, at: Moment, seq: int, other: Moment, other_seq: int) -> bool:
    """Whether the moment ``at`` of entry ``seq`` came before the other one.

    The boot clock says so within a boot, and all of one boot lies before all of the next: a wall clock that was set
    back across a restart must not reshuffle a case. The wall clock is asked only for what was claimed without a boot
    clock; what was entered live came after all that had been entered. A seq past the log is one being claimed now.
    """
    if None not in (at.boot_us, at.boot_id, other.boot_us, other.boot_id):
        if at.boot_id == other.boot_id:
            return (at.boot_us or 0) < (other.boot_us or 0)
        first = next(
            (e.entered.boot_id for e in case.log if e.entered.boot_id in (at.boot_id, other.boot_id)), None
        )
        if first is not None:
            return at.boot_id == first
    if seq > other_seq and not _claimed(case, seq):
        return False
    if other_seq > seq and not _claimed(case, other_seq):
        return True
    return at.wall_us < other.wall_us


def _claimed(case: Case, seq: int) -> bool:
    """Whether an entry's time was said by somebody, at its entering or by a correction, and not taken from a press."""
    event = case.event(seq)
    if event is None or event.mode != "live":
        return True
    changes = (case.log[number - 1].what for number in case.amended.get(seq, ()))
    return any(isinstance(change, EventAmended) and change.field == "happened" for change in changes)


def up_to(case: Case, at: Moment) -> Case:
    """The case without the readings and doses that came after a claimed moment: nobody could know them then."""
    now = case.head_seq + 1
    readings = tuple(r for r in case.readings if not earlier(case, at, now, r.at, r.seq))
    doses = tuple(d for d in case.doses if not earlier(case, at, now, d.at, d.seq))
    if (len(readings), len(doses)) == (len(case.readings), len(case.doses)):
        return case
    return replace(case, readings=readings, doses=doses)
