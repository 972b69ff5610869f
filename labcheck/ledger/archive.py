"""One case on its own: a single closed SQLite file that verifies without the ledger it came from."""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing
from pathlib import Path

from labcheck.caselog.events import CaseOpened
from labcheck.ledger import place, schema
from labcheck.ledger.chain import Head, head_of
from labcheck.ledger.contract import Ledger
from labcheck.ledger.errors import LedgerError, Refused, UnsafePlace
from labcheck.ledger.sqlite_light import Database
from labcheck.ledger.store import write_archive
from labcheck.ledger.verify import verify


def archive(ledger: Ledger, case: str, to: Path) -> Head:
    """Write a case with its checklist to a new file and return its head, after the file has proved itself.

    The file appears under its name only when it is whole; an existing one is never replaced. Raises
    ``LedgerError``, and then nothing is left behind.
    """
    records = ledger.records(case)
    if not records:
        raise LedgerError(f"there is no case {case}; run: labcheck cases")
    if to.exists() or to.is_symlink():
        raise Refused(f"{to}: exists already; choose another name")
    opening = records[0].event()
    if not isinstance(opening.what, CaseOpened):
        raise Refused(f"case {case}: does not begin with case.opened; run: labcheck verify {case}")
    text = ledger.checklist_text(opening.what.checklist_digest)
    partial = to.with_name(f".{to.name}.partial")
    try:
        schema.create(partial)
        with closing(sqlite3.connect(partial, isolation_level=None)) as connection:
            connection.execute("PRAGMA synchronous = EXTRA")
            write_archive(Database(connection, execute_plugins=False), records, text)
        if faults := verify(partial):
            raise LedgerError(f"case {case}: not archived, it does not verify: {faults[0]}")
        _appear(partial, to)
    except FileExistsError:
        raise Refused(f"{to}: exists already; choose another name") from None
    except (OSError, sqlite3.Error) as failed:
        raise UnsafePlace(f"{to}: cannot be written ({failed}); nothing is left of it") from None
    finally:
        for ending in ("", "-journal", ".new", ".new-journal"):
            partial.with_name(partial.name + ending).unlink(missing_ok=True)
    return head_of(records)


def _appear(partial: Path, to: Path) -> None:
    try:
        os.link(partial, to)
    except FileExistsError:
        raise
    except OSError:
        # A stick may know no hard links: claim the name first, then move over the claim.
        os.close(os.open(to, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
        os.replace(partial, to)
    place.sync_path(to.parent)
