"""Reading rows back: plain selects, used by the store, by verify and by the archive."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Iterator
from typing import Any

from labcheck.caselog.stamps import Moment, Stamp
from labcheck.ledger.chain import FIRST_PREV, NO_HEAD, Head, Record
from labcheck.ledger.contract import CaseLine

COLUMNS = "case_id, seq, event_id, epoch, kind, target_seq, body, prev, hash"
_RECORD = COLUMNS.replace("body", "CAST(body AS BLOB)")
"""In the order of ``Record``, the body as the bytes that were hashed."""

_ONE_CASE = f"SELECT {_RECORD} FROM event WHERE case_id = ? ORDER BY seq"  # noqa: S608 (constant)
_ALL = f"SELECT {_RECORD} FROM event ORDER BY case_id, seq"  # noqa: S608 (constant)
_BY_ID = f"SELECT {_RECORD} FROM event WHERE event_id = ?"  # noqa: S608 (constant)
_HEAD = "SELECT seq, hash, epoch FROM event WHERE case_id = ? ORDER BY seq DESC LIMIT 1"
_STANDING = """
SELECT seq, hash, epoch, EXISTS (SELECT 1 FROM event WHERE kind = 'case.sealed' AND case_id = ?1)
FROM event WHERE case_id = ?1 ORDER BY seq DESC LIMIT 1
"""
# CROSS JOIN keeps the planner to this order: one step into each case, never a walk over all entries.
_LINES = """
SELECT c.case_id, c.opened, c.technique, c.targets, c.rehearsal, e.seq, e.body,
       EXISTS (SELECT 1 FROM event s WHERE s.kind = 'case.sealed' AND s.case_id = c.case_id)
FROM case_line c
CROSS JOIN event e ON e.case_id = c.case_id
 AND e.seq = (SELECT max(x.seq) FROM event x WHERE x.case_id = c.case_id)
"""
_UNFINISHED = f"""{_LINES}
WHERE NOT EXISTS (SELECT 1 FROM event s WHERE s.kind = 'case.sealed' AND s.case_id = c.case_id)
"""  # noqa: S608 (constant)


def records(connection: sqlite3.Connection, case: str) -> Iterator[Record]:
    """The rows of one case in order."""
    return _as_records(connection.execute(_ONE_CASE, (case,)))


def all_records(connection: sqlite3.Connection) -> Iterator[Record]:
    """All rows, case by case, each case in order."""
    return _as_records(connection.execute(_ALL))


def record_by_id(connection: sqlite3.Connection, event_id: str) -> Record | None:
    """The row with this id, or None."""
    return next(_as_records(connection.execute(_BY_ID, (event_id,))), None)


def head(connection: sqlite3.Connection, case: str) -> Head:
    """Where a case stands."""
    row = connection.execute(_HEAD, (case,)).fetchone()
    return NO_HEAD if row is None else Head(seq=row[0], hash_hex=row[1].hex(), epoch=row[2])


def standing(connection: sqlite3.Connection, case: str) -> tuple[Head, bool]:
    """Where a case stands, and whether it has been sealed: one question, asked at every save."""
    row = connection.execute(_STANDING, (case,)).fetchone()
    return (NO_HEAD, False) if row is None else (Head(row[0], row[1].hex(), row[2]), bool(row[3]))


def checklist_text(connection: sqlite3.Connection, digest: str) -> bytes | None:
    """The text kept under a digest, or None."""
    row = connection.execute("SELECT text FROM checklist WHERE digest = ?", (digest,)).fetchone()
    return None if row is None else bytes(row[0])


def case_keys(connection: sqlite3.Connection, *, rehearsals: bool | None = None) -> set[str]:
    """The keys of all cases, or only of the real ones or the rehearsals."""
    rows = connection.execute("SELECT case_id, rehearsal FROM case_line")
    return {case for case, rehearsal in rows if rehearsals is None or bool(rehearsal) == rehearsals}


def case_lines(connection: sqlite3.Connection, *, unfinished_only: bool) -> list[CaseLine]:
    """The list of cases, the one opened last first."""
    lines = [_line(row) for row in connection.execute(_UNFINISHED if unfinished_only else _LINES)]
    return sorted(lines, key=lambda line: (-line.opened.wall_us, line.case))


def _line(row: tuple[Any, ...]) -> CaseLine:
    case, opened, technique, targets, rehearsal, entries, body, sealed = row
    return CaseLine(
        case=case,
        opened=Moment(**json.loads(opened)),
        last=Stamp(**json.loads(body)["entered"]).moment(),
        entries=entries,
        sealed=bool(sealed),
        rehearsal=bool(rehearsal),
        technique=technique,
        targets=tuple(json.loads(targets)),
    )


def _as_records(rows: Iterable[tuple[Any, ...]]) -> Iterator[Record]:
    return map(Record._make, rows)


def prev_of(found: Head) -> bytes:
    """The 32 bytes the next entry must name."""
    return bytes.fromhex(found.hash_hex) if found.seq else FIRST_PREV
