"""The kept summaries: used where they fit the log's head, made anew in every other case."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from labcheck.debrief import kept
from labcheck.debrief.summary import Summary, from_plain, to_plain
from tests.debrief.cases import ONE, TWO, history_like, played, summary

CASES = history_like(summary(played(ONE)), 4)
HEADS = {one.case: one.head for one in CASES}


class Maker:
    """Makes summaries and counts how often it had to."""

    def __init__(self) -> None:
        self.asked: list[str] = []

    def __call__(self, case: str) -> Summary | None:
        self.asked.append(case)
        return next((one for one in CASES if one.case == case), None)


def gathered(folder: Path) -> list[str]:
    """Which cases had to be made anew."""
    maker = Maker()
    found = kept.gathered(folder, HEADS, maker)
    assert found == {one.case: one for one in CASES}
    return maker.asked


@pytest.mark.parametrize("name", [ONE, TWO, "splitter-two-cusps", "anterior-mitral"])
def test_a_summary_survives_being_written_and_read(name: str) -> None:
    found = summary(played(name))
    assert from_plain(json.loads(json.dumps(to_plain(found)))) == found


def test_the_second_time_nothing_is_made_anew(tmp_path: Path) -> None:
    assert gathered(tmp_path) == list(HEADS)
    assert gathered(tmp_path) == []


def test_a_summary_of_another_head_is_made_anew(tmp_path: Path) -> None:
    gathered(tmp_path)
    maker = Maker()
    case = CASES[1].case
    kept.gathered(tmp_path, {**HEADS, case: "e" * 64}, maker)
    assert maker.asked == [case]


@pytest.mark.parametrize("at", [0, 5, 60, 300, -40])
def test_a_damaged_file_costs_time_and_nothing_else(tmp_path: Path, at: int) -> None:
    gathered(tmp_path)
    path = tmp_path / kept.NAME
    text = bytearray(path.read_bytes())
    text[at] ^= 1
    path.write_bytes(text)
    assert gathered(tmp_path) != []
    assert gathered(tmp_path) == []


def test_a_changed_figure_is_not_believed(tmp_path: Path) -> None:
    gathered(tmp_path)
    path = tmp_path / kept.NAME
    path.write_text(path.read_text().replace('"technical":"yes"', '"technical":"no"'))
    assert gathered(tmp_path) == list(HEADS)


def test_a_line_moved_to_another_case_is_not_believed(tmp_path: Path) -> None:
    first, second = CASES[0], CASES[1]
    line = kept.written(first)
    assert kept.read_line(line, first.case, first.head) == first
    assert (
        kept.read_line(line.replace(first.case.encode(), second.case.encode(), 1), second.case, first.head)
        is None
    )
    assert kept.read_line(line, first.case, second.head) is None


def test_another_version_s_file_is_not_read(tmp_path: Path) -> None:
    gathered(tmp_path)
    path = tmp_path / kept.NAME
    path.write_text(path.read_text().replace(kept.FORMAT, "labcheck summaries 0, 0.0.0"))
    assert kept.read_lines(tmp_path) == {}


def test_a_case_that_cannot_be_read_is_left_out(tmp_path: Path) -> None:
    assert kept.gathered(tmp_path, {"ZZZZ-ZZ": "0" * 64}, Maker()) == {}


def test_a_folder_that_cannot_be_written_is_no_fault(tmp_path: Path) -> None:
    kept.keep(tmp_path / "nowhere", [kept.written(CASES[0])])
    assert not (tmp_path / "nowhere").exists()


def test_nothing_half_written_stays(tmp_path: Path) -> None:
    gathered(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == [kept.NAME]


def added(folder: Path) -> None:
    for one in CASES:
        kept.add(folder, one)


def test_summaries_added_one_by_one_are_all_there_and_private(tmp_path: Path) -> None:
    added(tmp_path)
    assert gathered(tmp_path) == []
    assert (tmp_path / kept.NAME).stat().st_mode & 0o777 == 0o600


def test_of_two_lines_about_a_case_the_later_counts(tmp_path: Path) -> None:
    kept.add(tmp_path, replace(CASES[0], head="e" * 64))
    added(tmp_path)
    assert gathered(tmp_path) == []


def test_a_line_that_was_cut_short_takes_no_other_with_it(tmp_path: Path) -> None:
    added(tmp_path)
    path = tmp_path / kept.NAME
    path.write_bytes(path.read_bytes()[:-9])
    kept.add(tmp_path, CASES[0])
    assert gathered(tmp_path) == [CASES[-1].case]


@pytest.mark.parametrize("before", [b"", b"labcheck summaries 1, 0\nold\n", b"labcheck", b"\x00" * 40])
def test_a_file_of_another_version_is_begun_anew(tmp_path: Path, before: bytes) -> None:
    (tmp_path / kept.NAME).write_bytes(before)
    added(tmp_path)
    assert gathered(tmp_path) == []
    lines = (tmp_path / kept.NAME).read_bytes().splitlines()
    assert (lines[0], len(lines)) == (kept.FORMAT.encode(), 1 + len(CASES))


def test_adding_where_nothing_can_be_written_does_nothing(tmp_path: Path) -> None:
    kept.add(tmp_path / "nowhere", CASES[0])
    (tmp_path / kept.NAME).symlink_to(tmp_path / "elsewhere")
    kept.add(tmp_path, CASES[0])
    assert not (tmp_path / "elsewhere").exists()
