"""What only the file ledger can be asked: its file, its settings, its guards, its folder."""

from __future__ import annotations

import os
import shutil
import sqlite3
import stat
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from labcheck.ledger import place, schema
from labcheck.ledger.errors import Busy, Damaged, LedgerError, Refused, UnsafePlace
from labcheck.ledger.store import FileLedger, open_ledger
from tests.faults.tampering import unguarded
from tests.ledger.making import CASE, CHECKLIST, OTHER, Maker, fill


def raw(folder: Path) -> sqlite3.Connection:
    """A connection of somebody else's."""
    return sqlite3.connect(folder / place.DATABASE, isolation_level=None, timeout=5)


def test_what_was_acknowledged_is_seen_by_a_second_connection(file_ledger: FileLedger, maker: Maker) -> None:
    fill(file_ledger, maker)
    other = raw(file_ledger.folder)
    assert other.execute("SELECT count(*) FROM event").fetchone() == (4,)
    other.close()


def test_the_ledger_runs_in_the_mode_that_survives_a_power_cut(file_ledger: FileLedger) -> None:
    assert file_ledger._writer is not None
    settings = {
        name: file_ledger._writer.conn.execute(f"PRAGMA {name}").fetchone()[0]
        for name in ("journal_mode", "synchronous", "foreign_keys", "recursive_triggers", "trusted_schema")
    }
    assert settings == {
        "journal_mode": "wal",
        "synchronous": 2,
        "foreign_keys": 1,
        "recursive_triggers": 1,
        "trusted_schema": 0,
    }


def test_a_closed_ledger_opens_again_with_everything_in_it(folder: Path, maker: Maker) -> None:
    ledger = open_ledger(folder)
    fill(ledger, maker)
    before = (ledger.head(CASE), ledger.events(CASE))
    ledger.close()
    ledger.close()
    assert not (folder / "ledger.db-wal").exists()
    again = open_ledger(folder)
    assert (again.head(CASE), again.events(CASE)) == before
    again.close()


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE event SET body = '{}' WHERE seq = 2",
        "DELETE FROM event WHERE seq = 4",
        "REPLACE INTO event SELECT * FROM event WHERE seq = 2",
        "INSERT INTO event SELECT case_id, 9, event_id || 'x', epoch, kind, target_seq, body, prev, hash FROM event",
        "INSERT INTO event SELECT case_id, 5, '0' || substr(event_id, 2), epoch, kind, target_seq, body, hash, "
        "zeroblob(32) FROM event WHERE seq = 3",
        "INSERT INTO event SELECT case_id, 5, 'f' || substr(event_id, 2), 2, kind, target_seq, body, hash, "
        "zeroblob(32) FROM event WHERE seq = 4",
        "INSERT INTO event SELECT case_id, 5, 'f' || substr(event_id, 2), 1, 'event.voided', 9, body, hash, "
        "zeroblob(32) FROM event WHERE seq = 4",
        "INSERT INTO event SELECT case_id, 5, 'f' || substr(event_id, 2), 1, 'case.opened', NULL, body, hash, "
        "zeroblob(32) FROM event WHERE seq = 4",
        "INSERT INTO event SELECT case_id, 5, event_id, 1, kind, target_seq, body, hash, zeroblob(32) "
        "FROM event WHERE seq = 4",
        "UPDATE checklist SET text = x'00'",
        "DELETE FROM checklist",
        "UPDATE case_line SET rehearsal = 1",
        "DELETE FROM case_line",
        "UPDATE meta SET v = 'x'",
    ],
)
def test_the_files_own_guards_refuse_what_goes_past_the_ledger(
    file_ledger: FileLedger, maker: Maker, statement: str
) -> None:
    fill(file_ledger, maker)
    file_ledger.remember("a fact", "kept")
    before = file_ledger.records(CASE)
    other = raw(file_ledger.folder)
    with pytest.raises(sqlite3.IntegrityError):
        other.execute(statement)
    other.close()
    assert file_ledger.records(CASE) == before


@pytest.mark.parametrize(
    "damage",
    [
        "DROP TRIGGER event_no_delete",
        "DROP INDEX event_by_id",
        "CREATE TABLE extra (a)",
        "PRAGMA user_version = 2",
        "PRAGMA application_id = 0",
    ],
)
def test_a_file_whose_guards_were_changed_is_not_written_to(folder: Path, maker: Maker, damage: str) -> None:
    ledger = open_ledger(folder)
    fill(ledger, maker)
    ledger.close()
    other = raw(folder)
    other.execute(damage)
    other.close()
    with pytest.raises(Damaged, match="labcheck verify"):
        open_ledger(folder)


