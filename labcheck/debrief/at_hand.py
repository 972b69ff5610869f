"""Own history out of the kept figures alone, for a console that must not stand still to read old logs."""

from __future__ import annotations

from pathlib import Path

from labcheck.caselog.case import Case
from labcheck.checklist.complaint import ChecklistError
from labcheck.debrief import agreed
from labcheck.debrief.agreed import Agreed
from labcheck.debrief.history import History, own_history, unlike_words
from labcheck.debrief.kept import gathered
from labcheck.debrief.summary import summarise
from labcheck.ledger.contract import Ledger


def history_at_hand(ledger: Ledger, folder: Path, case: Case, head_hex: str) -> tuple[History, int]:
    """The history of a real case as far as figures are kept, and of how many plausible cases none are.

    Raises ``LedgerError`` where the ledger cannot be read.
    """
    present = summarise(case, head_hex)
    plausible = [
        line.case
        for line in ledger.cases()
        if line.sealed
        and not line.rehearsal
        and line.case != case.key
        and unlike_words(present, line.technique, len(line.targets)) is None
    ]
    heads = {key: ledger.head(key).hash_hex for key in plausible}
    found = gathered(folder, heads, lambda _key: None)
    return own_history(present, found.values(), _agreed(folder)), len(heads) - len(found)


def _agreed(folder: Path) -> Agreed:
    """What the team agreed; nothing where that cannot be read, which ``labcheck debrief`` complains of."""
    try:
        return agreed.read_agreed((folder / agreed.NAME).read_bytes(), agreed.NAME)
    except (OSError, ChecklistError):
        return agreed.NOTHING
