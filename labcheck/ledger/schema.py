"""The tables, their guards, and the making of a new ledger file.

Triggers guard against bugs; the chain guards against people. The text of every table, index and trigger is
compared with the text below at each open, because one ``transform`` or ``DROP TRIGGER`` would switch a guard
off. ``event`` is the only truth: ``case_line`` repeats what the list of cases shows, so that it need not read
the opening bodies.
"""

from __future__ import annotations

import os
import sqlite3
from pathlib import Path

from labcheck.caselog.events import AFTER_SEAL, KINDS
from labcheck.ledger.chain import BODY_LIMIT
from labcheck.ledger.errors import Damaged
from labcheck.ledger.place import sync_path

APPLICATION_ID = 0x4C434B31
USER_VERSION = 1


def _quoted(words: tuple[str, ...]) -> str:
    return ", ".join(f"'{word}'" for word in words)


_EVENT = f"""CREATE TABLE event (
  case_id TEXT NOT NULL CHECK (length(case_id) = 7),
  seq INTEGER NOT NULL CHECK (seq >= 1),
  event_id TEXT NOT NULL CHECK (length(event_id) = 35),
  epoch INTEGER NOT NULL CHECK (epoch >= 1),
  kind TEXT NOT NULL CHECK (kind IN ({_quoted(KINDS)})),
  target_seq INTEGER CHECK (target_seq < seq),
  body TEXT NOT NULL CHECK (length(CAST(body AS BLOB)) <= {BODY_LIMIT}),
  prev BLOB NOT NULL CHECK (length(prev) = 32),
  hash BLOB NOT NULL CHECK (length(hash) = 32),
  PRIMARY KEY (case_id, seq),
  FOREIGN KEY (case_id, target_seq) REFERENCES event (case_id, seq),
  CHECK ((kind IN ('event.amended', 'event.voided')) = (target_seq IS NOT NULL))
) STRICT, WITHOUT ROWID"""

_LAST = "SELECT {column} FROM event WHERE case_id = NEW.case_id ORDER BY seq DESC LIMIT 1"

_EVENT_FOLLOWS = f"""CREATE TRIGGER event_follows_head BEFORE INSERT ON event BEGIN
  SELECT RAISE(ABORT, 'seq is not head + 1')
    WHERE NEW.seq <> COALESCE(({_LAST.format(column="seq")}), 0) + 1;
  SELECT RAISE(ABORT, 'prev is not the head')
    WHERE NEW.prev <> COALESCE(({_LAST.format(column="hash")}), zeroblob(32));
  SELECT RAISE(ABORT, 'epoch changes only by one, with lease.taken')
    WHERE NEW.epoch <> COALESCE(({_LAST.format(column="epoch")}), 1)
      AND NOT (NEW.kind = 'lease.taken' AND NEW.epoch = ({_LAST.format(column="epoch")}) + 1);
  SELECT RAISE(ABORT, 'a case begins with one case.opened')
    WHERE (NEW.kind = 'case.opened') <> (NEW.seq = 1);
END"""

_EVENT_SEALED = f"""CREATE TRIGGER event_after_seal BEFORE INSERT ON event
  WHEN NEW.kind NOT IN ({_quoted(AFTER_SEAL)})
  AND EXISTS (SELECT 1 FROM event WHERE kind = 'case.sealed' AND case_id = NEW.case_id) BEGIN
  SELECT RAISE(ABORT, 'the case is sealed');
END"""  # noqa: S608 (constant)


def _frozen(table: str) -> dict[str, str]:
    return {
        f"{table}_no_update": f"CREATE TRIGGER {table}_no_update BEFORE UPDATE ON {table} BEGIN\n"
        f"  SELECT RAISE(ABORT, '{table} is append-only');\nEND",
        f"{table}_no_delete": f"CREATE TRIGGER {table}_no_delete BEFORE DELETE ON {table} BEGIN\n"
        f"  SELECT RAISE(ABORT, '{table} is append-only');\nEND",
    }


