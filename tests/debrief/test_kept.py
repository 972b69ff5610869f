"""The kept summaries: used where they fit the log's head, made anew in every other case."""

from __future__ import annotations

import json
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
