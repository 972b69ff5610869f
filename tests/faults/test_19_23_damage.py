"""Faults 19 to 23: the log file is gone, bits flip, somebody tampers, a guard is missing, the folder is unfit."""

from __future__ import annotations

import os
import shutil
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest

from labcheck.ledger import place
from labcheck.ledger.errors import Damaged, UnsafePlace
from labcheck.ledger.rebuild import rebuild
from labcheck.ledger.resume import load
from labcheck.ledger.schema import SCHEMA
from labcheck.ledger.sqlite_light import Database
from labcheck.ledger.store import open_ledger
from labcheck.ledger.verify import verify
from tests.faults import flips
from tests.faults.invariants import heads, hold
from tests.faults.second_console import Console
from tests.faults.tampering import CHAIN_SHOWS, ONLY_A_HEAD_SHOWS, Change, unguarded
from tests.ledger.making import CASE


def killed_in_mid_case(folder: Path) -> dict[int, str]:
    """A console that was killed and left its log file behind; all it had acknowledged."""
    console = Console(folder, "desk one")
    console.ask("open")
    for number in range(5):
        console.ask("note", f"note {number}")
    console.process.kill()
    console.process.wait(30)
    console.end()
    return console.acknowledged


@pytest.mark.fault(19)
def test_a_log_file_deleted_after_a_crash_stops_the_case_and_the_rebuild_has_everything(
    tmp_path: Path,
) -> None:
    folder = tmp_path / "ledger"
    acknowledged = killed_in_mid_case(folder)
    last = max(acknowledged)
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
    hold(tmp_path / "new", acknowledged, "rebuilt", extra=0)


@pytest.mark.fault(20)
def test_no_flipped_bit_that_changes_content_goes_unnoticed(tmp_path: Path) -> None:
    tally = flips.sweep(tmp_path, 250)
    assert tally.lost == 0, tally.notes
    assert tally.extra["changed content"] > 100
    # What the check is for: SQLite alone would have let these pass.
    assert tally.extra["changed content and SQLite's own check silent"] > 50
    hold(tmp_path / "ledger", heads(tmp_path / "ledger"), "the file that was copied and flipped", extra=0)
    flip_in_place(tmp_path / "ledger")


def flip_in_place(folder: Path) -> None:
    """One flipped bit of an entry's text: the case stops, and the mirror gives it back whole."""
    before = heads(folder)
    data = bytearray((folder / "ledger.db").read_bytes())
    data[data.index(b"press 7 x") + 6] ^= 1
    (folder / "ledger.db").write_bytes(data)
    assert verify(folder) != []
    with pytest.raises(Damaged), closing(open_ledger(folder)) as ledger:
        load(ledger, CASE)
    rebuild(folder, folder.with_name("new"))
    hold(folder.with_name("new"), before, "rebuilt after a flip", extra=0)


@pytest.mark.fault(21)
@pytest.mark.parametrize("change", CHAIN_SHOWS, ids=lambda change: change.__name__)
def test_tampering_is_found_and_the_entry_named(tmp_path: Path, change: Change) -> None:
    folder = tmp_path / "ledger"
    flips.make_plain(folder)
    before = heads(folder)
    shutil.move(folder / "mirror", tmp_path / "kept")
    with unguarded(folder / "ledger.db") as connection:
        change(connection)
    where, seq = CHAIN_SHOWS[change]
    faults = verify(folder)
    assert (where, seq) in {(fault.where, fault.seq) for fault in faults}
    assert not any(fault.where in ("file", "schema") for fault in faults)
    # With its second copy the case comes back as it was signed.
    shutil.move(tmp_path / "kept", folder / "mirror")
    rebuild(folder, tmp_path / "new")
    hold(tmp_path / "new", before, "rebuilt", extra=0)


@pytest.mark.fault(21)
@pytest.mark.parametrize("change", ONLY_A_HEAD_SHOWS, ids=lambda change: change.__name__)
def test_a_cut_tail_and_a_chain_made_anew_are_found_by_paper_and_by_the_mirror(
    tmp_path: Path, change: Change
) -> None:
    folder = tmp_path / "ledger"
    head = flips.make_plain(folder)
    before = heads(folder)
    with unguarded(folder / "ledger.db") as connection:
        change(connection)
    assert any(fault.where == "mirror" for fault in verify(folder))
    alone = folder / "ledger.db"
    assert verify(alone) == []
    assert [fault.where for fault in verify(alone, heads={CASE: head})] == ["head"]
    (done,) = rebuild(folder, tmp_path / "new")
    if change.__name__ == "cut_tail":
        hold(tmp_path / "new", before, "rebuilt", extra=0)
    else:
        # Two whole chains that disagree: which is right only paper says, and the rebuild says that they do.
        assert "disagree" in done.note
        (folder / "ledger.db").unlink()
        rebuild(folder, tmp_path / "mirrored")
        assert verify(tmp_path / "mirrored", heads={CASE: head}) == []
        hold(tmp_path / "mirrored", before, "rebuilt from the mirror", extra=0)