def test_a_file_that_is_no_database_is_said_to_be_damaged(folder: Path) -> None:
    open_ledger(folder).close()
    (folder / place.DATABASE).write_bytes(b"not a database " * 1000)
    with pytest.raises(Damaged, match="not a readable ledger"):
        open_ledger(folder)


def test_files_and_folders_are_private_whatever_the_umask(folder: Path, maker: Maker) -> None:
    before = os.umask(0)
    try:
        ledger = open_ledger(folder)
        fill(ledger, maker)
        modes = {
            path.relative_to(folder): stat.S_IMODE(path.stat().st_mode)
            for path in [folder, *folder.rglob("*")]
        }
        ledger.close()
    finally:
        os.umask(before)
    assert {Path("ledger.db"), Path("ledger.db-wal"), Path("ledger.db-shm")} <= set(modes)
    assert {path: mode for path, mode in modes.items() if mode & 0o077} == {}


def test_an_open_folder_of_our_own_is_tightened_and_a_strange_one_refused(tmp_path: Path) -> None:
    empty = tmp_path / "empty"
    empty.mkdir(mode=0o755)
    open_ledger(empty).close()
    assert stat.S_IMODE(empty.stat().st_mode) == 0o700
    strange = tmp_path / "strange"
    strange.mkdir(mode=0o755)
    (strange / "letter.txt").write_text("x")
    with pytest.raises(UnsafePlace, match="own folder"):
        open_ledger(strange)
    assert stat.S_IMODE(strange.stat().st_mode) == 0o755


def test_a_lock_file_that_is_a_link_is_not_followed(folder: Path, tmp_path: Path) -> None:
    folder.mkdir(mode=0o700)
    (folder / "write.lock").symlink_to(tmp_path / "elsewhere")
    with pytest.raises((LedgerError, OSError)):
        open_ledger(folder)
    assert not (tmp_path / "elsewhere").exists()


def test_a_read_only_ledger_reads_and_writes_nothing(folder: Path, maker: Maker) -> None:
    with pytest.raises(UnsafePlace, match="no ledger here"):
        open_ledger(folder, read_only=True)
    assert not folder.exists()
    ledger = open_ledger(folder)
    fill(ledger, maker)
    viewer = open_ledger(folder, read_only=True)
    assert viewer.events(CASE) == ledger.events(CASE)
    with pytest.raises(Refused, match="reading only"):
        viewer.append(maker.note())
    with pytest.raises(Refused, match="reading only"):
        viewer.keep_checklist(b"x")
    ledger.append(Maker(OTHER).opening())
    assert viewer.has(OTHER)
    viewer.close()
    ledger.close()


def test_a_half_made_file_of_an_earlier_start_is_thrown_away(folder: Path) -> None:
    folder.mkdir(mode=0o700)
    (folder / "ledger.db.new").write_bytes(b"half")
    open_ledger(folder).close()
    assert not (folder / "ledger.db.new").exists()


def test_two_consoles_may_start_a_new_ledger_at_once(folder: Path) -> None:
    code = (
        "import sys, pathlib; from labcheck.ledger.store import open_ledger;"
        "l = open_ledger(pathlib.Path(sys.argv[1])); print(l.keep_checklist(b'x')); l.close()"
    )
    both = [
        subprocess.Popen([sys.executable, "-c", code, str(folder)], stdout=subprocess.PIPE) for _ in range(2)
    ]
    said = [process.communicate()[0] for process in both]
    assert [process.returncode for process in both] == [0, 0]
    assert said[0] == said[1] != b""


def test_a_foreign_program_that_holds_the_file_is_not_waited_for(
    file_ledger: FileLedger, maker: Maker
) -> None:
    fill(file_ledger, maker)
    other = raw(file_ledger.folder)
    other.execute("BEGIN IMMEDIATE")
    press = maker.note()
    with pytest.raises(Busy, match="try again"):
        file_ledger.append(press)
    other.execute("ROLLBACK")
    other.close()
    assert file_ledger.append(press).seqs == (5,)


def test_reading_goes_on_while_somebody_writes(file_ledger: FileLedger, maker: Maker) -> None:
    fill(file_ledger, maker)
    other = raw(file_ledger.folder)
    other.execute("BEGIN IMMEDIATE")
    assert file_ledger.head(CASE).seq == 4
    other.execute("ROLLBACK")
    other.close()


