"""Rescues at the keys: two of a kind at once or after each other, their ends, and presses that waited for a word."""

from __future__ import annotations

import pytest

from tests.caselog.driving import SMALL
from tests.console.desk import TestDesk
from tests.console.zones.scenes import CHECKLIST as ELECTROSURGICAL


def both_ostia() -> TestDesk:
    """The rescue of the left coronary, and a minute later that of the right: entries 3 and 4."""
    desk = TestDesk("left", "right")
    desk.press("enter", "b", "1", "1")
    desk.wait(60)
    desk.press("b", "1", "2")
    return desk


def states(desk: TestDesk) -> dict[str, str]:
    return {line.step.id: line.state for line in desk.viewing.steps(desk.case)[1]}


def outcomes(desk: TestDesk) -> dict[str, str | None]:
    return {b.what.ostium or "": b.outcome for b in desk.case.bailouts}


# --- whose card it is ---------------------------------------------------------------------------------------


def test_the_card_of_a_second_rescue_is_all_open_and_its_right_key_records() -> None:
    desk = TestDesk()
    desk.press("enter", "b", "1", "1", "right", "b", "9", "1", "1")
    desk.wait(900)
    desk.press("b", "1", "1")
    title, _ = desk.viewing.steps(desk.case)
    assert title == "bailout left coronary, number 2: Coronary obstruction"
    assert set(states(desk).values()) == {"open"}
    desk.step_at = 0
    desk.press("right")
    assert desk.case.log[-1].what.opened == desk.case.bailouts[-1].seq


def test_a_second_arrest_asks_for_the_time_of_its_own_shock() -> None:
    desk = TestDesk("left", checklist=ELECTROSURGICAL.read_bytes())

    def shock() -> None:
        desk.press("b", "3")
        desk.step_at = next(n for n, line in enumerate(desk.viewing.steps(desk.case)[1]) if line.step.id == "shock")
        desk.press("right")

    shock()
    desk.press(*"14:05", "enter")
    desk.press("b", "9", "1", "1")
    desk.wait(1200)
    shock()
    assert desk.answer == ""
    desk.press(*"9:25", "enter")
    values = [e.what.value for e in desk.case.log if e.kind == "step.answered"]
    assert values == ["14:05", "09:25"]


def test_a_tick_goes_to_the_card_on_the_screen_though_a_later_rescue_has_ended() -> None:
    desk = both_ostia()
    left = desk.case.bailouts[0].seq
    desk.press("b", "9", "1", "1")
    assert outcomes(desk) == {"left": None, "right": "stented"}
    desk.step_at = 0
    desk.press("right")
    assert desk.case.log[-1].what.opened == left
    assert states(desk)["wire"] == "done"


def test_what_is_read_for_a_rescue_is_of_its_own_ostium_without_asking() -> None:
    desk = TestDesk("left", checklist=ELECTROSURGICAL.read_bytes())
    desk.press("enter", "b", "1", "2")
    desk.step_at = next(n for n, line in enumerate(desk.viewing.steps(desk.case)[1]) if line.step.id == "flow")
    desk.press("right", "1", "1")
    assert desk.case.readings[-1].what.ostium == "right"
    assert states(desk)["flow"] == "value"


def test_a_reading_of_an_ostium_on_a_cusp_without_one_asks_which() -> None:
    text = SMALL.read_text().replace(
        'id = "view"\nsay = "Front view"\nkind = "projection"',
        'id = "view"\nsay = "Flow here"\nkind = "reading"\nreading = "flow"',
    )
    desk = TestDesk("noncoronary", checklist=text.encode())
    desk.do("stage.open", stage="position", cusp="noncoronary", reason="test")
    desk.press("right")
    assert "which coronary" in desk.text()
    desk.press("2", "1", "1")
    assert desk.case.readings[-1].what.ostium == "right"
    assert states(desk)["view"] == "value"


# --- its end ------------------------------------------------------------------------------------------------


