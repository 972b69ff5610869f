"""Going on with a case: at once if it is free, else only looked at, until it is taken over by a deliberate act."""

from __future__ import annotations

from typing import TYPE_CHECKING

from labcheck.checklist.complaint import ChecklistError
from labcheck.console.opening import holder_words, look_on, resume_case, take_over
from labcheck.console.rehearsed import continued
from labcheck.ledger.errors import LedgerError

if TYPE_CHECKING:
    from labcheck.console.app import Console


def take_up(console: Console, key: str, *, take: bool = False) -> None:
    """Show the case. One that another console holds is shown read-only; ``take`` takes it over from there.

    A case that cannot be read is told in one line on the screen that is there.
    """
    try:
        _take_up(console, key, take)
    except (LedgerError, ChecklistError) as fault:
        console.clock = console.own_clock
        console.say_home(str(fault))


def _take_up(console: Console, key: str, take: bool) -> None:
    now_us = console.own_clock.stamp().wall_us
    epoch = console.ledger.head(key).epoch
    held = console.lease is not None and not console.lease.acquire(key, epoch, now_us)
    if held and take and console.lease is not None and not console.lease.take_over(key, epoch, now_us):
        console.say_home(f"{key} was taken over by a third console just now: look again who has it")
        return
    line = next((line for line in console.ledger.cases() if line.case == key), None)
    console.clock = (continued(line, console.own_clock) if line is not None else None) or console.own_clock
    if held and not take:
        console.show_held(look_on(console.bench, key))
        return
    stamp = console.clock.stamp()
    session = resume_case(console.bench, key, stamp)
    if held:
        take_over(session, console.lease_name, stamp)
    console.show_case(session)


def who_holds(console: Console, key: str, epoch: int) -> str:
    """Which other console has the case and since when, or "" if none has it now."""
    holder = console.lease.held_by(key, epoch) if console.lease is not None else None
    return holder_words(holder, console.own_clock.stamp()) if holder is not None else ""
