"""Faults 19 to 23: the log file is gone, bits flip, somebody tampers, a guard is missing, the folder is unfit."""

from __future__ import annotations

import os
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from labcheck.ledger import place
from labcheck.ledger.errors import Damaged, UnsafePlace
from labcheck.ledger.rebuild import rebuild
from labcheck.ledger.resume import load
from labcheck.ledger.schema import SCHEMA
from labcheck.ledger.store import open_ledger
from labcheck.ledger.verify import verify
from tests.faults import flips
from tests.faults.second_console import Console
from tests.faults.tampering import CHAIN_SHOWS, ONLY_A_HEAD_SHOWS, Change, unguarded
from tests.ledger.making import CASE


def killed_in_mid_case(folder: Path) -> int:
    """A console that was killed and left its log file behind; the last entry it had acknowledged."""
    console = Console(folder, "desk one")
    console.ask("open")
    saved = [console.ask("note", f"note {number}")["saved"] for number in range(5)]
    console.process.kill()
    console.process.wait(30)
    console.end()
    return int(saved[-1][-1])


def test_a_log_file_deleted_after_a_crash_stops_the_case_and_the_rebuild_has_everything(
    tmp_path: Path,
) -> None:
    folder = tmp_path / "ledger"
    last = killed_in_mid_case(folder)
    mirrored = (folder / "mirror" / f"{CASE}.log").read_bytes()
    (folder / "ledger.db-wal").unlink()
    ledger = open_ledger(folder)
    assert ledger.lost() == [CASE]
    with pytest.raises(Damaged, match="labcheck rebuild"):
        load(ledger, CASE)
    assert [fault.where for fault in verify(ledger)] == ["mirror"]
    ledger.close()
    assert (folder / "mirror" / f"{CASE}.log").read_bytes() == mirrored

    (done,) = rebuild(folder, tmp_path / "new")
    assert (done.entries, done.from_mirror, done.note) == (last, last, "")
    again = open_ledger(tmp_path / "new")
    assert again.mirror.path(CASE).read_bytes() == mirrored
    assert verify(again) == []
    again.close()


def test_no_flipped_bit_that_changes_content_goes_unnoticed(tmp_path: Path) -> None:
    tally = flips.sweep(tmp_path, 250)
    assert tally.lost == 0, tally.notes
    assert tally.extra["changed content"] > 100
    # What the check is for: SQLite alone would have let these pass.
    assert tally.extra["changed content and SQLite's own check silent"] > 50


@pytest.mark.parametrize("change", CHAIN_SHOWS, ids=lambda change: change.__name__)
def test_tampering_is_found_and_the_entry_named(tmp_path: Path, change: Change) -> None:
    folder = tmp_path / "ledger"
    flips.make_plain(folder)
    shutil.rmtree(folder / "mirror")
    with unguarded(folder / "ledger.db") as connection:
        change(connection)
    where, seq = CHAIN_SHOWS[change]
    faults = verify(folder)
    assert (where, seq) in {(fault.where, fault.seq) for fault in faults}
    assert not any(fault.where in ("file", "schema") for fault in faults)


@pytest.mark.parametrize("change", ONLY_A_HEAD_SHOWS, ids=lambda change: change.__name__)
def test_a_cut_tail_and_a_chain_made_anew_are_found_by_paper_and_by_the_mirror(
    tmp_path: Path, change: Change
) -> None:
    folder = tmp_path / "ledger"
    head = flips.make_plain(folder)
    with unguarded(folder / "ledger.db") as connection:
        change(connection)
    assert any(fault.where == "mirror" for fault in verify(folder))
    alone = folder / "ledger.db"
    assert verify(alone) == []
    assert [fault.where for fault in verify(alone, heads={CASE: head})] == ["head"]


def test_a_head_from_paper_that_is_right_raises_no_fault(tmp_path: Path) -> None:
    head = flips.make_plain(tmp_path / "ledger")
    assert verify(tmp_path / "ledger", heads={CASE: head.lower()}) == []


def test_a_migration_that_drops_the_guards_is_refused_at_the_next_start(tmp_path: Path) -> None:
    folder = tmp_path / "ledger"
    flips.make_plain(folder)
    # What a migration tool does to change a table: copy, drop, rename. The triggers go with the old one.
    with closing(sqlite3.connect(folder / "ledger.db", isolation_level=None)) as connection:
        connection.execute(SCHEMA["case_line"].replace("TABLE case_line", "TABLE fresh"))
        connection.execute("INSERT INTO fresh SELECT * FROM case_line")
        connection.execute("DROP TABLE case_line")
        connection.execute("ALTER TABLE fresh RENAME TO case_line")
    with pytest.raises(Damaged, match="case_line_no_update is missing"):
        open_ledger(folder)
    assert any(fault.where == "schema" and "case_line" in fault.text for fault in verify(folder))


def test_a_dropped_trigger_is_named(tmp_path: Path) -> None:
    folder = tmp_path / "ledger"
    flips.make_plain(folder)
    with closing(sqlite3.connect(folder / "ledger.db", isolation_level=None)) as connection:
        connection.execute("DROP TRIGGER event_no_update")
    with pytest.raises(Damaged, match="event_no_update is missing"):
        open_ledger(folder)
    assert [str(fault) for fault in verify(folder)] == ["ledger: schema: event_no_update is missing"]


def test_a_network_file_system_is_refused_with_the_reason(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(place, "file_system", lambda _folder: "nfs4")
    with pytest.raises(UnsafePlace, match="nfs4"):
        open_ledger(tmp_path / "ledger")


@pytest.mark.skipif(os.geteuid() == 0, reason="only on an account without root: root may write everywhere")
def test_a_folder_that_cannot_be_written_is_refused_with_the_reason(tmp_path: Path) -> None:
    (tmp_path / "ledger").mkdir(mode=0o500)
    with pytest.raises(UnsafePlace, match="not writable"):
        open_ledger(tmp_path / "ledger")


def test_a_folder_that_is_a_file_is_refused_with_the_reason(tmp_path: Path) -> None:
    (tmp_path / "ledger").write_text("x")
    with pytest.raises(UnsafePlace, match="cannot be used"):
        open_ledger(tmp_path / "ledger")
