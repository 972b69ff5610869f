"""The mirror: behind it is brought up, ahead it stops everything."""

from __future__ import annotations

import os
import stat
from pathlib import Path

import pytest

from labcheck.caselog.events import NoteWritten
from labcheck.ledger.chain import Record
from labcheck.ledger.contract import text_digest
from labcheck.ledger.errors import Damaged
from labcheck.ledger.mirror import to_line
from labcheck.ledger.resume import load
from labcheck.ledger.store import FileLedger, open_ledger
from tests.ledger.making import CASE, CHECKLIST, Maker, fill


def path(ledger: FileLedger) -> Path:
    return ledger.mirror.path(CASE)


def whole(ledger: FileLedger) -> bytes:
    return b"".join(to_line(record) for record in ledger.records(CASE))


def test_the_mirror_holds_one_line_an_entry_with_its_digest(file_ledger: FileLedger, maker: Maker) -> None:
    fill(file_ledger, maker)
    file_ledger.append(maker.press(NoteWritten(text="a\nb\x1b"), NoteWritten(text="é")))
    assert path(file_ledger).read_bytes() == whole(file_ledger)
    assert path(file_ledger).read_bytes().count(b"\n") == 6


@pytest.mark.parametrize("lost", [1, 10, 800, 100_000])
def test_a_mirror_that_lost_its_end_is_brought_up(file_ledger: FileLedger, maker: Maker, lost: int) -> None:
    fill(file_ledger, maker)
    cut = max(0, path(file_ledger).stat().st_size - lost)
    os.truncate(path(file_ledger), cut)
    assert file_ledger.settle(CASE) == 4 - whole(file_ledger)[:cut].count(b"\n")
    assert path(file_ledger).read_bytes() == whole(file_ledger)
    assert file_ledger.settle(CASE) == 0


@pytest.mark.parametrize("torn", [b"\x00" * 512, b"half a line", b"x\n" * 1])
def test_a_torn_last_line_is_replaced_by_the_entry_the_database_has(
    file_ledger: FileLedger, maker: Maker, torn: bytes
) -> None:
    fill(file_ledger, maker)
    before = whole(file_ledger)
    start = before[:-1].rindex(b"\n") + 1
    path(file_ledger).write_bytes(before[:start] + torn)
    assert file_ledger.settle(CASE) == 1
    assert path(file_ledger).read_bytes() == before


def test_a_mirror_that_is_missing_is_made_anew(file_ledger: FileLedger, maker: Maker) -> None:
    fill(file_ledger, maker)
    path(file_ledger).unlink()
    assert file_ledger.settle(CASE) == 4
    assert path(file_ledger).read_bytes() == whole(file_ledger)


def test_a_mirror_with_more_than_the_database_stops_resume_and_saving(folder: Path, maker: Maker) -> None:
    ledger = open_ledger(folder)
    fill(ledger, maker)
    ledger.close()
    saved = (folder / "ledger.db").read_bytes()
    ledger = open_ledger(folder)
    ledger.append(maker.note("acknowledged, then lost by the database"))
    ledger.close()
    (folder / "ledger.db").write_bytes(saved)
    before = ledger.mirror.path(CASE).read_bytes()

    ledger = open_ledger(folder)
    maker.seq = 4
    for attempt in (lambda: load(ledger, CASE), lambda: ledger.append(maker.note())):
        with pytest.raises(Damaged, match=r"mirror holds 5 entries, the database only 4.*labcheck rebuild"):
            attempt()
    assert ledger.head(CASE).seq == 4
    assert path(ledger).read_bytes() == before
    ledger.close()


def test_a_torn_line_beyond_the_database_is_a_loss_too(file_ledger: FileLedger, maker: Maker) -> None:
    fill(file_ledger, maker)
    with path(file_ledger).open("ab") as end:
        end.write(b"0123 {half")
    with pytest.raises(Damaged, match="mirror holds 5 entries, the database only 4"):
        file_ledger.settle(CASE)


def test_a_changed_line_is_never_repaired(file_ledger: FileLedger, maker: Maker) -> None:
    fill(file_ledger, maker)
    changed = whole(file_ledger).replace(b"note 0", b"note 9")
    path(file_ledger).write_bytes(changed)
    with pytest.raises(Damaged, match="entry 2 differs"):
        file_ledger.settle(CASE)
    assert path(file_ledger).read_bytes() == changed


def test_a_case_of_which_only_the_mirror_is_left_is_named_and_its_key_not_used_again(
    file_ledger: FileLedger, maker: Maker
) -> None:
    file_ledger.keep_checklist(CHECKLIST)
    path(file_ledger).write_bytes(b"x y\n")
    assert file_ledger.has(CASE)
    assert file_ledger.lost() == [CASE]
    with pytest.raises(Damaged, match="labcheck rebuild"):
        file_ledger.append(maker.opening())


def test_a_mirror_that_cannot_be_written_does_not_undo_a_save_and_is_brought_up_later(
    file_ledger: FileLedger, maker: Maker, monkeypatch: pytest.MonkeyPatch
) -> None:
    fill(file_ledger, maker)

    def full(*_: object) -> int:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as broken:
        broken.setattr(os, "pwrite", full)
        ack = file_ledger.append(maker.note("while the disk was full"))
    assert (ack.seqs, ack.mirrored) == ((5,), False)
    assert file_ledger.append(maker.note()).mirrored
    assert path(file_ledger).read_bytes() == whole(file_ledger)