def test_presses_from_many_threads_all_arrive(file_ledger: FileLedger) -> None:
    file_ledger.keep_checklist(CHECKLIST)
    keys = [f"K7Q{n}-M4" for n in range(2, 6)]
    threads = [threading.Thread(target=fill, args=(file_ledger, Maker(key), 10)) for key in keys]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert [file_ledger.head(key).seq for key in keys] == [11] * 4


def test_a_ledger_that_is_gone_while_mirrors_are_left_is_not_begun_anew(folder: Path, maker: Maker) -> None:
    ledger = open_ledger(folder)
    fill(ledger, maker)
    ledger.close()
    (folder / place.DATABASE).unlink()
    with pytest.raises(Damaged, match="labcheck rebuild"):
        open_ledger(folder)
    assert not (folder / place.DATABASE).exists()


MOUNTS = """22 1 254:0 / / rw - ext4 /dev/vda rw
30 22 0:26 / /home rw,nosuid - nfs4 server:/home rw
31 30 254:1 / /home/local rw master:1 - xfs /dev/vdb rw
32 22 0:31 / /mnt/my\\040share rw - cifs //server/share rw
33 22 0:40 / /media rw - fuse.sshfs x rw
34 22 0:41 / /usb rw - fuseblk /dev/sda1 rw
35 30 254:2 / /home rw - ext4 /dev/vdc rw
"""


@pytest.mark.parametrize(
    ("folder", "mounts", "kind"),
    [
        ("/var/lib/x", MOUNTS, "ext4"),
        ("/home/n1", MOUNTS.replace("35 30", "#"), "nfs4"),
        ("/home/n1", MOUNTS, "ext4"),
        ("/home/local/n1", MOUNTS, "xfs"),
        ("/homework", MOUNTS, "ext4"),
        ("/mnt/my share/x", MOUNTS, "cifs"),
        ("/media/x", MOUNTS, "fuse.sshfs"),
        ("/usb", MOUNTS, "fuseblk"),
    ],
)
def test_the_file_system_under_a_folder_is_the_innermost_mount(folder: str, mounts: str, kind: str) -> None:
    lines = "\n".join(line for line in mounts.splitlines() if not line.startswith("#"))
    assert place.file_system(Path(folder), lines) == kind


@pytest.mark.parametrize("kind", ["nfs", "nfs4", "cifs", "smb3", "fuse.sshfs", "9p", "ceph"])
def test_a_network_file_system_is_refused_with_its_name(
    folder: Path, monkeypatch: pytest.MonkeyPatch, kind: str
) -> None:
    monkeypatch.setattr(place, "file_system", lambda _folder: kind)
    with pytest.raises(UnsafePlace, match=f"on a {kind} file system"):
        open_ledger(folder)
    assert not (folder / place.DATABASE).exists()
    ledger = open_ledger(folder, allow_unsafe_path=True)
    ledger.close()
    kept = raw(folder).execute("SELECT k, v FROM meta").fetchall()
    assert [v for k, v in kept if k.startswith("unsafe path")] == [kind]


@pytest.mark.parametrize("kind", ["ext4", "xfs", "btrfs", "overlay", "tmpfs", "fuseblk", "apfs"])
def test_a_local_file_system_is_welcome(kind: str) -> None:
    assert not place.is_shared(kind)


def test_less_than_sixteen_mebibytes_free_is_refused(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(place, "free_bytes", lambda _folder: 16 * 1024 * 1024 - 1)
    with pytest.raises(UnsafePlace, match="15 MiB free, 16 needed"):
        open_ledger(folder)
    monkeypatch.setattr(place, "free_bytes", lambda _folder: 16 * 1024 * 1024)
    open_ledger(folder).close()


def test_every_kind_of_event_is_known_to_the_file() -> None:
    from labcheck.caselog.events import KINDS

    assert all(f"'{kind}'" in schema.SCHEMA["event"] for kind in KINDS)


@pytest.mark.parametrize(
    "body",
    [
        "replace(body, 'note.written', 'note.spoken')",
        "CAST(x'7b22ff' AS TEXT)",
        "'{}'",
    ],
)
def test_an_entry_that_cannot_be_read_is_damage_with_one_line(folder: Path, maker: Maker, body: str) -> None:
    ledger = open_ledger(folder)
    fill(ledger, maker)
    ledger.close()
    with unguarded(folder / place.DATABASE) as connection:
        connection.execute(f"UPDATE event SET body = {body} WHERE seq = 3")
    shutil.rmtree(folder / "mirror")
    ledger = open_ledger(folder)
    with pytest.raises(Damaged, match="labcheck verify") as said:
        ledger.events(CASE)
    assert "\n" not in str(said.value)
    ledger.close()
