"""A case as the ledger keeps it: the bytes, their digests and the checklist text, ready to leave."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from labcheck.caselog.case import Case
from labcheck.caselog.events import CaseOpened
from labcheck.caselog.folding import begin, refold
from labcheck.checklist.complaint import ChecklistError
from labcheck.checklist.model import Checklist
from labcheck.checklist.reading import read_checklist
from labcheck.ledger.chain import Head, Record, head_of
from labcheck.ledger.contract import Ledger
from labcheck.registry.errors import ExportError


@dataclass(frozen=True, slots=True)
class StoredCase:
    """Every entry exactly as stored, in order, and the exact text of the checklist the case was run with."""

    records: tuple[Record, ...]
    checklist_text: bytes

    @property
    def head(self) -> Head:
        """Number and digest of the last entry."""
        return head_of(self.records)


def load(ledger: Ledger, key: str) -> tuple[Case, StoredCase]:
    """A case of the ledger, folded and as stored. Raises ``ExportError`` if it cannot be read."""
    records = ledger.records(key)
    if not records:
        raise ExportError(f"there is no case {key[:20]!a} in this ledger; labcheck cases lists them")
    events = [record.event() for record in records]
    opening = events[0].what
    if not isinstance(opening, CaseOpened):
        raise ExportError(f"case {key}: its first entry does not open it; run labcheck verify")
    text = ledger.checklist_text(opening.checklist_digest)
    try:
        checklist = _checklist(text, opening.checklist_id)
    except ChecklistError as fault:
        raise ExportError(f"case {key}: its checklist can no longer be read: {fault.complaints[0]}") from None
    return refold(begin(key, checklist), events), StoredCase(records, text)


@lru_cache(maxsize=16)
def _checklist(text: bytes, name: str) -> Checklist:
    """Thousands of cases share a few checklists, and reading one takes longer than folding a case."""
    return read_checklist(text, name)
