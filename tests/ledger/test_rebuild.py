"""A new ledger from what is left of an old one."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from labcheck.caselog.events import NoteWritten
from labcheck.ledger.errors import UnsafePlace
from labcheck.ledger.rebuild import Rebuilt, rebuild
from labcheck.ledger.store import open_ledger
from labcheck.ledger.verify import verify
from tests.faults.tampering import unguarded
from tests.ledger.making import CASE, CHECKLIST, OTHER, Maker, fill


@pytest.fixture
def old(folder: Path, maker: Maker) -> Path:
    ledger = open_ledger(folder)
    fill(ledger, maker, 5)
    ledger.append(maker.lease())
    fill(ledger, Maker(OTHER))
    ledger.close()
    return folder


def records(folder: Path) -> dict[str, tuple[object, ...]]:
    ledger = open_ledger(folder)
    try:
        assert verify(ledger) == []
        return {line.case: ledger.records(line.case) for line in ledger.cases()}
    finally:
        ledger.close()


def test_a_sound_ledger_is_rebuilt_entry_for_entry(old: Path, tmp_path: Path) -> None:
    before = records(old)
    assert rebuild(old, tmp_path / "new") == [Rebuilt(OTHER, 4, 0), Rebuilt(CASE, 7, 0)]
    assert records(tmp_path / "new") == before


def test_mirrors_alone_are_enough(old: Path, tmp_path: Path) -> None:
    before = records(old)
    (old / "ledger.db").unlink()
    assert rebuild(old, tmp_path / "new") == [Rebuilt(OTHER, 4, 4), Rebuilt(CASE, 7, 7)]
    assert records(tmp_path / "new") == before


def test_the_database_alone_is_enough(old: Path, tmp_path: Path) -> None:
    before = records(old)
    shutil.rmtree(old / "mirror")
    assert [done.entries for done in rebuild(old, tmp_path / "new")] == [4, 7]
    assert records(tmp_path / "new") == before


def test_rubbish_in_the_database_is_replaced_from_the_mirror(old: Path, tmp_path: Path) -> None:
    before = records(old)
    path = old / "ledger.db"
    data = bytearray(path.read_bytes())
    data[8192:] = b"\xff" * (len(data) - 8192)
    path.write_bytes(bytes(data))
    rebuild(old, tmp_path / "new")
    assert records(tmp_path / "new") == before


def test_a_changed_entry_ends_what_is_taken_and_the_mirror_goes_on(old: Path, tmp_path: Path) -> None:
    before = records(old)
    with unguarded(old / "ledger.db") as connection:
        connection.execute(
            "UPDATE event SET body = replace(body, 'note 1', 'note 2') WHERE case_id = 'K7Q2-M4'"
        )
    assert rebuild(old, tmp_path / "new")[1] == Rebuilt(CASE, 7, 5)
    assert records(tmp_path / "new") == before


def test_what_proves_itself_nowhere_is_left_out_and_said_so(old: Path, tmp_path: Path) -> None:
    shutil.rmtree(old / "mirror")
    with unguarded(old / "ledger.db") as connection:
        connection.execute(
            "UPDATE event SET body = replace(body, 'note 1', 'note 2') WHERE case_id = 'K7Q2-M4'"
        )
    _, done = rebuild(old, tmp_path / "new")
    assert (done.entries, "entries after 2 do not prove themselves" in done.note) == (2, True)
    assert len(records(tmp_path / "new")[CASE]) == 2


def test_a_lost_checklist_can_be_handed_in(old: Path, tmp_path: Path) -> None:
    (old / "ledger.db").unlink()
    for text in (old / "mirror").glob("*.toml"):
        text.unlink()
    assert all("checklist text" in done.note for done in rebuild(old, tmp_path / "without"))
    done = rebuild(old, tmp_path / "new", [b"another one", CHECKLIST])
    assert [case.entries for case in done] == [4, 7]


def test_the_old_folder_is_not_changed(old: Path, tmp_path: Path) -> None:
    def bytes_of(folder: Path) -> dict[str, bytes]:
        return {
            str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()
        }

    before = bytes_of(old)
    rebuild(old, tmp_path / "new")
    assert bytes_of(old) == before


def test_nothing_is_built_into_a_folder_that_holds_something(old: Path, tmp_path: Path) -> None:
    (tmp_path / "new").mkdir()
    (tmp_path / "new" / "x").write_text("x")
    with pytest.raises(UnsafePlace, match="not empty"):
        rebuild(old, tmp_path / "new")
    with pytest.raises(UnsafePlace, match="no case is left"):
        rebuild(tmp_path / "absent", tmp_path / "fresh")


@pytest.mark.parametrize(("in_database", "in_mirror", "taken"), [(3, 1, 5), (1, 3, 5), (2, 2, 4)])
def test_two_copies_that_went_different_ways_are_said_to_disagree_and_the_longer_is_taken(
    folder: Path, tmp_path: Path, in_database: int, in_mirror: int, taken: int
) -> None:
    """A database put back from a backup and written on, beside the mirror of the one that was lost."""
    for name, notes in (("database", in_database), ("mirror", in_mirror)):
        maker = Maker()
        ledger = open_ledger(folder / name)
        fill(ledger, maker, 1)
        for number in range(notes):
            ledger.append(maker.note(f"{name} {number}"))
        ledger.close()
    shutil.rmtree(folder / "database" / "mirror")
    shutil.copytree(folder / "mirror" / "mirror", folder / "database" / "mirror")
    (done,) = rebuild(folder / "database", tmp_path / "new")
    assert (done.entries, done.note) == (taken, "database and mirror disagree; keep the old folder")
    assert done.from_mirror == max(0, in_mirror - in_database)
    kept = "mirror" if in_mirror > in_database else "database"
    assert kept in records(tmp_path / "new")[CASE][-1].body.decode()  # type: ignore[attr-defined]


def test_a_case_of_which_nothing_proves_itself_is_named_and_the_others_are_taken(old: Path, tmp_path: Path) -> None:
    (old / "mirror" / f"{CASE}.log").write_bytes(b"rubbish\n")
    with unguarded(old / "ledger.db") as connection:
        connection.execute("UPDATE event SET hash = zeroblob(32) WHERE case_id = 'K7Q2-M4' AND seq = 1")
    other, done = rebuild(old, tmp_path / "new")
    assert done.entries == 0
    assert "entries after 0 do not prove themselves" in done.note
    assert other == Rebuilt(OTHER, 4, 0)
    assert list(records(tmp_path / "new")) == [OTHER]


def test_what_one_press_said_stays_one_press(folder: Path, maker: Maker, tmp_path: Path) -> None:
    ledger = open_ledger(folder)
    fill(ledger, maker, 1)
    ledger.append(maker.press(NoteWritten(text="one"), NoteWritten(text="two")))
    ledger.append(maker.mark())
    ledger.close()
    before = records(folder)
    assert rebuild(folder, tmp_path / "new") == [Rebuilt(CASE, 5, 0)]
    assert records(tmp_path / "new") == before
