"""``labcheck archive CASE --to FILE``: one case on its own, proved before it gets its name."""

from __future__ import annotations

import argparse
from pathlib import Path

from labcheck.commands.ledgers import as_keys, ledger_of
from labcheck.commands.output import complain, say
from labcheck.commands.place import ledger_folder
from labcheck.ledger.archive import archive
from labcheck.ledger.errors import Damaged


def run(chosen: argparse.Namespace) -> int:
    """Write the file and print its head."""
    (key,) = as_keys([chosen.case])
    with ledger_of(chosen, read_only=True) as ledger:
        head = archive(ledger, key, chosen.to)
    say(f"{chosen.to}: case {key}, {head.seq} entries, head {head.short}")
    _say_notes(ledger_folder(chosen), key)
    return 0


def _say_notes(folder: Path, key: str) -> None:
    """What a debrief wrote down is no part of the log, so it is no part of its archive; say that it is not."""
    from labcheck.debrief.notebook import NAME, read_notes

    try:
        left = sum(note.case == key for note in read_notes(folder))
    except Damaged as damaged:
        complain(f"not in the archive, and damaged: {damaged}")
        return
    if left:
        say(
            f"not in it: {left} debrief notes of this case, which stay in {folder / NAME}; keep that file too"
        )
