"""Every entry as it is stored, as one CSV: proved while it is written, one case at a time.

For people who want the rows themselves in another program, of thousands of cases, quickly. RFC 4180 with CRLF; the
columns are those of ``HEADER``. ``happened_us`` and ``entered_us``: UTC microseconds since 1970. ``target``: the
entry that a correction names, else empty. ``body``: the canonical JSON that was hashed, byte for byte; ``hash`` is
SHA-256 of ``labcheck-event-v1``, a zero byte and that body. The body holds free text: this file is the hospital's.

A case that does not prove itself (chain, columns, canonical form, mirror, list of cases) is left out and named, and
so is one of which only its line in the list or its mirror is left.
"""

from __future__ import annotations

import os
import shutil
from binascii import hexlify
from collections.abc import Sequence
from concurrent.futures import BrokenExecutor, ProcessPoolExecutor
from contextlib import closing
from dataclasses import dataclass, field, replace
from multiprocessing import get_context
from pathlib import Path
from typing import BinaryIO

from labcheck.caselog.events import CaseOpened
from labcheck.ledger import place
from labcheck.ledger.checking import Fault, Walk
from labcheck.ledger.connection import open_looking
from labcheck.ledger.envelope import Row
from labcheck.ledger.errors import UnsafePlace
from labcheck.ledger.mirror import Mirror
from labcheck.ledger.proving import Proved, Question, prove
from labcheck.ledger.verify import absent, count, counted

HEADER = b"case,seq,kind,happened_us,entered_us,mode,target,body,hash\r\n"
LARGE = 64 * 1024 * 1024
"""Bytes of a file from which a second process is worth its start."""


@dataclass(slots=True)
class Written:
    """What was written, and what was left out."""

    cases: int = 0
    rows: int = 0
    faults: list[Fault] = field(default_factory=list)
    proved: Proved = field(default_factory=Proved)

    def add(self, other: Written) -> None:
        """Another part of the same file."""
        self.cases += other.cases
        self.rows += other.rows
        self.faults += other.faults
        self.proved.cases |= other.proved.cases
        self.proved.rows += other.proved.rows


def write_rows(
    folder: Path, out: BinaryIO, scratch: Path, *, rehearsals: bool = False, processes: int = 1
) -> Written:
    """Write the real cases of a ledger's folder (or its rehearsals) to ``out``, by case key.

    ``scratch``: an own folder for the parts that other processes write. With ``processes`` over 1 the calling
    program's main module must be importable. Raises ``UnsafePlace`` without a ledger, ``sqlite3.DatabaseError``
    where it cannot be read to the end, ``OSError`` where something cannot be written.
    """
    path = folder / place.DATABASE
    if not path.is_file():
        raise UnsafePlace(f"{folder}: there is no ledger here; name its folder with --ledger")
    whole = Question(path, folder, {})
    with closing(open_looking(path)) as connection:
        # Before the rows are read: what a console adds meanwhile must not look as if it were missing.
        keys = [str(key) for (key,) in connection.execute("SELECT case_id FROM case_line ORDER BY case_id")]
        mirror = Mirror(folder)
        mirrored, before = mirror.cases(), count(connection)
        start = out.tell()
        out.write(HEADER)
        if processes < 2 or len(keys) < processes or path.stat().st_size < LARGE:
            written = _write(whole, out, rehearsals)
        else:
            try:
                written = _in_parts(whole, out, scratch, keys, rehearsals, processes)
            except BrokenExecutor:
                # A helper that was killed wrote nothing that counts; do it here, in one piece.
                out.seek(start + len(HEADER))
                out.truncate()
                written = _write(whole, out, rehearsals)
        written.faults += absent(whole, set(keys), written.proved.cases, mirrored, mirror)
        written.faults += counted(before, written.proved, count(connection))
    return written


def _in_parts(
    whole: Question, out: BinaryIO, scratch: Path, keys: Sequence[str], rehearsals: bool, processes: int
) -> Written:
    bounds = [keys[len(keys) * part // processes] for part in range(1, processes)]
    with ProcessPoolExecutor(processes - 1, mp_context=get_context("spawn")) as beside:
        later = [
            beside.submit(_part, replace(whole, first=first, end=end), scratch / f"part-{number}.csv", rehearsals)
            for number, (first, end) in enumerate(zip(bounds, [*bounds[1:], None], strict=True))
        ]
        written = _write(replace(whole, end=bounds[0]), out, rehearsals)
        for number, part in enumerate(later):
            written.add(part.result())
            with open(scratch / f"part-{number}.csv", "rb") as file:
                shutil.copyfileobj(file, out, 1024 * 1024)
    return written


def _part(asked: Question, to: Path, rehearsals: bool) -> Written:
    with open(place.private_file(to, os.O_CREAT | os.O_EXCL | os.O_WRONLY), "wb") as out:
        return _write(asked, out, rehearsals)


def _write(asked: Question, out: BinaryIO, rehearsals: bool) -> Written:
    done = Written()

    def take(state: Walk, rows: Sequence[Row]) -> None:
        opening = state.opening.what if state.opening is not None else None
        if isinstance(opening, CaseOpened) and opening.rehearsal == rehearsals:
            out.write(b"".join(map(_line, rows)))
            done.cases += 1
            done.rows += len(rows)

    done.proved = prove(asked, take)
    done.faults = list(done.proved.faults)
    return done


def _line(row: Row) -> bytes:
    case, seq, _, _, kind, target, body, _, digest = row
    # The row has proved canonical: the keys stand in their order, and a quote inside text is always escaped.
    entered = body.index(b'"wall_us":') + 10
    happened = body.index(b'"wall_us":', entered) + 10
    mode = body.index(b',"mode":"', happened) + 9
    return b'%b,%d,%b,%b,%b,%b,%b,"%b",%b\r\n' % (
        case,
        seq,
        kind,
        body[happened : body.index(b"}", happened)],
        body[entered : body.index(b",", entered)],
        body[mode : body.index(b'"', mode)],
        b"" if target is None else b"%d" % target,
        body.replace(b'"', b'""'),
        hexlify(digest),
    )
