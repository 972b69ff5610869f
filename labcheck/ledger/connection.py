"""Opening the ledger's file: one way for writing, one for reading, every setting read back.

WAL with synchronous=FULL keeps every acknowledged row through a power cut; NORMAL does not, and the default
rollback journal may lose the last one. Cases: the replay in ``tests/faults``.
"""

from __future__ import annotations

import os
import sqlite3
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import quote

from labcheck.ledger import schema
from labcheck.ledger.errors import Busy, Damaged, LedgerError, NotSaved, Refused, UnsafePlace
from labcheck.ledger.log_room import PAGES
from labcheck.ledger.sqlite_light import Database

WAIT_S = 0.4
"""Longest wait for another program's lock; then the nurse is told."""

SETTINGS: tuple[tuple[str, str, object], ...] = (
    ("synchronous", "FULL", 2),
    ("foreign_keys", "ON", 1),
    ("recursive_triggers", "ON", 1),
    ("trusted_schema", "OFF", 0),
    ("cell_size_check", "ON", 1),
    ("wal_autocheckpoint", str(PAGES), PAGES),
)
if sys.platform == "darwin":
    # Only there does a plain fsync stop short of the disk.
    SETTINGS += (("fullfsync", "ON", 1), ("checkpoint_fullfsync", "ON", 1))


def open_writing(path: Path) -> Database:
    """A connection that may write. Raises ``LedgerError`` if the file is not exactly a ledger of ours."""
    with translated(path):
        connection = _connect(path, "mode=rw")
        try:
            schema.demand(connection, path)
            _set(connection, path, "journal_mode", "WAL", "wal")
            for name, value, wanted in SETTINGS:
                _set(connection, path, name, value, wanted)
            return Database(connection, execute_plugins=False)
        except BaseException:
            connection.close()
            raise


def open_reading(path: Path) -> Database:
    """A connection that cannot write. An unwritable folder is fine while no live log lies beside the file."""
    with translated(path):
        how = "mode=ro"
        if not os.access(path.parent, os.W_OK):
            if path.with_name(path.name + "-wal").exists():
                raise UnsafePlace(f"{path}: in use, and its folder is not ours; read an archive instead")
            how = "mode=ro&immutable=1"
        connection = _connect(path, how)
        try:
            schema.demand(connection, path)
            connection.execute("PRAGMA query_only = ON")
            connection.execute("PRAGMA trusted_schema = OFF")
            return Database(connection, execute_plugins=False)
        except BaseException:
            connection.close()
            raise


def open_looking(path: Path) -> sqlite3.Connection:
    """A bare connection for judging a file that may be damaged: no demands, no writes, SQLite's errors as they are.

    A file with no live log beside it is read as it stands, so that nothing appears next to it.
    """
    live = path.with_name(path.name + "-wal").exists()
    connection = _connect(path.resolve(), "mode=ro" if live else "mode=ro&immutable=1")
    connection.execute("PRAGMA trusted_schema = OFF")
    return connection


@contextmanager
def translated(path: Path, case: str | None = None) -> Iterator[None]:
    """Turn SQLite's errors into the ledger's own, one line each."""
    where = f"{path}, case {case}" if case else str(path)
    try:
        yield
    except sqlite3.Error as error:
        raise _ours(error, where) from error
    except UnicodeDecodeError as error:
        raise Damaged(f"{where}: the file is damaged ({error}); run: labcheck verify") from error


def _ours(error: sqlite3.Error, where: str) -> LedgerError:
    code = getattr(error, "sqlite_errorcode", 0) & 0xFF
    if code in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        return Busy(f"{where}: another program holds the ledger; try again")
    if code == sqlite3.SQLITE_CONSTRAINT:
        return Refused(f"{where}: the ledger refused it ({error})")
    if code in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB) or "Could not decode" in str(error):
        return Damaged(f"{where}: the file is damaged ({error}); run: labcheck verify, then labcheck rebuild")
    if code == sqlite3.SQLITE_CANTOPEN:
        return UnsafePlace(f"{where}: cannot be opened ({error}); check that the folder exists and is yours")
    return NotSaved(f"{where}: not saved ({error}); write it on paper until this is repaired")


def _connect(path: Path, how: str) -> sqlite3.Connection:
    # The driver's own transactions are off: a statement that leaves one open would swallow later saves.
    return sqlite3.connect(
        f"file:{quote(str(path))}?{how}",
        uri=True,
        timeout=WAIT_S,
        isolation_level=None,
        check_same_thread=False,
    )


def _set(connection: sqlite3.Connection, path: Path, name: str, value: str, wanted: object) -> None:
    connection.execute(f"PRAGMA {name} = {value}").fetchone()
    found = connection.execute(f"PRAGMA {name}").fetchone()[0]
    if found != wanted:
        raise UnsafePlace(f"{path}: {name} stays {found}, not {wanted}; does another program hold it?")
