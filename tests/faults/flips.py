"""Flipping one bit of a ledger file at a time."""

from __future__ import annotations

import os
import random
import sqlite3
from contextlib import closing
from pathlib import Path

from labcheck.caselog.events import CaseSealed
from labcheck.ledger.store import open_ledger
from labcheck.ledger.verify import verify
from tests.faults.invariants import Tally
from tests.faults.workload import press
from tests.ledger.making import CASE, CHECKLIST, Maker, fill


def sweep(scratch: Path, flips: int, seed: int = 1) -> Tally:
    """Flip one random bit of a closed file, verify it against the head on paper, flip it back.

    ``lost`` counts flips that changed what is stored and were not noticed; the same for SQLite's own check alone
    is counted beside it.
    """
    folder = scratch / "ledger"
    head = make(folder)
    path = folder / "ledger.db"
    whole = bytearray(path.read_bytes())
    alone = scratch / "alone.db"
    truth = content(path)
    tally = Tally()
    chance = random.Random(seed)
    for _ in range(flips):
        bit = chance.randrange(len(whole) * 8)
        whole[bit // 8] ^= 1 << bit % 8
        _write(alone, bytes(whole))
        whole[bit // 8] ^= 1 << bit % 8
        tally.tried += 1
        changed = content(alone) != truth
        noticed = bool(verify(alone, heads={CASE: head}))
        tally.count("changed content", changed)
        tally.count("noticed without a change of content", noticed and not changed)
        if changed and sound_to_sqlite(alone):
            tally.count("changed content and SQLite's own check silent")
        if changed and not noticed:
            tally.lost += 1
            tally.notes.append(f"bit {bit % 8} of byte {bit // 8}")
    return tally


def make(folder: Path) -> str:
    """A ledger with one case, and its head as somebody would have written it down."""
    maker = Maker()
    ledger = open_ledger(folder)
    ledger.keep_checklist(CHECKLIST)
    ledger.append(maker.opening())
    for number in range(40):
        ledger.append(press(maker, number))  # type: ignore[arg-type]
    head = ledger.head(CASE).short
    ledger.close()
    return head


def make_plain(folder: Path) -> str:
    """A finished case of twelve entries and the head its nurse wrote down."""
    maker = Maker()
    ledger = open_ledger(folder)
    fill(ledger, maker, 10)
    ledger.append(maker.press(CaseSealed(entries=11, signed_by="N1")))
    head = ledger.head(CASE).short
    ledger.close()
    return head


def content(path: Path) -> object:
    """Everything that is stored, read without judging; an error is content too."""
    try:
        with closing(sqlite3.connect(f"file:{path}?mode=ro&immutable=1", uri=True)) as connection:
            connection.text_factory = bytes
            return [
                connection.execute(f"SELECT * FROM {table}").fetchall()
                for table in ("event", "checklist", "case_line")
            ]
    except (sqlite3.Error, UnicodeDecodeError) as error:
        return str(error)


def sound_to_sqlite(path: Path) -> bool:
    """Does SQLite's own check say ok?"""
    try:
        with closing(sqlite3.connect(f"file:{path}?mode=ro&immutable=1", uri=True)) as connection:
            return connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    except (sqlite3.Error, UnicodeDecodeError):
        return False


def _write(path: Path, data: bytes) -> None:
    path.write_bytes(data)
    os.utime(path, (1, 1))
