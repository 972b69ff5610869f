"""The debrief in a terminal's window."""

from __future__ import annotations

import pytest

from labcheck.debrief.history import own_history
from labcheck.debrief.screen import screen_lines, screen_pages
from tests.caselog.driving import Driver
from tests.debrief.cases import ONE, TWO, dense, history_like, played, summary

SIZES = ((80, 24), (120, 40), (200, 60), (40, 8))


@pytest.mark.parametrize(("width", "height"), SIZES)
@pytest.mark.parametrize("name", [ONE, TWO])
def test_every_page_fits_its_window_exactly(name: str, width: int, height: int) -> None:
    case = played(name)
    own = summary(case)
    beside = own_history(own, history_like(own, 14), rehearsals=True)
    for page in range(1, len(screen_pages(case, width, height, beside)) + 1):
        lines = screen_lines(case, width, height, beside, page)
        assert len(lines) == height
        assert all(len(line) <= width and (line == "" or line.isprintable()) for line in lines)


def test_the_pages_together_leave_no_entry_out() -> None:
    case = played(TWO)
    said = " ".join(
        line for page in screen_pages(case, 80, 24) if page.title == "timeline" for line in page.lines
    )
    for event in case.log:
        if event.kind == "stage.opened":
            assert f" {event.seq} " in f" {said} "


def test_a_page_beyond_the_last_is_the_last_and_one_before_the_first_is_the_first() -> None:
    case = played(ONE)
    last = len(screen_pages(case, 80, 24))
    assert screen_lines(case, 80, 24, None, 999) == screen_lines(case, 80, 24, None, last)
    assert screen_lines(case, 80, 24, None, 0) == screen_lines(case, 80, 24, None, 1)


def test_a_rehearsal_says_so_on_every_page() -> None:
    case = played(ONE)
    assert all("REHEARSAL" in screen_lines(case, 80, 24, None, page)[0] for page in range(1, 8))
    assert "REHEARSAL" not in screen_lines(dense(), 80, 24)[0]


def test_several_marks_on_one_place_are_shown_as_several() -> None:
    course = "\n".join(screen_lines(dense(), 80, 24))
    assert "+" in course


def test_a_case_that_has_only_been_opened_has_pages() -> None:
    assert "NOT SEALED" in "\n".join(screen_lines(Driver("left").case, 80, 24))


def test_a_history_that_was_not_read_does_not_pass_for_an_empty_one() -> None:
    case = played(ONE)
    own = summary(case)
    unread = "\n".join(line for page in screen_pages(case, 80, 24) for line in page.lines)
    assert "comparable earlier cases" not in unread
    assert "before today" not in unread
    assert unread.count("own earlier cases are not read here") == 2
    empty = "\n".join(
        line for page in screen_pages(case, 80, 24, own_history(own, []), "") for line in page.lines
    )
    assert "0 comparable earlier cases" in empty
    assert "not read here" not in empty
