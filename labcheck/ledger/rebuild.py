"""Making a new ledger out of what is left: database rows as far as they prove themselves, mirrors beyond that."""

from __future__ import annotations

import os
import shutil
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import closing, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from labcheck.caselog.events import CaseOpened, Event
from labcheck.ledger import place
from labcheck.ledger.canonical import NotCanonical, decode
from labcheck.ledger.chain import Record
from labcheck.ledger.checking import Walk
from labcheck.ledger.connection import open_looking
from labcheck.ledger.contract import text_digest
from labcheck.ledger.errors import LedgerError, UnsafePlace
from labcheck.ledger.mirror import Mirror, read
from labcheck.ledger.store import FileLedger, open_ledger

BESIDE = ("debrief-notes.jsonl", "debrief-summaries.jsonl", "debrief.toml", "unsaved-*.jsonl")
"""Files in a ledger's folder that nothing can make anew, and kept figures, which would take long to make: they count
only for the very head they were made up to, so they harm nothing where the log is another one now."""
_ROWS = "SELECT case_id, CAST(body AS BLOB), hash FROM event ORDER BY case_id, seq"


@dataclass(frozen=True, slots=True)
class Rebuilt:
    """What became of one case: entries in the new ledger, how many only the mirror still had, and what is lost."""

    case: str
    entries: int
    from_mirror: int
    note: str = ""


def rebuild(old: Path, new: Path, checklists: Sequence[bytes] = ()) -> list[Rebuilt]:
    """Build a ledger in the empty folder ``new`` from the folder ``old``, which is not changed.

    Of each case the longest run of entries that proves itself is taken, from the database or the mirror. A case
    whose two copies disagree is taken from the one that goes further, and said so. ``checklists``: texts to look
    for where the database no longer has them (their digest decides). Raises ``LedgerError``; then nothing is left.
    """
    if new.exists() and any(new.iterdir()):
        raise UnsafePlace(f"{new}: not empty; rebuild into a new folder, then use that one with --ledger")
    mirror = Mirror(old)
    texts = {text_digest(text): text for text in (*checklists, *mirror.texts())}
    stored = _from_database(old / place.DATABASE, texts)
    cases = sorted(stored.keys() | mirror.cases())
    if not cases:
        raise UnsafePlace(f"{old}: no case is left here, neither in a database nor in mirrors")
    there = new.exists()
    try:
        with closing(open_ledger(new)) as ledger:
            made = [
                _take(ledger, case, stored.get(case, []), _from_mirror(mirror, case), texts) for case in cases
            ]
        _carry_over(old, new)
        return made
    except BaseException:
        _leave_nothing(new, there)
        raise


def _leave_nothing(new: Path, there: bool) -> None:
    """A ledger with some of the cases would pass for a whole one. The folder was empty, so all in it is ours."""
    for made in list(new.iterdir()) if new.is_dir() and not new.is_symlink() else ():
        if made.is_dir():
            shutil.rmtree(made, ignore_errors=True)
        else:
            made.unlink(missing_ok=True)
    if not there:
        with suppress(OSError):
            new.rmdir()


def beside(folder: Path) -> list[Path]:
    """What lies beside a ledger: debrief notes, what was agreed, what could not be saved, and kept figures."""
    return sorted(path for pattern in BESIDE for path in folder.glob(pattern) if path.is_file())


def _carry_over(old: Path, new: Path) -> None:
    """Copy those files byte for byte."""
    for path in beside(old):
        try:
            descriptor = place.private_file(new / path.name, os.O_CREAT | os.O_EXCL | os.O_WRONLY)
            with open(descriptor, "wb") as copy:
                copy.write(path.read_bytes())
                copy.flush()
                os.fsync(descriptor)
        except OSError as failed:
            raise UnsafePlace(f"{new / path.name}: cannot be copied there ({failed.strerror})") from None
    place.sync_path(new)


def _take(
    ledger: FileLedger, case: str, stored: list[Record], mirrored: list[Record], texts: dict[str, bytes]
) -> Rebuilt:
    first, second = _proved(case, stored), _proved(case, mirrored)
    best = second if len(second) > len(first) else first
    shared = min(len(first), len(second))
    note = "" if first[:shared] == second[:shared] else "database and mirror disagree; keep the old folder"
    if len(best) < max(len(stored), len(mirrored)):
        note = note or f"entries after {len(best)} do not prove themselves; keep the old folder"
    if not best:
        return Rebuilt(case, 0, 0, note or "nothing of it proves itself; keep the old folder")
    opening = best[0].event()
    digest = opening.what.checklist_digest if isinstance(opening.what, CaseOpened) else ""
    if digest not in texts:
        return Rebuilt(
            case, 0, 0, f"its checklist text ({digest[:16]}) is lost; give the file and run it again"
        )
    ledger.keep_checklist(texts[digest])
    ledger.append_case(list(_presses(best)))
    if ledger.records(case) != tuple(best):
        raise LedgerError(
            f"case {case}: came out otherwise than it went in; keep the old folder, use neither"
        )
    return Rebuilt(case, len(best), max(0, len(best) - len(first)), note)


def _proved(case: str, records: list[Record]) -> list[Record]:
    good: list[Record] = []
    state = Walk(case)
    for record in records:
        if any(True for _ in state.step(record)):
            break
        good.append(record)
    return good


def _presses(records: list[Record]) -> Iterator[list[Event]]:
    press: list[Event] = []
    for record in records:
        event = record.event()
        if press and event.press != press[0].press:
            yield press
            press = []
        press.append(event)
    if press:
        yield press


def _from_mirror(mirror: Mirror, case: str) -> list[Record]:
    lines, _ = read(mirror.path(case))
    found: list[Record] = []
    for line in lines:
        try:
            value = decode(line.body)
            found.append(_record(value, line.body, bytes.fromhex(line.hash_hex)))
        except (NotCanonical, KeyError, TypeError, ValueError):
            break
    return found


def _record(value: dict[str, Any], body: bytes, digest: bytes) -> Record:
    return Record(
        case=value["case"],
        seq=value["seq"],
        event_id=value["id"],
        epoch=value["epoch"],
        kind=value["what"]["kind"],
        target=value["what"].get("target"),
        body=body,
        prev=bytes.fromhex(value["prev"]),
        hash=digest,
    )


def _from_database(path: Path, texts: dict[str, bytes]) -> dict[str, list[Record]]:
    """What can still be read, case by case. Reading goes through SQLite only: a live log belongs to the file."""
    found: dict[str, list[Record]] = {}
    if not path.is_file():
        return found
    with closing(open_looking(path)) as connection:
        # What SQLite cannot read to the end is taken as far as it goes; the mirrors have the rest.
        with suppress(sqlite3.DatabaseError, UnicodeDecodeError):
            for _, text in connection.execute("SELECT digest, text FROM checklist"):
                texts[text_digest(text)] = text
        with suppress(sqlite3.DatabaseError, UnicodeDecodeError):
            for row in connection.execute(_ROWS):
                _add(found, *row)
    return found


def _add(found: dict[str, list[Record]], case: str, body: bytes, digest: bytes) -> None:
    rows = found.setdefault(case, [])
    try:
        rows.append(_record(decode(body), body, digest))
    except (NotCanonical, KeyError, TypeError, ValueError):
        # A row that does not even read ends the run that proves itself; the walk stops at the gap.
        return
