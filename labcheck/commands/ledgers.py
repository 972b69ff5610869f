"""Opening the ledger for a command, with its complaints turned into ours."""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING

from labcheck.commands.output import CommandError
from labcheck.commands.place import ledger_folder
from labcheck.ledger.contract import Ledger
from labcheck.ledger.errors import Damaged, LedgerError
from labcheck.ledger.store import FileLedger, open_ledger

if TYPE_CHECKING:
    from labcheck.caselog.case import Case

FAULT_FOUND = 1


@contextmanager
def ledger_of(chosen: argparse.Namespace, *, read_only: bool) -> Iterator[FileLedger]:
    """The ledger named on the command line. Every ``LedgerError`` inside becomes one line and exit status 2."""
    try:
        ledger = open_ledger(ledger_folder(chosen), read_only=read_only)
        try:
            yield ledger
        finally:
            ledger.close()
    except Damaged as damaged:
        raise CommandError(str(damaged), FAULT_FOUND) from None
    except LedgerError as fault:
        raise CommandError(str(fault)) from None


def folded(ledger: Ledger, key: str) -> Case:
    """A case of the ledger, folded, with the checklist it was run with."""
    # The console only lists cases at first; folding needs far more of the program.
    from labcheck.caselog.folding import begin, refold
    from labcheck.checklist.complaint import ChecklistError
    from labcheck.checklist.reading import read_checklist
    from labcheck.ledger.resume import load

    loaded = load(ledger, key)
    try:
        checklist = read_checklist(loaded.checklist, f"checklist of {key}")
    except ChecklistError as odd:
        raise Damaged(f"case {key}: its checklist cannot be read ({odd.complaints[0]})") from None
    return refold(begin(key, checklist), loaded.events)


def as_keys(typed: Sequence[str]) -> tuple[str, ...]:
    """Case keys as they are kept, whatever the case of the letters typed."""
    return tuple(key.strip().upper() for key in typed)
