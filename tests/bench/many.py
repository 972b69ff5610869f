"""A ledger of very many cases, made quickly: copies of one rehearsal, chained anew under other keys.

The ledger's own way in takes a sync for each press; here the rows go in by thousands, with the guards off and back
on, and each with the mirror it would have. ``verify`` finds nothing to complain of, which is how we know it is right.
"""

from __future__ import annotations

import os
import sqlite3
from binascii import hexlify
from collections.abc import Iterator
from pathlib import Path

from labcheck.ledger.chain import FIRST_PREV, Record, digest
from labcheck.ledger.store import open_ledger
from tests.bench.exporting import key_of, presses, rehearsed
from tests.faults.tampering import unguarded

AT_ONCE = 200


def fill(folder: Path, cases: int) -> int:
    """A ledger of so many cases; its number of entries."""
    told, text = rehearsed()
    with_one = open_ledger(folder)
    with_one.keep_checklist(text)
    with_one.append_case(presses(told, 0))
    first = key_of(0)
    records = with_one.records(first)
    with_one.close()
    patterns = [_pattern(record, first) for record in records]
    with unguarded(folder / "ledger.db") as connection:
        connection.execute("PRAGMA synchronous = OFF")
        connection.execute("PRAGMA foreign_keys = OFF")
        for start in range(1, cases, AT_ONCE):
            connection.execute("BEGIN")
            for number in range(start, min(start + AT_ONCE, cases)):
                key = key_of(number)
                made = list(_copied(records, patterns, key, number))
                _store(connection, folder, first, key, made)
            connection.execute("COMMIT")
    return cases * len(records)


def _pattern(record: Record, key: str) -> bytes:
    body = record.body.replace(b"%", b"%%").replace(key.encode(), b"%(case)b")
    body = body.replace(b'"prev":"%b"' % hexlify(record.prev), b'"prev":"%(prev)b"')
    for name in (b"id", b"press"):
        body = body.replace(b'"%b":"%b' % (name, record.event_id[:8].encode()), b'"%b":"%%(number)b' % name)
    return body


def _copied(records: tuple[Record, ...], patterns: list[bytes], key: str, number: int) -> Iterator[Record]:
    prev = FIRST_PREV
    start = b"%08x" % number
    for record, pattern in zip(records, patterns, strict=True):
        body = pattern % {b"case": key.encode(), b"prev": hexlify(prev), b"number": start}
        event_id = start.decode() + record.event_id[8:]
        yield record._replace(case=key, event_id=event_id, body=body, prev=prev, hash=digest(body))
        prev = digest(body)


def _store(connection: sqlite3.Connection, folder: Path, first: str, key: str, made: list[Record]) -> None:
    connection.executemany(
        "INSERT INTO event VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (record._replace(body=record.body.decode()) for record in made),  # type: ignore[arg-type]
    )
    connection.execute(
        "INSERT INTO case_line SELECT ?, opened, technique, targets, rehearsal FROM case_line WHERE case_id = ?",
        (key, first),
    )
    lines = b"".join(b"%b %b\n" % (hexlify(record.hash), record.body) for record in made)
    handle = os.open(folder / "mirror" / f"{key}.log", os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600)
    with open(handle, "wb") as file:
        file.write(lines)
