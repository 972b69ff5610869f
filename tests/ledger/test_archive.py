"""One case in a file of its own."""

from __future__ import annotations

import os
import sqlite3
import stat
from contextlib import closing
from pathlib import Path

import pytest

from labcheck.ledger.archive import archive
from labcheck.ledger.contract import Ledger
from labcheck.ledger.errors import LedgerError, Refused, UnsafePlace
from labcheck.ledger.store import FileLedger
from labcheck.ledger.verify import verify
from tests.faults.tampering import unguarded
from tests.ledger.making import CASE, OTHER, Maker, fill


def test_an_archive_holds_one_case_and_verifies_alone(ledger: Ledger, maker: Maker, tmp_path: Path) -> None:
    fill(ledger, maker)
    fill(ledger, Maker(OTHER))
    to = tmp_path / "case.db"
    head = archive(ledger, CASE, to)
    assert head == ledger.head(CASE)
    assert verify(to) == verify(to, CASE, heads={CASE: head.short}) == []
    with closing(sqlite3.connect(to)) as connection:
        assert connection.execute("SELECT DISTINCT case_id FROM event").fetchall() == [(CASE,)]
        assert connection.execute("SELECT count(*) FROM checklist").fetchone() == (1,)
        assert connection.execute("PRAGMA journal_mode").fetchone() == ("delete",)
    assert sorted(path.name for path in tmp_path.iterdir() if path.is_file()) == ["case.db"]
    assert stat.S_IMODE(to.stat().st_mode) == 0o600


def test_tampering_with_an_archive_is_found(file_ledger: FileLedger, maker: Maker, tmp_path: Path) -> None:
    fill(file_ledger, maker)
    archive(file_ledger, CASE, tmp_path / "case.db")
    with unguarded(tmp_path / "case.db") as connection:
        connection.execute("UPDATE event SET body = replace(body, 'note 1', 'note 2')")
    assert [(fault.where, fault.seq) for fault in verify(tmp_path / "case.db")] == [("hash", 3)]


def test_a_file_that_is_there_is_never_replaced(
    file_ledger: FileLedger, maker: Maker, tmp_path: Path
) -> None:
    fill(file_ledger, maker)
    to = tmp_path / "case.db"
    to.write_text("somebody's")
    with pytest.raises(Refused, match="exists already"):
        archive(file_ledger, CASE, to)
    assert to.read_text() == "somebody's"
    (tmp_path / "link.db").symlink_to(tmp_path / "nowhere")
    with pytest.raises(Refused, match="exists already"):
        archive(file_ledger, CASE, tmp_path / "link.db")
    assert not (tmp_path / "nowhere").exists()


def test_a_case_that_does_not_verify_is_not_archived(
    file_ledger: FileLedger, maker: Maker, tmp_path: Path
) -> None:
    fill(file_ledger, maker)
    with unguarded(file_ledger.path) as connection:
        connection.execute("UPDATE event SET body = replace(body, 'note 1', 'note 2')")
    with pytest.raises(LedgerError, match="does not verify"):
        archive(file_ledger, CASE, tmp_path / "case.db")
    assert [path.name for path in tmp_path.iterdir()] == ["ledger"]


def test_a_case_or_a_folder_that_is_not_there_is_named(
    file_ledger: FileLedger, maker: Maker, tmp_path: Path
) -> None:
    with pytest.raises(LedgerError, match=f"no case {CASE}"):
        archive(file_ledger, CASE, tmp_path / "case.db")
    fill(file_ledger, maker)
    with pytest.raises(UnsafePlace, match="cannot be written"):
        archive(file_ledger, CASE, tmp_path / "absent" / "case.db")


def test_a_stick_without_hard_links_gets_the_archive_too(
    file_ledger: FileLedger, maker: Maker, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def no_links(*_: object) -> None:
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr(os, "link", no_links)
    fill(file_ledger, maker)
    archive(file_ledger, CASE, tmp_path / "case.db")
    assert verify(tmp_path / "case.db") == []
    assert sorted(path.name for path in tmp_path.iterdir()) == ["case.db", "ledger"]


@pytest.mark.parametrize("taken", ["file", "link to nothing"])
def test_a_name_that_is_taken_is_left_as_it_is(
    file_ledger: FileLedger, maker: Maker, tmp_path: Path, taken: str
) -> None:
    fill(file_ledger, maker)
    to = tmp_path / "case.db"
    if taken == "file":
        to.write_bytes(b"theirs")
    else:
        to.symlink_to(tmp_path / "nowhere")
    with pytest.raises(Refused, match="exists already"):
        archive(file_ledger, CASE, to)
    assert sorted(path.name for path in tmp_path.iterdir() if not path.is_dir()) == ["case.db"]
    assert not (tmp_path / "nowhere").exists()


@pytest.mark.parametrize("links", [True, False])
def test_a_file_that_came_meanwhile_is_not_replaced_with_or_without_hard_links(
    file_ledger: FileLedger, maker: Maker, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, links: bool
) -> None:
    fill(file_ledger, maker)
    to = tmp_path / "case.db"
    link = os.link

    def meanwhile(source: Path, name: Path) -> None:
        to.write_bytes(b"theirs")
        if not links:
            raise OSError(1, "Operation not permitted")
        link(source, name)

    monkeypatch.setattr(os, "link", meanwhile)
    with pytest.raises(Refused, match="exists already"):
        archive(file_ledger, CASE, to)
    assert to.read_bytes() == b"theirs"
    assert [path.name for path in tmp_path.iterdir() if path.is_file()] == ["case.db"]
