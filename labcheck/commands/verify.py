"""``labcheck verify [CASE...]``: nothing missing, nothing changed, nothing added; or what is."""

from __future__ import annotations

import argparse
from contextlib import closing
from pathlib import Path

from labcheck.commands.ledgers import as_keys
from labcheck.commands.output import CommandError, complain, say
from labcheck.commands.place import ledger_folder
from labcheck.ledger.checking import Fault
from labcheck.ledger.errors import Damaged, LedgerError
from labcheck.ledger.proving import cores
from labcheck.ledger.store import FileLedger, open_ledger
from labcheck.ledger.verify import verify


def run(chosen: argparse.Namespace) -> int:
    """Print every fault and give 1, or the proved heads and give 0."""
    keys = as_keys(chosen.cases)
    if chosen.head is not None and len(keys) != 1:
        raise CommandError("--head belongs to one case: labcheck verify CASE --head HEAD")
    heads = {keys[0]: chosen.head} if chosen.head is not None else {}
    source: Path = chosen.file if chosen.file is not None else ledger_folder(chosen)
    try:
        faults = _faults(source, keys, heads)
        for fault in faults:
            complain(str(fault))
        if not faults and source.is_dir():
            _say_heads(source, keys)
        elif not faults:
            say(f"{source}: proved")
        sound = _notes_sound(source) if source.is_dir() else True
    except LedgerError as fault_of_use:
        raise CommandError(str(fault_of_use)) from None
    return 1 if faults or not sound else 0


def _notes_sound(folder: Path) -> bool:
    """The debrief notes have a trail of their own, beside the log: proved apart from it, and said apart."""
    from labcheck.debrief.notebook import NAME, read_notes

    try:
        notes = read_notes(folder)
    except Damaged as damaged:
        complain(f"debrief notes: {damaged}")
        return False
    if notes:
        say(f"{folder / NAME}: {len(notes)} debrief notes, their own trail proved")
    return True


def _faults(source: Path, keys: tuple[str, ...], heads: dict[str, str]) -> list[Fault]:
    if not keys:
        return verify(source, processes=cores())
    return [fault for key in dict.fromkeys(keys) for fault in verify(source, key, heads)]


def _say_heads(folder: Path, keys: tuple[str, ...]) -> None:
    """One line a case: what a person compares with the head that stands on paper."""
    with closing(open_ledger(folder, read_only=True)) as ledger:
        for key in keys or sorted(line.case for line in ledger.cases()):
            say(_proved(ledger, key))
    if not keys:
        say(f"{folder}: proved")


def _proved(ledger: FileLedger, key: str) -> str:
    head = ledger.head(key)
    return f"{key}  {head.seq:5} entries  head {head.short}  proved"
