"""The side file of presses the ledger did not take: whole presses only, whatever the disk does."""

from __future__ import annotations

import os
import stat
from collections.abc import Sequence
from pathlib import Path

import pytest

from labcheck.caselog.events import Event, MarkSet, NoteWritten
from labcheck.ledger.locks import FileLock
from labcheck.ledger.unsaved import SideFile
from tests.ledger.making import CASE, OTHER, Maker, stamp


@pytest.fixture
def side(tmp_path: Path) -> SideFile:
    return SideFile(tmp_path)


def test_presses_are_read_back_in_order_and_each_case_has_its_own_file(side: SideFile, maker: Maker) -> None:
    first, second, other = maker.note("one"), maker.press(MarkSet(), NoteWritten(text="two")), Maker(OTHER).mark()
    for press in (first, second, other):
        assert side.keep(press)
    assert side.read(CASE) == (*first, *second)
    assert side.read(OTHER) == other
    assert stat.S_IMODE(side.path(CASE).stat().st_mode) == 0o600


def test_a_disk_that_takes_only_a_little_at_a_time_still_gets_the_whole_press(
    side: SideFile, maker: Maker, monkeypatch: pytest.MonkeyPatch
) -> None:
    write = os.write
    monkeypatch.setattr(os, "write", lambda descriptor, data: write(descriptor, data[:7]))
    press = maker.note("one")
    assert side.keep(press)
    assert side.read(CASE) == press


@pytest.mark.parametrize("failing", ["write", "fsync"])
def test_a_press_that_did_not_fit_leaves_nothing_behind_that_would_spoil_the_next_one(
    side: SideFile, maker: Maker, monkeypatch: pytest.MonkeyPatch, failing: str
) -> None:
    first, second, third = maker.note("one"), maker.note("two"), maker.note("three")
    assert side.keep(first)
    write = os.write
    taken: list[int] = []

    def full(descriptor: int, data: bytes = b"") -> int:
        if taken or not data:
            raise OSError(28, "No space left on device")
        taken.append(write(descriptor, data[:40]))
        return taken[0]

    with monkeypatch.context() as broken:
        broken.setattr(os, failing, full)
        assert not side.keep(second)
    assert side.keep(third)
    assert side.read(CASE) == (*first, *third)


def test_a_press_whose_line_was_cut_anywhere_is_not_brought_in_by_half(side: SideFile, maker: Maker) -> None:
    first, second = maker.note("one"), maker.press(MarkSet(), NoteWritten(text="two"), NoteWritten(text="three"))
    third = maker.note("four")
    side.keep(first)
    whole = len(side.path(CASE).read_bytes())
    side.keep(second)
    written = side.path(CASE).read_bytes()
    for cut in range(whole, len(written) - 1):
        side.path(CASE).write_bytes(written[:cut])
        assert side.read(CASE) == first
        assert side.keep(third)
        assert side.read(CASE) == (*first, *third)


def ids(*presses: Sequence[Event]) -> set[str]:
    return {event.id for press in presses for event in press}


def test_a_case_without_a_side_file_has_nothing_unsaved_and_settling_it_does_no_harm(
    side: SideFile, maker: Maker
) -> None:
    assert side.read(CASE) == ()
    side.settle(CASE, ())
    assert list(side.folder.iterdir()) == []
    press = maker.mark()
    side.keep(press)
    side.settle(CASE, ids(press))
    assert not side.path(CASE).exists()


def test_settling_takes_out_only_what_the_ledger_has_whole(side: SideFile, maker: Maker) -> None:
    stored, half, left = maker.note("one"), maker.press(MarkSet(), NoteWritten(text="two")), maker.note("three")
    for press in (stored, half, left):
        side.keep(press)
    side.path(CASE).write_bytes(side.path(CASE).read_bytes() + b'[{"torn\n')
    side.keep_words(CASE, "Enter", stamp(7).moment())
    before = side.path(CASE).read_bytes().splitlines()
    side.settle(CASE, ids(stored) | {half[0].id})
    assert side.path(CASE).read_bytes().splitlines() == before[1:]
    assert stat.S_IMODE(side.path(CASE).stat().st_mode) == 0o600
    side.settle(CASE, ids(stored, half, left))
    assert side.path(CASE).read_bytes().splitlines() == before[3:]
    assert not list(side.folder.glob("*.new"))