def test_a_head_from_paper_that_is_right_raises_no_fault(tmp_path: Path) -> None:
    head = flips.make_plain(tmp_path / "ledger")
    assert verify(tmp_path / "ledger", heads={CASE: head.lower()}) == []


def migrated_by_hand(path: Path) -> None:
    """What a migration tool does to change a table: copy, drop, rename. The triggers go with the old one."""
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.execute(SCHEMA["case_line"].replace("TABLE case_line", "TABLE fresh"))
        connection.execute("INSERT INTO fresh SELECT * FROM case_line")
        connection.execute("DROP TABLE case_line")
        connection.execute("ALTER TABLE fresh RENAME TO case_line")


def transformed(path: Path) -> None:
    """The library's own way to change a table (the other tables it cannot take: they have no row ids)."""
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        Database(connection, execute_plugins=False).table("meta").transform()


def dropped_trigger(path: Path) -> None:
    """One guard off."""
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.execute("DROP TRIGGER event_no_update")


def replaced_trigger(path: Path) -> None:
    """A guard of the same name that guards nothing."""
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.execute("DROP TRIGGER event_no_delete")
        connection.execute("CREATE TRIGGER event_no_delete BEFORE DELETE ON event BEGIN SELECT 1; END")


@pytest.mark.fault(22)
@pytest.mark.parametrize(
    ("change", "says"),
    [
        (migrated_by_hand, "case_line_no_update is missing"),
        (transformed, "meta_no_update is missing"),
        (dropped_trigger, "event_no_update is missing"),
        (replaced_trigger, "event_no_delete has another text"),
    ],
    ids=lambda case: getattr(case, "__name__", None),
)
def test_a_ledger_without_its_guards_is_refused_at_the_next_start(
    tmp_path: Path, change: Callable[[Path], None], says: str
) -> None:
    folder = tmp_path / "ledger"
    flips.make_plain(folder)
    before = heads(folder)
    change(folder / "ledger.db")
    for _ in range(2):  # refused again: the first refusal mended nothing behind anybody's back
        with pytest.raises(Damaged, match=says):
            open_ledger(folder)
    assert any(fault.where == "schema" and says in str(fault) for fault in verify(folder))
    rebuild(folder, tmp_path / "new")
    hold(tmp_path / "new", before, "rebuilt", extra=0)


@pytest.mark.fault(23)
@pytest.mark.parametrize("kind", ["nfs4", "nfs", "cifs", "smb3", "fuse.sshfs", "9p"])
def test_a_network_file_system_is_refused_with_the_reason(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, kind: str
) -> None:
    flips.make_plain(tmp_path / "ledger")
    before = heads(tmp_path / "ledger")
    stood = contents(tmp_path / "ledger")
    with monkeypatch.context() as patched:
        patched.setattr(place, "file_system", lambda _folder: kind)
        with pytest.raises(UnsafePlace, match=f"on a {kind} file system") as refused:
            open_ledger(tmp_path / "ledger")
    assert "\n" not in str(refused.value)
    assert contents(tmp_path / "ledger") == stood
    hold(tmp_path / "ledger", before, "refused", extra=0)


def contents(folder: Path) -> dict[str, bytes]:
    """Every file below."""
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


@pytest.mark.fault(23)
def test_a_folder_that_cannot_be_written_is_refused_with_the_reason(tmp_path: Path) -> None:
    folder = tmp_path / "ledger"
    flips.make_plain(folder)
    before = heads(folder)
    for path in (folder, tmp_path, *tmp_path.parents):
        if path.stat().st_uid == os.geteuid() and path != Path("/tmp"):
            path.chmod(0o755 if path != folder else 0o500)
    with ordinary_user(), pytest.raises(UnsafePlace, match="not writable"):
        open_ledger(folder)
    folder.chmod(0o700)
    hold(folder, before, "not writable", extra=0)


@contextmanager
def ordinary_user() -> Iterator[None]:
    """Without the rights of root, who may write everywhere; anybody else is one already."""
    root = os.geteuid() == 0
    if root:
        os.setresuid(65534, 65534, 0)
    try:
        yield
    finally:
        if root:
            os.setresuid(0, 0, 0)


def test_a_folder_that_is_a_file_is_refused_with_the_reason(tmp_path: Path) -> None:
    (tmp_path / "ledger").write_text("x")
    with pytest.raises(UnsafePlace, match="cannot be used"):
        open_ledger(tmp_path / "ledger")
