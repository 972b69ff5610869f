"""Loading a case: its checklist text and its events. Folding them is the case log's."""

from __future__ import annotations

from typing import NamedTuple

from labcheck.caselog.events import CaseOpened, Event
from labcheck.ledger.contract import Ledger
from labcheck.ledger.errors import Damaged, LedgerError


class Loaded(NamedTuple):
    """A case as kept: the exact text it was run with and every event in order."""

    checklist: bytes
    events: tuple[Event, ...]


def load(ledger: Ledger, case: str) -> Loaded:
    """Read a case after comparing it with its mirror.

    Raises ``LedgerError`` if there is none, ``Damaged`` if it cannot be read or the mirror says otherwise.
    """
    ledger.settle(case)
    events = ledger.events(case)
    if not events:
        raise LedgerError(f"there is no case {case}; run: labcheck cases")
    opening = events[0].what
    if not isinstance(opening, CaseOpened):
        raise Damaged(f"case {case}: does not begin with case.opened; run: labcheck verify {case}")
    return Loaded(checklist=ledger.checklist_text(opening.checklist_digest), events=events)
