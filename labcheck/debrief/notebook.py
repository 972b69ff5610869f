"""The file of the debrief notes in the ledger's folder: one line a note, only ever appended to."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

from pydantic import ValidationError

from labcheck.debrief.notes import FIRST_PREV, Note
from labcheck.ledger import place
from labcheck.ledger.errors import Busy, Damaged, NotSaved
from labcheck.ledger.locks import FileLock

NAME = "debrief-notes.jsonl"
LOCK = "debrief-notes.lock"
WAIT_S = 0.5


def read_notes(folder: Path) -> tuple[Note, ...]:
    """Every note, oldest first. Raises ``Damaged`` with the line at which the list is not what was written."""
    return _read(folder / NAME)[0]


def _read(path: Path) -> tuple[tuple[Note, ...], int]:
    """The notes, and how many bytes of the file they take: an unfinished last line was never saved."""
    try:
        text = path.read_bytes()
    except FileNotFoundError:
        return (), 0
    except OSError as failed:
        raise Damaged(f"{path}: cannot be read ({failed.strerror})") from None
    whole = text.rfind(b"\n") + 1
    notes: list[Note] = []
    prev = FIRST_PREV
    for number, line in enumerate(text[:whole].splitlines(), 1):
        note = _note(line)
        if note is None or note.n != number or note.prev != prev:
            raise Damaged(
                f"{path}: line {number} is not as it was written; keep the file, and move it away to go on"
            )
        prev = note.digest
        notes.append(note)
    return tuple(notes), whole


def _note(line: bytes) -> Note | None:
    digest, _, body = line.partition(b" ")
    try:
        note = Note.model_validate_json(body)
    except ValidationError:
        return None
    return note if note.body == body and note.digest.encode() == digest else None


def append(folder: Path, make: Callable[[tuple[Note, ...], int, str], Note]) -> Note:
    """Save one note durably and give it back.

    ``make`` gets the notes so far, the next number and the digest to name, and may raise. Raises ``Busy`` or
    ``NotSaved``; then nothing of the note stays.
    """
    lock = FileLock(folder / LOCK)
    try:
        if not lock.take(WAIT_S):
            raise Busy(f"{folder / NAME}: another program is writing notes; try again")
        return _append(folder / NAME, make)
    except OSError as failed:
        raise NotSaved(f"{folder / NAME}: the note could not be saved ({failed.strerror})") from None
    finally:
        lock.close()


def _append(path: Path, make: Callable[[tuple[Note, ...], int, str], Note]) -> Note:
    notes, whole = _read(path)
    note = make(notes, len(notes) + 1, notes[-1].digest if notes else FIRST_PREV)
    line = note.digest.encode() + b" " + note.body + b"\n"
    fresh = not path.exists()
    handle = place.private_file(path, os.O_RDWR | os.O_CREAT)
    try:
        os.ftruncate(handle, whole)
        try:
            _write_all(handle, line, whole)
            os.fsync(handle)
        except OSError:
            os.ftruncate(handle, whole)
            raise
    finally:
        os.close(handle)
    if fresh:
        place.sync_path(path.parent)
    return note


def _write_all(handle: int, data: bytes, at: int) -> None:
    while data:
        written = os.pwrite(handle, data, at)
        data, at = data[written:], at + written