def test_a_viewer_compares_and_changes_nothing(file_ledger: FileLedger, maker: Maker) -> None:
    fill(file_ledger, maker)
    os.truncate(path(file_ledger), 10)
    viewer = open_ledger(file_ledger.folder, read_only=True)
    assert load(viewer, CASE).checklist == CHECKLIST
    viewer.close()
    assert path(file_ledger).stat().st_size == 10


@pytest.mark.parametrize("how", ["removed", "longer", "shorter"])
def test_a_mirror_changed_between_two_presses_is_looked_at_again(
    file_ledger: FileLedger, maker: Maker, how: str
) -> None:
    fill(file_ledger, maker)
    if how == "removed":
        path(file_ledger).unlink()
    elif how == "longer":
        path(file_ledger).write_bytes(whole(file_ledger) + b"junk")
    else:
        os.truncate(path(file_ledger), 100)
    assert not file_ledger.append(maker.note()).mirrored
    assert file_ledger.append(maker.note()).mirrored
    assert path(file_ledger).read_bytes() == whole(file_ledger)


@pytest.mark.parametrize("spoilt", [0, 1])
def test_a_torn_line_anywhere_in_the_last_press_is_replaced_with_what_follows_it(
    file_ledger: FileLedger, maker: Maker, spoilt: int
) -> None:
    fill(file_ledger, maker)
    file_ledger.append(maker.press(NoteWritten(text="one"), NoteWritten(text="two")))
    lines = whole(file_ledger).splitlines(keepends=True)
    lines[-2 + spoilt] = b"\x00" * 20 + b"\n"
    path(file_ledger).write_bytes(b"".join(lines))
    file_ledger.mirror.forget()
    assert file_ledger.settle(CASE) == 2 - spoilt
    assert path(file_ledger).read_bytes() == whole(file_ledger)


def test_a_torn_line_before_the_last_press_is_no_torn_write(file_ledger: FileLedger, maker: Maker) -> None:
    fill(file_ledger, maker)
    lines = whole(file_ledger).splitlines(keepends=True)
    lines[-2] = b"\x00" * 20 + b"\n"
    path(file_ledger).write_bytes(b"".join(lines))
    with pytest.raises(Damaged, match="entry 3 differs"):
        file_ledger.settle(CASE)


def test_a_line_that_proves_itself_but_is_another_is_never_repaired(
    file_ledger: FileLedger, maker: Maker
) -> None:
    fill(file_ledger, maker)
    before = whole(file_ledger).splitlines(keepends=True)
    path(file_ledger).write_bytes(b"".join([*before[:-1], before[0]]))
    with pytest.raises(Damaged, match="entry 4 differs"):
        file_ledger.settle(CASE)


@pytest.mark.parametrize("call", ["pwrite", "fdatasync"])
def test_what_may_not_have_reached_the_disk_does_not_stay_in_the_mirror(
    file_ledger: FileLedger, maker: Maker, monkeypatch: pytest.MonkeyPatch, call: str
) -> None:
    fill(file_ledger, maker)
    before = path(file_ledger).read_bytes()
    write = os.pwrite

    def full(descriptor: int, data: bytes = b"", at: int = 0) -> int:
        if data:
            write(descriptor, data[:9], at)
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as broken:
        broken.setattr(os, call, full)
        assert not file_ledger.append(maker.note()).mirrored
    assert path(file_ledger).read_bytes() == before


def test_a_disk_that_takes_only_a_little_at_a_time_gets_the_whole_line(
    file_ledger: FileLedger, maker: Maker, monkeypatch: pytest.MonkeyPatch
) -> None:
    fill(file_ledger, maker)
    write = os.pwrite
    monkeypatch.setattr(os, "pwrite", lambda descriptor, data, at: write(descriptor, data[:50], at))
    assert file_ledger.append(maker.note()).mirrored
    assert path(file_ledger).read_bytes() == whole(file_ledger)


def test_checklist_texts_lie_beside_the_cases_and_only_those_that_are_what_they_say_are_read(
    file_ledger: FileLedger,
) -> None:
    mirror = file_ledger.mirror
    for text in (CHECKLIST, b"another\n", CHECKLIST):
        mirror.keep_text(text)
    assert sorted(mirror.texts()) == sorted([CHECKLIST, b"another\n"])
    kept = mirror.folder / f"{text_digest(CHECKLIST)}.toml"
    kept.write_bytes(CHECKLIST + b"and more")
    assert list(mirror.texts()) == [b"another\n"]
    mirror.keep_text(CHECKLIST)
    assert kept.read_bytes() == CHECKLIST
    assert [stat.S_IMODE(one.stat().st_mode) for one in (mirror.folder, kept)] == [0o700, 0o600]


def test_a_mirror_that_is_known_to_agree_is_not_read_again(file_ledger: FileLedger, maker: Maker) -> None:
    fill(file_ledger, maker)
    records = file_ledger.records(CASE)
    assert file_ledger.mirror.agree(CASE, 4, lambda: pytest.fail("was read again")) == 0
    asked: list[int] = []

    def read_again() -> tuple[Record, ...]:
        asked.append(4)
        return records

    file_ledger.mirror.forget()
    assert file_ledger.mirror.agree(CASE, 4, read_again) == 0
    assert asked == [4]
