"""Changing a finished log on purpose, with the guards taken off and put back so that nothing shows at the surface."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from labcheck.ledger.canonical import encode
from labcheck.ledger.chain import digest
from labcheck.ledger.schema import SCHEMA

Change = Callable[[sqlite3.Connection], None]


@contextmanager
def unguarded(path: Path) -> Iterator[sqlite3.Connection]:
    """A connection without the triggers, which are back, letter for letter, at the end."""
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        triggers = [name for name, text in SCHEMA.items() if text.startswith("CREATE TRIGGER")]
        for name in triggers:
            connection.execute(f"DROP TRIGGER {name}")
        yield connection
        for name in triggers:
            connection.execute(SCHEMA[name])


def edit_text(connection: sqlite3.Connection) -> None:
    """The body of entry 5 says something else; its digest stays."""
    connection.execute("UPDATE event SET body = replace(body, 'note 3', 'note 8') WHERE seq = 5")


def edit_text_and_digest(connection: sqlite3.Connection) -> None:
    """The same, with the digest of that one row made to fit."""
    edit_text(connection)
    (body,) = connection.execute("SELECT body FROM event WHERE seq = 5").fetchone()
    connection.execute("UPDATE event SET hash = ? WHERE seq = 5", (digest(body.encode()),))


def edit_column(connection: sqlite3.Connection) -> None:
    """A column beside the body says something else."""
    connection.execute("UPDATE event SET kind = 'mark.set' WHERE seq = 5")


def remove_middle(connection: sqlite3.Connection) -> None:
    """Entry 5 is gone."""
    connection.execute("DELETE FROM event WHERE seq = 5")


def insert(connection: sqlite3.Connection) -> None:
    """A copy of entry 4 stands where entry 5 was, and everything behind it moves up."""
    connection.execute("PRAGMA foreign_keys = OFF")
    for seq in range(12, 4, -1):
        connection.execute("UPDATE event SET seq = ? WHERE seq = ?", (seq + 1, seq))
    connection.execute(
        "INSERT INTO event SELECT case_id, 5, 'f' || substr(event_id, 2), epoch, kind, target_seq, body, prev, hash "
        "FROM event WHERE seq = 4"
    )


def swap(connection: sqlite3.Connection) -> None:
    """Entries 5 and 6 change places."""
    for old, new in ((5, 99), (6, 5), (99, 6)):
        connection.execute("UPDATE event SET seq = ? WHERE seq = ?", (new, old))


def cut_tail(connection: sqlite3.Connection) -> None:
    """The last two entries are gone."""
    connection.execute("DELETE FROM event WHERE seq > 10")


def chain_anew(connection: sqlite3.Connection) -> None:
    """Entry 5 says something else and every digest from there on is made to fit."""
    edit_text(connection)
    prev = bytes(32)
    for seq, body in connection.execute("SELECT seq, body FROM event ORDER BY seq").fetchall():
        value = json.loads(body)
        value["prev"] = prev.hex()
        fresh = encode(value)
        connection.execute(
            "UPDATE event SET body = ?, prev = ?, hash = ? WHERE seq = ?",
            (fresh.decode(), prev, digest(fresh), seq),
        )
        prev = digest(fresh)


CHAIN_SHOWS: dict[Change, tuple[str, int]] = {
    edit_text: ("hash", 5),
    edit_text_and_digest: ("chain", 6),
    edit_column: ("column", 5),
    remove_middle: ("chain", 6),
    insert: ("chain", 5),
    swap: ("column", 5),
}
"""Where the fault is named, and at which entry."""

ONLY_A_HEAD_SHOWS: tuple[Change, ...] = (cut_tail, chain_anew)
"""Consistent in themselves: paper or mirror is needed."""
