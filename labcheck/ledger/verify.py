"""Proving a ledger, a single case, or an archive: nothing missing, nothing changed, nothing added.

Three things together: SQLite's own check (damaged pages and indexes), every row read again and held against its
hashed body and the row before, and the heads kept elsewhere (mirror, paper). A chain alone cannot show a cut tail
or a chain made anew; a head that somebody wrote down can.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from itertools import groupby
from operator import itemgetter
from pathlib import Path

from labcheck.caselog.events import CaseOpened
from labcheck.ledger import place, reading, schema
from labcheck.ledger.chain import same_head
from labcheck.ledger.checking import Fault, Walk, walk
from labcheck.ledger.connection import open_looking
from labcheck.ledger.contract import opening_line, text_digest
from labcheck.ledger.errors import Damaged, UnsafePlace
from labcheck.ledger.mirror import Mirror, read
from labcheck.ledger.store import FileLedger


def verify(
    source: FileLedger | Path, case: str | None = None, heads: Mapping[str, str] | None = None
) -> list[Fault]:
    """Every fault found in a ledger (its folder or itself) or in an archive file; empty when there is none.

    ``case``: this one only (the file's pages are then not checked). A single case and an archive are looked at
    more closely than a whole ledger. ``heads``: heads from paper, short or full, by case; each must be that of the
    case's seal or last entry. Changes nothing. Raises ``UnsafePlace`` if there is nothing to verify.
    """
    path, mirror = _find(source)
    with ThreadPoolExecutor(1) as beside, closing(open_looking(path)) as connection:
        # SQLite's own check takes as long as ours, and lets other threads run meanwhile.
        pages = beside.submit(_pages, path) if case is None else None
        # A damaged row must be named, not refused for its spelling.
        connection.text_factory = lambda text: text.decode("utf-8", "backslashreplace")
        try:
            found = [*_objects(connection), *_cases(connection, case, mirror, heads or {})]
        except (sqlite3.DatabaseError, UnicodeDecodeError) as broken:
            found = [Fault("file", f"cannot be read to the end ({broken}); run: labcheck rebuild", case=case)]
        return [*(pages.result() if pages is not None else ()), *found]


def _find(source: FileLedger | Path) -> tuple[Path, Mirror | None]:
    if isinstance(source, FileLedger):
        return source.path, source.mirror
    path, mirror = (source / place.DATABASE, Mirror(source)) if source.is_dir() else (source, None)
    if not path.is_file():
        raise UnsafePlace(f"{path}: there is no ledger or archive here")
    return path, mirror


def _pages(path: Path) -> list[Fault]:
    with closing(open_looking(path)) as connection:
        try:
            lines = [str(line) for (line,) in connection.execute("PRAGMA integrity_check(20)")]
        except (sqlite3.DatabaseError, UnicodeDecodeError) as broken:
            lines = [f"SQLite's own check ends early ({broken})"]
    return [Fault("file", line) for line in lines if line != "ok"]


def _objects(connection: sqlite3.Connection) -> Iterator[Fault]:
    for line in schema.compare(connection):
        yield Fault("schema", line)


def _cases(
    connection: sqlite3.Connection, case: str | None, mirror: Mirror | None, heads: Mapping[str, str]
) -> Iterator[Fault]:
    rows = reading.all_records(connection) if case is None else reading.records(connection, case)
    seen: set[str] = set()
    digests: set[str] = set()
    for name, together in groupby(rows, key=itemgetter(0)):
        seen.add(name)
        state, faults = walk(
            name, together, keep=mirror is not None, closely=case is not None or mirror is None
        )
        yield from faults
        yield from _head(state, heads.get(name))
        if mirror is not None:
            yield from _mirrored(mirror, state)
        yield from _listed(connection, state)
        if state.opening is not None and isinstance(state.opening.what, CaseOpened):
            digests.add(state.opening.what.checklist_digest)
    yield from _absent(connection, case, seen, mirror, heads)
    yield from _checklists(connection, digests, whole=case is None)


def _head(state: Walk, paper: str | None) -> Iterator[Fault]:
    if paper is None:
        return
    ends = [state.head.hash_hex]
    if state.sealed is not None:
        ends.append(state.sealed.hash.hex())
    if not any(same_head(paper, end) for end in ends):
        yield Fault(
            "head",
            f"the head written down ({paper}) is not this case's ({state.head.short})",
            case=state.case,
        )


def _mirrored(mirror: Mirror, state: Walk) -> Iterator[Fault]:
    try:
        standing = mirror.compare(state.case, state.records)
    except Damaged as differs:
        yield Fault("mirror", str(differs).partition(": ")[2], case=state.case)
        return
    missing = state.records[standing.entries :]
    # The press being saved just now may not have reached its mirror yet.
    if missing and missing[0].event_id[:32] != state.records[-1].event_id[:32]:
        yield Fault(
            "mirror",
            f"lacks entries {missing[0].seq} to {missing[-1].seq}; opening the case brings it up",
            case=state.case,
            seq=missing[0].seq,
        )


def _listed(connection: sqlite3.Connection, state: Walk) -> Iterator[Fault]:
    if state.opening is None or not isinstance(state.opening.what, CaseOpened):
        return
    opened, technique, targets, rehearsal = opening_line(state.opening)
    row = connection.execute(
        "SELECT opened, technique, targets, rehearsal FROM case_line WHERE case_id = ?", (state.case,)
    ).fetchone()
    if row != (opened.model_dump_json(), technique, json.dumps(targets), int(rehearsal)):
        yield Fault("list", "the list of cases says otherwise than the opening entry", case=state.case)


def _absent(
    connection: sqlite3.Connection,
    case: str | None,
    seen: set[str],
    mirror: Mirror | None,
    heads: Mapping[str, str],
) -> Iterator[Fault]:
    wanted = set(heads)
    if case is not None:
        wanted = {case}
    else:
        for (name,) in connection.execute("SELECT case_id FROM case_line"):
            if name not in seen:
                yield Fault("list", "is in the list of cases and has no entries", case=str(name))
    mirrored = mirror.cases() if mirror is not None else set()
    for name in sorted((mirrored if case is None else mirrored & wanted) - seen):
        lines, _ = read(mirror.path(name)) if mirror is not None else ([], b"")
        yield Fault("mirror", f"has {len(lines)} entries of a case that the database lacks", case=name)
    for name in sorted(wanted - seen - mirrored):
        yield Fault("row", "there is no such case", case=name)


def _checklists(connection: sqlite3.Connection, used: set[str], *, whole: bool) -> Iterator[Fault]:
    kept: set[str] = set()
    for digest, text in connection.execute("SELECT CAST(digest AS BLOB), CAST(text AS BLOB) FROM checklist"):
        name = digest.decode("utf-8", "backslashreplace")
        kept.add(name)
        if (whole or name in used) and text_digest(text) != name:
            yield Fault("checklist", f"the text kept under {name[:16]} is not the one it was kept with")
    for name in sorted(used - kept):
        yield Fault("checklist", f"the text of {name[:16]} is missing, and a case was run with it")