def test_a_file_that_stayed_empty_because_the_disk_took_nothing_goes_too(
    side: SideFile, maker: Maker, monkeypatch: pytest.MonkeyPatch
) -> None:
    def failing(_: int) -> None:
        raise OSError(5, "Input/output error")

    press = maker.note("one")
    with monkeypatch.context() as broken:
        broken.setattr(os, "fsync", failing)
        assert not side.keep(press)
    assert side.path(CASE).read_bytes() == b""
    side.settle(CASE, ids(press))
    assert not side.path(CASE).exists()


def test_a_press_is_named_until_it_was_seen_and_stays_in_the_file_after_that(side: SideFile, maker: Maker) -> None:
    first, second = maker.note("one"), maker.note("two")
    side.keep(first)
    side.keep_words(CASE, "Enter", stamp(7).moment())
    side.path(CASE).write_bytes(side.path(CASE).read_bytes() + b'[{"torn\n')
    side.keep(second)
    kept = side.presses(CASE)
    assert [(press.events, press.words, press.at) for press in kept] == [
        (first, "", first[0].happened),
        ((), "Enter", stamp(7).moment()),
        ((), "a line that cannot be read", None),
        (second, "", second[0].happened),
    ]
    assert side.see(CASE, [press.key for press in kept[:3]])
    assert side.presses(CASE) == kept[3:]
    assert side.read(CASE) == (*first, *second)
    side.settle(CASE, ids(second))
    assert side.presses(CASE) == ()
    assert side.read(CASE) == first


def test_a_press_that_somebody_was_told_to_enter_anew_says_so(side: SideFile, maker: Maker) -> None:
    first, second = maker.press(MarkSet(), NoteWritten(text="one")), maker.note("two")
    side.keep(first)
    side.keep(second)
    side.keep(first, again=False)
    side.keep(first)
    assert [(kept.events, kept.again) for kept in side.presses(CASE)] == [(first, False), (second, True)]
    side.settle(CASE, ids(first))
    assert side.read(CASE) == second


def test_a_press_that_is_kept_twice_stands_there_once(side: SideFile, maker: Maker) -> None:
    press = maker.note("one")
    assert side.keep(press)
    assert side.keep(press)
    assert side.path(CASE).read_bytes().count(b"\n") == 1
    assert [kept.events for kept in side.presses(CASE)] == [press]


def test_a_press_that_has_no_canonical_form_is_kept_all_the_same(side: SideFile, maker: Maker) -> None:
    (event,) = maker.note("one")
    odd = event.model_copy(update={"what": NoteWritten.model_construct(text="e\u0301")})
    assert side.keep((odd,))
    assert side.read(CASE)[0].what == odd.what


def test_a_file_that_is_being_replaced_by_another_console_is_not_replaced_here(side: SideFile, maker: Maker) -> None:
    press = maker.note("one")
    side.keep(press)
    other = FileLock(side.folder / "unsaved.lock")
    assert other.take()
    side.settle(CASE, ids(press))
    assert side.read(CASE) == press
    other.close()
    side.settle(CASE, ids(press))
    assert not side.path(CASE).exists()


def test_a_side_file_that_cannot_be_removed_stays(side: SideFile, maker: Maker) -> None:
    side.path(CASE).mkdir()
    side.settle(CASE, ())
    assert side.path(CASE).exists()
    assert side.read(CASE) == ()
    assert side.presses(CASE) == ()
    assert not side.keep(maker.mark())
