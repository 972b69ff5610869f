"""Room made in the log beforehand: saves overwrite it, a crash leaves it readable, and it is never in the way."""

from __future__ import annotations

import errno
import os
import shutil
from contextlib import closing
from pathlib import Path

import pytest

from labcheck.ledger import log_room
from labcheck.ledger.log_room import PAGES, ROOM, SPARE
from labcheck.ledger.resume import load
from labcheck.ledger.store import FileLedger, open_ledger
from labcheck.ledger.verify import verify
from tests.ledger.making import CASE, CHECKLIST, Maker, fill


def log_of(folder: Path) -> Path:
    return folder / "ledger.db-wal"


def test_saves_do_not_make_the_log_longer(file_ledger: FileLedger, maker: Maker) -> None:
    fill(file_ledger, maker, 20)
    assert log_of(file_ledger.folder).stat().st_size == ROOM


def test_the_log_stays_that_long_when_it_was_copied_many_times(folder: Path, maker: Maker) -> None:
    with closing(open_ledger(folder)) as ledger:
        fill(ledger, maker, 1)
        assert ledger._writer is not None
        ledger._writer.conn.execute("PRAGMA wal_autocheckpoint = 20")
        for number in range(40):
            ledger.append(maker.note(f"note {number}"))
        assert log_of(folder).stat().st_size == ROOM
        assert verify(ledger) == []


def test_on_a_disk_that_is_nearly_full_no_room_is_made(
    folder: Path, maker: Maker, monkeypatch: pytest.MonkeyPatch
) -> None:
    usage = shutil.disk_usage(folder.parent)
    monkeypatch.setattr(log_room.shutil, "disk_usage", lambda _folder: usage._replace(free=SPARE))
    with closing(open_ledger(folder)) as ledger:
        fill(ledger, maker, 5)
        assert log_of(folder).stat().st_size < ROOM
        assert verify(ledger) == []


def test_the_log_is_copied_before_its_room_is_used_up(file_ledger: FileLedger) -> None:
    assert file_ledger._writer is not None
    (pages,) = file_ledger._writer.conn.execute("PRAGMA wal_autocheckpoint").fetchone()
    assert pages == PAGES
    assert (pages + 32) * (4096 + 24) < ROOM


def test_a_log_with_room_left_at_its_end_is_taken_up_whole_after_a_crash(folder: Path, maker: Maker) -> None:
    with closing(open_ledger(folder)) as ledger:
        fill(ledger, maker, 5)
        head = ledger.head(CASE)
        # What lies on the disk while the program runs is what a crash leaves.
        left = folder.with_name("left")
        shutil.copytree(folder, left)
    assert log_of(left).stat().st_size == ROOM
    with closing(open_ledger(left)) as ledger:
        assert ledger.head(CASE) == head
        assert len(load(ledger, CASE).events) == 6
        assert verify(ledger) == []


def test_a_second_program_leaves_the_room_and_the_entries_in_it_alone(
    file_ledger: FileLedger, maker: Maker
) -> None:
    fill(file_ledger, maker, 5)
    with closing(open_ledger(file_ledger.folder)) as second:
        second.append(maker.note("from the other console"))
        assert len(second.records(CASE)) == 7
    assert len(file_ledger.records(CASE)) == 7
    assert verify(file_ledger) == []


@pytest.mark.parametrize("call", ["pwrite", "fsync"])
def test_room_that_cannot_be_made_is_no_reason_not_to_save(
    folder: Path, maker: Maker, monkeypatch: pytest.MonkeyPatch, call: str
) -> None:
    def refuse(*_: object) -> int:
        raise OSError(errno.ENOSPC, "the disk is full")

    class Full:
        """The system calls of this one module, with one that fails."""

        def __getattr__(self, name: str) -> object:
            return refuse if name == call else getattr(real, name)

    real = os
    monkeypatch.setattr(log_room, "os", Full())
    with closing(open_ledger(folder)) as ledger:
        ledger.keep_checklist(CHECKLIST)
        assert ledger.append(maker.opening()).mirrored
        assert len(ledger.records(CASE)) == 1