SCHEMA: dict[str, str] = {
    "event": _EVENT,
    "event_by_id": "CREATE UNIQUE INDEX event_by_id ON event (event_id)",
    "event_sealed": "CREATE UNIQUE INDEX event_sealed ON event (case_id) WHERE kind = 'case.sealed'",
    "checklist": "CREATE TABLE checklist (\n"
    "  digest TEXT NOT NULL PRIMARY KEY CHECK (length(digest) = 64),\n"
    "  text BLOB NOT NULL\n"
    ") STRICT, WITHOUT ROWID",
    "case_line": "CREATE TABLE case_line (\n"
    "  case_id TEXT NOT NULL PRIMARY KEY,\n"
    "  opened TEXT NOT NULL,\n"
    "  technique TEXT NOT NULL,\n"
    "  targets TEXT NOT NULL,\n"
    "  rehearsal INTEGER NOT NULL CHECK (rehearsal IN (0, 1))\n"
    ") STRICT, WITHOUT ROWID",
    "meta": "CREATE TABLE meta (k TEXT NOT NULL PRIMARY KEY, v TEXT NOT NULL) STRICT, WITHOUT ROWID",
    "event_follows_head": _EVENT_FOLLOWS,
    "event_after_seal": _EVENT_SEALED,
    **_frozen("event"),
    **_frozen("checklist"),
    **_frozen("case_line"),
    **_frozen("meta"),
}
"""Name of every object to its exact text."""


def create(path: Path) -> None:
    """Make an empty ledger file that appears under its name only when it is whole.

    A power cut leaves either nothing or a ``.new`` file, which the next call throws away. The caller holds
    the ledger's write lock. The file is made in rollback mode; opening for writing turns it to WAL.
    """
    fresh = clear_away(path)
    os.close(os.open(fresh, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
    connection = sqlite3.connect(fresh, isolation_level=None)
    try:
        connection.execute("PRAGMA synchronous = EXTRA")
        connection.execute("BEGIN IMMEDIATE")
        for text in SCHEMA.values():
            connection.execute(text)
        connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        connection.execute(f"PRAGMA user_version = {USER_VERSION}")
        connection.execute("COMMIT")
    finally:
        connection.close()
    sync_path(fresh)
    os.rename(fresh, path)
    sync_path(path.parent)


def clear_away(path: Path) -> Path:
    """Throw away what a power cut left of a ledger in the making, and give the name such a one has.

    The caller holds the ledger's write lock.
    """
    fresh = path.with_name(path.name + ".new")
    for leftover in (fresh, fresh.with_name(fresh.name + "-journal")):
        leftover.unlink(missing_ok=True)
    return fresh


def compare(connection: sqlite3.Connection) -> list[str]:
    """What differs between this file's objects and ``SCHEMA``, one line each; empty when nothing does.

    Works without any table. Raises ``sqlite3.Error`` when the file cannot be read at all.
    """
    found: dict[str, str | None] = {
        str(name): text
        for name, text in connection.execute("SELECT name, sql FROM sqlite_schema")
        if not str(name).startswith("sqlite_")
    }
    lines = [f"{name} is missing" for name in SCHEMA if name not in found]
    lines += [f"{name} is not ours" for name in found if name not in SCHEMA]
    lines += [f"{name} has another text" for name in SCHEMA if name in found and found[name] != SCHEMA[name]]
    for pragma, wanted in (("application_id", APPLICATION_ID), ("user_version", USER_VERSION)):
        value = connection.execute(f"PRAGMA {pragma}").fetchone()[0]
        if value != wanted:
            lines.append(f"{pragma} is {value}, not {wanted}")
    return lines


def demand(connection: sqlite3.Connection, path: Path) -> None:
    """Raise ``Damaged`` unless the file's tables and guards are exactly ours."""
    try:
        lines = compare(connection)
    except (sqlite3.DatabaseError, UnicodeDecodeError) as broken:
        if isinstance(broken, sqlite3.Error) and _passing(broken):
            raise
        raise Damaged(f"{path}: not a readable ledger ({broken}); run: labcheck verify") from None
    if lines:
        raise Damaged(f"{path}: {'; '.join(lines[:3])}; nothing is written to it. Run: labcheck verify")


def _passing(error: sqlite3.Error) -> bool:
    passing = (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED, sqlite3.SQLITE_IOERR, sqlite3.SQLITE_CANTOPEN)
    return (error.sqlite_errorcode & 0xFF) in passing
