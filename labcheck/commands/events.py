"""``labcheck events --profile hospital --to DIR``: every entry as it is stored, in one CSV, proved on the way."""

from __future__ import annotations

import argparse
import sqlite3
import tempfile
from pathlib import Path

from labcheck.commands.ledgers import FAULT_FOUND
from labcheck.commands.output import CommandError, complain, say
from labcheck.commands.place import ledger_folder
from labcheck.ledger.errors import LedgerError
from labcheck.ledger.proving import cores
from labcheck.ledger.rows_csv import write_rows
from labcheck.registry.errors import ExportError
from labcheck.registry.writing import Staged, safe_name


def run(chosen: argparse.Namespace) -> int:
    """Write ``events.csv`` (``REHEARSAL-events.csv``). 1 if a case was left out because it does not prove itself."""
    name = safe_name("events", ".csv", rehearsal=chosen.rehearsals)
    folder, to = ledger_folder(chosen), chosen.to
    try:
        with Staged(to) as staged, tempfile.TemporaryDirectory(dir=to, prefix=".events-") as scratch:
            written = write_rows(
                folder, staged.create(name), Path(scratch), rehearsals=chosen.rehearsals, processes=cores()
            )
    except (ExportError, LedgerError, OSError) as refused:
        raise CommandError(str(refused)) from None
    except (sqlite3.DatabaseError, UnicodeDecodeError) as damaged:
        raise CommandError(
            f"{folder}: cannot be read to the end ({damaged}); run: labcheck verify", FAULT_FOUND
        ) from None
    for fault in written.faults:
        complain(f"left out: {fault}")
    cases = "1 case" if written.cases == 1 else f"{written.cases} cases"
    none = "" if written.cases else " (rehearsals only with --rehearsals, and then nothing else)"
    say(f"{to / name}: {cases}, {written.rows} entries, each proved{none}")
    return FAULT_FOUND if written.faults else 0
