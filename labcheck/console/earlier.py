"""Presses that an earlier run could not save: what still fits is brought into the ledger, the rest is named."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from labcheck.caselog.case import Case
from labcheck.caselog.clockwords import clock_words, date_words
from labcheck.caselog.events import Event
from labcheck.caselog.folding import begin, refold
from labcheck.caselog.stamps import Stamp
from labcheck.checklist.model import Checklist
from labcheck.console.unwritten import Unwritten, of_events
from labcheck.ledger.contract import Ledger
from labcheck.ledger.errors import LedgerError, NotSaved
from labcheck.ledger.unsaved import Kept, SideFile

NOTHING_TO_ENTER = frozenset({"clock.noticed", "press.bounced", "lease.taken"})
"""Entries of an earlier run that nobody would enter by hand."""


@dataclass(frozen=True, slots=True)
class Left:
    """A press that is not in the log and will not come into it by itself. ``key`` marks it as seen."""

    key: str
    words: str


@dataclass(frozen=True, slots=True)
class Earlier:
    """What an earlier run left: presses that are in the log now, and presses that are not."""

    brought_in: tuple[Unwritten, ...] = ()
    left: tuple[Left, ...] = ()


def bring_in(ledger: Ledger, side: SideFile, case: str) -> tuple[list[Kept], list[Kept]]:
    """Send what was kept for a case, in order. Gives what came into the ledger now, and what is left.

    What was decided on a press that does not fit does not fit either, even where its number is free by chance.
    What somebody was told to enter anew, or has marked as seen, is not sent: it would stand in the log twice.
    """
    kept = side.presses(case)
    if not kept:
        return [], []
    known = {record.event_id for record in ledger.records(case)}
    came: list[Kept] = []
    left: list[Kept] = []
    unfit: set[int] = set()
    failed = False
    for press in kept:
        if press.events and all(event.id in known for event in press.events):
            continue
        if press.again and press.events and not failed and press.events[0].seq not in unfit:
            try:
                ledger.append(press.events)
            except NotSaved:
                # Not this press, but the disk: nothing that stands behind it can be saved either.
                failed = True
            except LedgerError:
                unfit.add(press.events[-1].seq + 1)
            else:
                came.append(press)
                continue
        elif press.events:
            unfit.add(press.events[-1].seq + 1)
        left.append(press)
    side.settle(case, known | {event.id for press in came for event in press.events})
    return came, left


def told(
    came: Sequence[Kept], left: Sequence[Kept], checklist: Checklist, log: Sequence[Event], now: Stamp
) -> Earlier:
    """The same in words; ``log``: the case as it now is in the ledger."""
    brought = [unwritten for _, unwritten in _named(came, checklist, log) if not unwritten.own]
    named = {kept.key: unwritten for kept, unwritten in _named(left, checklist, log)}
    lines = [Left(kept.key, _words(kept, named.get(kept.key), now)) for kept in left if _to_enter(kept)]
    return Earlier(tuple(brought), tuple(lines))


def _named(
    presses: Sequence[Kept], checklist: Checklist, log: Sequence[Event]
) -> list[tuple[Kept, Unwritten]]:
    """Each told in the case that it was decided in: since then its numbers may have come to name other entries."""
    found = []
    then: Case | None = None
    follows = 0
    for kept in presses:
        if not kept.events:
            continue
        first = kept.events[0].seq
        if then is None or first != follows:
            then = refold(begin(kept.events[0].case, checklist), [event for event in log if event.seq < first])
        then, unwritten = of_events(then, kept.events)
        follows = kept.events[-1].seq + 1
        found.append((kept, unwritten))
    return found


def _to_enter(kept: Kept) -> bool:
    return not kept.events or any(event.kind not in NOTHING_TO_ENTER for event in kept.events)


def _words(kept: Kept, unwritten: Unwritten | None, now: Stamp) -> str:
    words, at = (unwritten.words, unwritten.at) if unwritten is not None else (kept.words, kept.at)
    if at is None:
        return words
    day = f" on {date_words(at)}" if date_words(at) != date_words(now) else ""
    return f"{words} {clock_words(at)}{day}"
