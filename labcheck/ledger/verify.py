"""Proving a ledger, a single case, or an archive: nothing missing, nothing changed, nothing added.

Three things together: SQLite's own check (damaged pages and indexes), every row read again and held against its
hashed body and the row before, and the heads kept elsewhere (mirror, paper). A chain alone cannot show a cut tail
or a chain made anew; a head that somebody wrote down can.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping
from concurrent.futures import BrokenExecutor, Executor, Future, ProcessPoolExecutor, ThreadPoolExecutor
from contextlib import closing
from dataclasses import replace
from itertools import pairwise
from multiprocessing import get_context
from pathlib import Path

from labcheck.ledger import place, schema
from labcheck.ledger.checking import Fault
from labcheck.ledger.connection import open_looking
from labcheck.ledger.contract import text_digest
from labcheck.ledger.errors import UnsafePlace
from labcheck.ledger.mirror import Mirror, read
from labcheck.ledger.proving import Proved, Question, prove
from labcheck.ledger.store import FileLedger

LARGE = 64 * 1024 * 1024
"""Bytes of a file from which several processes are worth their start: some hundred thousand entries."""
PARTS = 4
"""Parts for each process, so that none is left with much to do when the others are done."""

Unread = (sqlite3.DatabaseError, UnicodeDecodeError)


def verify(
    source: FileLedger | Path,
    case: str | None = None,
    heads: Mapping[str, str] | None = None,
    *,
    processes: int = 1,
) -> list[Fault]:
    """Every fault found in a ledger (its folder or itself) or in an archive file; empty when there is none.

    ``case``: this one only (the file's pages are then not checked). A single case and an archive are looked at
    more closely than a whole ledger. ``heads``: heads from paper, short or full, by case; each must be that of the
    case's seal or last entry. ``processes``: a large ledger is proved by so many programs at once; the calling
    program's main module must then be importable. Changes nothing. Raises ``UnsafePlace`` if there is nothing to
    verify.
    """
    path, mirror = _find(source)
    asked = Question(path, mirror.folder.parent if mirror is not None else None, heads or {}, only=case)
    if case is None and processes > 1 and path.stat().st_size >= LARGE:
        try:
            with ProcessPoolExecutor(processes, mp_context=get_context("spawn")) as beside:
                return _verify(asked, mirror, beside, processes * PARTS)
        except BrokenExecutor:
            # A helper that was killed proves nothing; do it here, in one piece.
            pass
    with ThreadPoolExecutor(1) as beside:
        return _verify(asked, mirror, beside, 1)


def _verify(asked: Question, mirror: Mirror | None, beside: Executor, parts: int) -> list[Fault]:
    """SQLite's own check beside ours, which lets other threads run meanwhile; ours in parts."""
    pages = beside.submit(_pages, asked.path) if asked.only is None else None
    with closing(open_looking(asked.path)) as connection:
        connection.text_factory = lambda text: text.decode("utf-8", "backslashreplace")
        try:
            # Before the rows are read: what a console adds meanwhile must not look as if it were missing.
            listed = [
                str(name) for (name,) in connection.execute("SELECT case_id FROM case_line ORDER BY case_id")
            ]
            mirrored = mirror.cases() if mirror is not None else set()
            found = list(_objects(connection))
            before = count(connection) if parts > 1 else 0
            proved = _proved(asked, listed, beside, parts)
            found += proved.faults
            found += absent(asked, set(listed), proved.cases, mirrored, mirror)
            if parts > 1:
                found += counted(before, proved, count(connection))
            found += _checklists(connection, proved.digests, whole=asked.only is None)
        except Unread as broken:
            found = [
                Fault("file", f"cannot be read to the end ({broken}); run: labcheck rebuild", case=asked.only)
            ]
    return [*(pages.result() if pages is not None else ()), *found]


def _proved(asked: Question, listed: list[str], beside: Executor, parts: int) -> Proved:
    if parts == 1 or len(listed) < parts:
        return prove(asked)
    bounds = [None, *(listed[len(listed) * part // parts] for part in range(1, parts)), None]
    questions = [replace(asked, first=first, end=end) for first, end in pairwise(bounds)]
    pieces: list[Future[Proved]] = [beside.submit(prove, question) for question in questions]
    whole = Proved()
    for piece in pieces:
        one = piece.result()
        whole.faults += one.faults
        whole.cases |= one.cases
        whole.digests |= one.digests
        whole.rows += one.rows
    return whole


def count(connection: sqlite3.Connection) -> int:
    """How many entries stand in the ledger, by SQLite's own count."""
    (rows,) = connection.execute("SELECT count(*) FROM event").fetchone()
    return int(rows)


def counted(before: int, proved: Proved, after: int) -> Iterator[Fault]:
    """The entries met in proving are no fewer than there were before and no more than there are after.

    A damaged key out of its order could end one part early and begin no other.
    """
    if not before <= proved.rows <= after:
        yield Fault(
            "file", f"has {after} entries, of which {proved.rows} were found in the order of their keys"
        )


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


def absent(
    asked: Question, listed: set[str], seen: set[str], mirrored: set[str], mirror: Mirror | None
) -> Iterator[Fault]:
    """Cases that are named somewhere and have no entries: ``listed`` in the list of cases, ``mirrored`` in the mirror,
    or asked for by their key or head. ``seen``: those that have some.
    """
    wanted = set(asked.heads)
    if asked.only is not None:
        wanted = {asked.only}
    else:
        for name in sorted(listed - seen):
            yield Fault("list", "is in the list of cases and has no entries", case=name)
    for name in sorted((mirrored if asked.only is None else mirrored & wanted) - seen):
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