def test_the_end_of_the_older_rescue_ends_that_one_and_says_its_side() -> None:
    desk = both_ostia()
    desk.press("b")
    assert "END of Coronary obstruction, right coronary" in desk.text()
    desk.press("0")
    assert "END of Coronary obstruction, left coronary" in desk.text()
    desk.press("1")
    assert "END of Coronary obstruction, left coronary: how it ended" in desk.text()
    desk.press("1", "1")
    assert outcomes(desk) == {"left": "stented", "right": None}


def test_an_end_that_was_asked_about_while_another_began_is_still_the_end_of_the_first() -> None:
    desk = TestDesk("left", "right")
    desk.press("enter", "b", "1", "1", "b", "9", "1")
    desk.do("bailout.open", bailout="coronary", ostium="right")
    desk.press("1")
    assert outcomes(desk) == {"left": "stented", "right": None}


# --- presses that waited for a word --------------------------------------------------------------------------


@pytest.mark.parametrize(("waited", "mode"), [(20, "live"), (600, "late")])
def test_a_rescue_whose_place_came_later_began_at_the_first_key_and_is_entered_at_the_second(
    waited: int, mode: str
) -> None:
    desk = TestDesk("left", "right")
    desk.press("enter", "b")
    first = desk.now().wall_us
    desk.press("1")
    desk.wait(waited)
    desk.press("f2")
    second = desk.now().wall_us
    desk.press("1")
    event = desk.case.log[-1]
    assert (event.kind, event.mode) == ("bailout.opened", mode)
    assert (event.happened.wall_us, event.entered.wall_us) == (first, second)
    assert [e.entered.wall_us for e in desk.case.log] == sorted(e.entered.wall_us for e in desk.case.log)


@pytest.mark.parametrize("waited", [20, 600])
def test_a_stage_skipped_for_a_reason_is_entered_when_the_reason_is_given(waited: int) -> None:
    desk = TestDesk("left", "right")
    desk.press("enter", "s", "2")
    first = desk.now().wall_us
    desk.press("2")
    desk.wait(waited)
    second = desk.now().wall_us
    desk.press("1")
    event = desk.case.log[-1]
    assert (event.kind, event.mode, event.entered.wall_us) == ("stage.skipped", "live", second)
    assert event.happened.wall_us == (first if waited < 60 else second), "a first key counts for a minute"


# --- the result of an attempt ---------------------------------------------------------------------------------


def test_the_result_panel_names_the_attempt_that_it_closes() -> None:
    desk = TestDesk("left", "right")
    desk.press("enter")
    desk.do("stage.open", stage="cross", cusp="left", reason="test")
    desk.press("space", "space")
    left = desk.case.attempts[0]
    desk.do("stage.open", stage="cross", cusp="right", reason="test")
    desk.press("space", "space", "a", "2")
    desk.do("stage.open", stage="cross", cusp="left", reason="test")
    desk.press("a")
    assert "RESULT of attempt 1, left" in desk.text()
    assert "left without a result: it began at" in desk.text()
    desk.press("1")
    assert [(a.seq, a.outcome) for a in desk.case.attempts if a.cusp == "left"] == [(left.seq, "crossed")]
    desk.press("a")
    assert "RESULT of attempt 2, left" in desk.text()
    assert "no attempt waits" in desk.text()
    desk.press("1")
    assert [a.outcome for a in desk.case.attempts if a.cusp == "left"] == ["crossed", "crossed"]


def test_a_result_is_not_given_to_an_attempt_that_got_one_while_the_list_was_open() -> None:
    desk = TestDesk()
    desk.press("enter")
    desk.do("stage.open", stage="cross", cusp="left", reason="test")
    desk.press("space", "space", "a")
    desk.do("attempt.close", outcome="crossed")
    desk.press("2")
    assert [a.outcome for a in desk.case.attempts] == ["crossed"]
    assert "no attempt that waits for its result" in desk.refusals[-1].why.reason
