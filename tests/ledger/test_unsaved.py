"""The side file of presses the ledger did not take: whole presses only, whatever the disk does."""

from __future__ import annotations

import os
import stat
from pathlib import Path

import pytest

from labcheck.caselog.events import MarkSet, NoteWritten
from labcheck.ledger.unsaved import SideFile
from tests.ledger.making import CASE, OTHER, Maker


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


def test_a_case_without_a_side_file_has_nothing_unsaved_and_settling_it_does_no_harm(
    side: SideFile, maker: Maker
) -> None:
    assert side.read(CASE) == ()
    side.settle(CASE)
    side.keep(maker.mark())
    side.settle(CASE)
    assert not side.path(CASE).exists()


def test_a_side_file_that_cannot_be_removed_stays(side: SideFile, maker: Maker) -> None:
    side.path(CASE).mkdir()
    side.settle(CASE)
    assert side.path(CASE).exists()
    assert side.read(CASE) == ()
    assert not side.keep(maker.mark())
