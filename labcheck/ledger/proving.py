"""Proving the cases of one file, or of a part of it: every row in full, every mirror, every line of the list."""

from __future__ import annotations

import json
import os
import sqlite3
from collections.abc import Callable, Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass, field
from itertools import groupby
from operator import itemgetter
from pathlib import Path
from typing import Any

from labcheck.caselog.events import CaseOpened
from labcheck.ledger import reading
from labcheck.ledger.chain import same_head
from labcheck.ledger.checking import Fault, Walk, as_record, walk
from labcheck.ledger.connection import open_looking
from labcheck.ledger.contract import opening_line
from labcheck.ledger.envelope import Row
from labcheck.ledger.errors import Damaged
from labcheck.ledger.mirror import Mirror

_PART = f"SELECT {reading.COLUMNS} FROM event {{where}} ORDER BY case_id, seq"  # noqa: S608 (constant)
_ODD = """
SELECT seq FROM event WHERE case_id = ? AND NOT (
  typeof(case_id) = 'text' AND typeof(event_id) = 'text' AND typeof(kind) = 'text' AND typeof(body) = 'text'
  AND typeof(prev) = 'blob' AND typeof(hash) = 'blob')
"""
TRIES = 3
"""How often a mirror that runs ahead is looked at again: a console may be saving meanwhile."""


def cores() -> int:
    """How many processes can run at once for us."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


@dataclass(frozen=True, slots=True)
class Question:
    """What to prove. ``only``: one case. Else the cases from ``first`` on and before ``end`` (None: no bound).

    ``mirrored``: the folder of the ledger, if its mirrors are to be held against it. ``heads``: from paper.
    """

    path: Path
    mirrored: Path | None
    heads: Mapping[str, str]
    only: str | None = None
    first: str | None = None
    end: str | None = None


@dataclass(slots=True)
class Proved:
    """What was found: the faults, the cases that have entries, the checklists they name, and how many rows."""

    faults: list[Fault] = field(default_factory=list)
    cases: set[str] = field(default_factory=set)
    digests: set[str] = field(default_factory=set)
    rows: int = 0


def prove(asked: Question, take: Callable[[Walk, Sequence[Row]], None] | None = None) -> Proved:
    """Walk along the cases asked for, on a connection of its own.

    ``take`` is given the rows of each case that proved itself. Raises ``sqlite3.DatabaseError`` where the file
    cannot be read to the end.
    """
    found = Proved()
    mirror = Mirror(asked.mirrored) if asked.mirrored is not None else None
    with closing(open_looking(asked.path)) as connection:
        # Bytes as they lie in the file: quickest, and a damaged row must be named, not refused for its spelling.
        connection.text_factory = bytes
        for stored, rows in groupby(_rows(connection, asked), key=itemgetter(0)):
            name = stored.decode("utf-8", "backslashreplace") if isinstance(stored, bytes) else str(stored)
            together = list(rows)
            state, faults, whole = walk(name, together, closely=asked.only is not None or mirror is None)
            found.rows += state.rows
            found.cases.add(name)
            faults += _head(state, asked.heads.get(name))
            if mirror is not None and not mirror.says(name, whole):
                faults += _mirrored(mirror, asked.path, state)
            if state.opening is not None and isinstance(state.opening.what, CaseOpened):
                faults += _listed(connection, state)
                found.digests.add(state.opening.what.checklist_digest)
            if take is not None and not faults:
                take(state, together)
            found.faults += faults
        if asked.only is not None:
            found.faults += [
                Fault("column", "holds another kind of value than its column", case=asked.only, seq=seq)
                for (seq,) in connection.execute(_ODD, (asked.only,))
            ]
    return found


def _rows(connection: sqlite3.Connection, asked: Question) -> sqlite3.Cursor:
    bounds = {"case_id = ?": asked.only, "case_id >= ?": asked.first, "case_id < ?": asked.end}
    used = {text: bound for text, bound in bounds.items() if bound is not None}
    where = f"WHERE {' AND '.join(used)}" if used else ""
    return connection.execute(_PART.format(where=where), tuple(used.values()))


def _head(state: Walk, paper: str | None) -> list[Fault]:
    if paper is None:
        return []
    ends = [state.head.hash_hex]
    if state.sealed is not None:
        ends.append(state.sealed.hash.hex())
    if any(same_head(paper, end) for end in ends):
        return []
    text = f"the head written down ({paper}) is not this case's ({state.head.short})"
    return [Fault("head", text, case=state.case)]


def _mirrored(mirror: Mirror, path: Path, state: Walk) -> list[Fault]:
    """What differs, looked at again: by now a console may have saved what the mirror showed ahead of our rows."""
    differs = ""
    for _ in range(TRIES):
        with closing(open_looking(path)) as connection:
            connection.text_factory = bytes
            rows = _rows(connection, Question(path, None, {}, only=state.case))
            records = [as_record(row) for row in rows]
        try:
            standing = mirror.compare(state.case, records)
        except Damaged as damaged:
            differs = str(damaged).partition(": ")[2]
        except (OSError, TypeError, ValueError):
            return [Fault("mirror", "cannot be held against these entries", case=state.case)]
        else:
            missing = records[standing.entries :]
            # The press being saved just now may not have reached its mirror yet.
            if not missing or missing[0].event_id[:32] == records[-1].event_id[:32]:
                return []
            text = f"lacks entries {missing[0].seq} to {missing[-1].seq}; opening the case brings it up"
            return [Fault("mirror", text, case=state.case, seq=missing[0].seq)]
    return [Fault("mirror", differs, case=state.case)]


def _listed(connection: sqlite3.Connection, state: Walk) -> list[Fault]:
    assert state.opening is not None
    opened, technique, targets, rehearsal = opening_line(state.opening)
    row: tuple[Any, ...] | None = connection.execute(
        "SELECT opened, technique, targets, rehearsal FROM case_line WHERE case_id = ?", (state.case,)
    ).fetchone()
    wanted = (
        opened.model_dump_json().encode(),
        technique.encode(),
        json.dumps(targets).encode(),
        int(rehearsal),
    )
    if row == wanted:
        return []
    return [Fault("list", "the list of cases says otherwise than the opening entry", case=state.case)]
