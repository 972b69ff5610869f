"""The panels, key by key, on a real session in memory."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labcheck.caselog.events import Event
from labcheck.console.panels.late import wall_time
from tests.console.desk import TestDesk


def last(desk: TestDesk) -> Event:
    return desk.case.log[-1]


def crossing(*targets: str) -> TestDesk:
    desk = TestDesk(*targets)
    desk.press("enter")
    desk.do("stage.open", stage="cross", cusp=(targets or ("left",))[0], reason="test")
    return desk


# --- bailout ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "before", [(), ("r",), ("r", "1"), ("n",), ("l",), ("l", "3"), ("s",), ("e",), ("o",), ("f1",)]
)
def test_a_bailout_list_is_two_keys_away_from_everywhere(before: tuple[str, ...]) -> None:
    desk = crossing()
    desk.press(*before)
    desk.press("f4")
    assert desk.panel is not None
    assert desk.panel.id == "bailout"


def test_two_keys_start_a_bailout_and_the_stage_goes_on() -> None:
    desk = crossing()
    visit = desk.case.open_visit
    pressed = desk.now().wall_us + 1_000_000
    desk.press("b", "2")
    assert desk.kinds() == ["bailout.opened"]
    assert last(desk).happened.wall_us == pressed
    assert desk.case.open_visit == visit


def test_a_bailout_that_asks_for_a_place_began_at_the_press_that_chose_it() -> None:
    desk = crossing()
    desk.press("b")
    chosen = desk.now().wall_us
    desk.press("1")
    desk.wait(20)
    desk.press("2")
    assert desk.kinds() == ["bailout.opened"]
    assert last(desk).what.ostium == "right"
    assert last(desk).happened.wall_us == chosen


def test_nine_ends_the_running_bailout_with_an_outcome_and_where_it_leads() -> None:
    desk = crossing()
    desk.press("b", "2", "b", "9", "1", "2")
    assert "bailout.closed" in desk.kinds(3)
    assert "cusp.abandoned" in desk.kinds(3) or desk.panel is not None


def test_the_steps_of_a_running_bailout_stand_where_the_stage_steps_stood() -> None:
    desk = crossing()
    desk.press("b", "1", "1")
    title, lines = desk.viewing.steps(desk.case)
    assert "Coronary obstruction" in title
    desk.press("right")
    assert last(desk).what.stage == "bailout:coronary"
    assert lines[0].step.id == last(desk).what.step


# --- readings, drugs, results ---------------------------------------------------------------------------------


def test_a_reading_takes_its_letter_its_digit_and_its_number() -> None:
    desk = TestDesk()
    desk.press("r", "1", "2", "7", "4", "enter")
    assert last(desk).kind == "reading.taken"
    assert last(desk).what.value == Decimal(274)
    assert desk.panel is None


def test_a_sample_is_sent_with_two_keys_and_its_result_closes_it() -> None:
    desk = TestDesk()
    desk.press("r", "2")
    assert desk.kinds() == ["sample.sent"]
    desk.wait(180)
    desk.press("r")
    assert "sent 3:0" in desk.text()
    desk.press("1", "2", "5", "1", "enter")
    assert desk.case.samples[-1].answered == last(desk).seq


def test_a_value_outside_the_range_is_asked_for_once_and_flagged() -> None:
    desk = TestDesk()
    desk.press("r", "1", "2", "1", "enter")
    assert desk.kinds() != ["reading.taken"]
    assert desk.panel is not None
    assert desk.panel.id == "accept"
    desk.panel.opened_at = -10.0  # type: ignore[attr-defined]
    desk.press("enter")
    assert last(desk).what.value == Decimal(21)
    assert last(desk).what.outside


def test_the_second_enter_of_a_bouncing_key_does_not_accept_an_odd_value() -> None:
    desk = TestDesk()
    desk.press("r", "1", "2", "1", "enter")
    panel = desk.panel
    assert panel is not None
    panel.opened_at = desk.now_us / 1e6 - 0.1  # type: ignore[attr-defined]
    desk.press("enter")
    assert desk.kinds() != ["reading.taken"]


def test_a_coded_reading_asks_for_its_ostium_and_who_judged_it() -> None:
    desk = TestDesk()
    desk.press("r", "4")
    assert "coronary" in desk.text()
    desk.press("2", "1", "1")
    taken = last(desk).what
    assert (taken.reading, taken.ostium, taken.choice, taken.judged_by) == ("flow", "right", "normal", "angio")


def test_a_usual_amount_is_one_digit_and_an_unknown_amount_stays_unknown() -> None:
    desk = TestDesk()
    desk.press("d", "1", "2")
    assert last(desk).what.amount == Decimal(5000)
    desk.press("d", "1", "9")
    assert last(desk).what.amount is None


def test_what_is_no_number_is_said_and_not_recorded() -> None:
    desk = TestDesk()
    desk.press("d", "1", "0", "-", ".", "enter")
    assert "not a number" in desk.text()
    assert desk.kinds() != ["dose.given"]


def test_the_result_of_an_attempt_is_one_letter_and_one_digit() -> None:
    desk = crossing()
    desk.press("space", "space", "a", "1")
    assert last(desk).what.outcome == "crossed"


def test_asking_for_a_result_where_no_attempts_are_opens_nothing() -> None:
    desk = TestDesk()
    desk.press("enter", "a")
    assert desk.panel is None
    assert "no attempts" in desk.answer


# --- holds and reasons ------------------------------------------------------------------------------------------


def test_a_hold_opens_the_reason_panel_and_one_digit_goes_on_at_the_time_of_the_call() -> None:
    desk = TestDesk()
    desk.do("stage.open", stage="position", cusp="left", reason="test")
    called = desk.now().wall_us
    desk.press("enter")
    assert desk.panel is not None
    assert "not yet true" in desk.text()
    assert "ACT at least 250" in desk.text()
    desk.wait(5)
    desk.press("1")
    opened = last(desk)
    assert (opened.kind, opened.what.stage) == ("stage.opened", "cross")
    assert opened.happened.wall_us == called
    assert {"hold.passed"} <= set(desk.kinds(4))


def test_a_reason_that_took_more_than_a_minute_does_not_move_the_call_back() -> None:
    desk = TestDesk()
    desk.do("stage.open", stage="position", cusp="left", reason="test")
    desk.press("enter")
    desk.wait(90)
    given = desk.now().wall_us
    desk.press("1")
    assert last(desk).happened.wall_us == given


def test_a_typed_reason_is_kept_word_for_word() -> None:
    desk = TestDesk()
    desk.do("stage.open", stage="position", cusp="left", reason="test")
    desk.press("enter", "0", *"[b] x", "enter")
    passed = next(e for e in reversed(desk.case.log) if e.kind == "hold.passed")
    assert passed.what.reason == "[b] x"


def test_leaving_the_reason_panel_records_nothing() -> None:
    desk = TestDesk()
    desk.do("stage.open", stage="position", cusp="left", reason="test")
    before = desk.case.head_seq
    desk.press("enter", "escape")
    assert desk.case.head_seq == before
    assert desk.panel is None


def test_enter_alone_picks_nothing_from_a_list_that_just_opened() -> None:
    desk = TestDesk()
    before = desk.case.head_seq
    desk.press("b", "enter", "enter")
    assert desk.case.head_seq == before


# --- late entries -----------------------------------------------------------------------------------------------


def test_a_forgotten_call_is_three_keys_and_carries_both_times() -> None:
    desk = TestDesk()
    desk.press("enter")
    desk.wait(600)
    desk.press("l", "3", "enter")
    event = last(desk)
    assert event.kind == "stage.opened"
    assert event.mode == "late"
    assert 180_000_000 <= event.lag_us <= 182_000_000


def test_minutes_count_back_from_the_press_that_chose_them() -> None:
    desk = TestDesk()
    desk.press("enter")
    desk.wait(600)
    desk.press("l")
    chosen = desk.now().wall_us
    desk.press("5")
    desk.wait(40)
    desk.press("r", "1", "2", "7", "4", "enter")
    assert last(desk).happened.wall_us == chosen - 300_000_000


def test_now_is_never_offered_as_the_time_of_a_late_entry() -> None:
    desk = TestDesk()
    desk.press("l", "enter", "4", "7")
    assert desk.panel is not None
    assert desk.kinds() == ["case.opened"]


def test_a_late_attempt_result_is_three_keys() -> None:
    desk = crossing()
    desk.wait(400)
    desk.press("l", "3")
    place = next(n for n, item in enumerate(desk.panel.items) if item.text == "attempt: crossed")  # type: ignore[union-attr]
    desk.press(desk.panel.digit_of(place))  # type: ignore[union-attr]
    closed = last(desk)
    assert closed.what.outcome == "crossed"
    assert closed.mode == "late"


def test_a_mark_can_be_described_later_and_gives_its_time() -> None:
    desk = TestDesk()
    desk.press("enter", "f2")
    marked = last(desk).happened.wall_us
    desk.wait(300)
    desk.press("l", "6", "n", *"shivering", "enter")
    assert last(desk).what.text == "shivering"
    assert last(desk).happened.wall_us == marked


def test_why_it_is_late_is_one_more_key_and_otherwise_stays_unsaid() -> None:
    desk = TestDesk()
    desk.press("enter")
    desk.wait(600)
    desk.press("l", "3", "d", "1", "1")
    assert last(desk).late_reason is None
    desk.press("l", "3", "tab", "d", "1", "1")
    assert last(desk).late_reason == "haemodynamics"


def test_an_answered_step_is_not_answered_again_by_the_same_key() -> None:
    desk = TestDesk()
    desk.press("enter")
    desk.step_at = 1
    desk.press("right")
    assert desk.kinds() == ["step.answered"]
    before = desk.case.head_seq
    desk.step_at = 1
    desk.press("right")
    assert desk.case.head_seq == before
    desk.press("left", "2", "1")
    assert last(desk).what.answer == "not_done"


def test_a_time_that_is_not_over_today_was_yesterday() -> None:
    now = TestDesk().now()
    later = wall_time("23:59:59", now)
    assert later is not None
    assert later <= now.wall_us
    assert wall_time("25:00", now) is None


# --- cusps, stages, corrections -----------------------------------------------------------------------------------


def test_a_burst_on_the_wrong_cusp_is_moved_with_two_keys() -> None:
    desk = crossing("left", "right")
    desk.press("space", "c", "1")
    started = [e for e in desk.case.log if e.kind == "energy.started" and desk.case.counts(e.seq)]
    assert [e.what.cusp for e in started] == ["right"]
    assert "event.voided" in {e.kind for e in desk.case.log}


def test_a_cusp_is_abandoned_with_a_reason_and_the_other_goes_on() -> None:
    desk = crossing("left", "right")
    desk.press("c")
    place = next(n for n, item in enumerate(desk.panel.items) if item.text == "abandon left")  # type: ignore[union-attr]
    desk.press(desk.panel.digit_of(place), "1")  # type: ignore[union-attr]
    assert set(desk.case.abandoned) == {"left"}


def test_going_back_is_two_keys_and_keeps_the_earlier_visit() -> None:
    desk = TestDesk()
    desk.press("enter")
    desk.do("stage.open", stage="position", cusp="left", reason="test")
    desk.press("s", "0")
    assert desk.case.visit is not None
    assert (desk.case.visit.stage, desk.case.visit.number) == ("access", 2)


def test_an_entry_is_voided_with_a_reason_and_stays_in_the_list() -> None:
    desk = TestDesk()
    desk.press("f2")
    seq = last(desk).seq
    desk.press("e", "enter", "1", "1")
    assert seq in desk.case.voided
    desk.press("e")
    assert "VOID" in desk.text()


def test_an_amended_value_needs_the_value_and_a_reason() -> None:
    desk = TestDesk()
    desk.press("r", "1", "2", "7", "4", "enter", "e", "enter")
    place = next(n for n, item in enumerate(desk.panel.items) if item.text == "amend value")  # type: ignore[union-attr]
    desk.press(desk.panel.digit_of(place), "backspace", "5", "enter", "1")  # type: ignore[union-attr]
    assert last(desk).kind == "event.amended"
    assert (last(desk).what.before, last(desk).what.value) == ("274", "275")


def test_a_coded_field_is_amended_from_a_list_of_words() -> None:
    desk = crossing()
    desk.press("space", "space", "a", "2", "e", "enter")
    place = next(n for n, item in enumerate(desk.panel.items) if item.text == "amend outcome")  # type: ignore[union-attr]
    desk.press(desk.panel.digit_of(place))  # type: ignore[union-attr]
    assert "crossed" in desk.text()
    desk.press("1", "1")
    assert (last(desk).what.before, last(desk).what.value) == ("failed", "crossed")
    assert desk.case.attempts[-1].outcome == "crossed"


# --- sign-out -----------------------------------------------------------------------------------------------------


def test_the_case_is_sealed_only_when_nothing_is_open_and_the_head_is_shown_for_paper() -> None:
    desk = TestDesk()
    desk.press("enter", "o")
    for _ in range(20):
        if "close the case" in desk.text():
            break
        desk.press("1", "1")
    assert desk.case.seal is None
    desk.press("1")
    assert desk.case.seal is not None
    assert desk.ledger.head(desk.case.key).short in desk.text()
    assert f"{desk.case.seal.seq} entries" in desk.text()


def test_after_the_seal_a_late_fact_is_an_addendum_and_a_live_key_does_nothing() -> None:
    desk = TestDesk()
    desk.press("enter", "o")
    while desk.case.seal is None:
        desk.press(*(("1",) if "close the case" in desk.text() else ("1", "1")))
    desk.press("escape")
    before = desk.case.head_seq
    desk.press("f2", "r")
    assert desk.case.head_seq == before
    desk.wait(900)
    desk.press("l", "5", "r", "1", "3", "0", "2", "enter")
    assert last(desk).kind == "addendum.added"
    assert last(desk).what.fact.value == Decimal(302)


# --- hostile text -------------------------------------------------------------------------------------------------


@settings(max_examples=60, deadline=None)
@given(st.text(min_size=1, max_size=60))
def test_any_text_may_be_typed_pasted_and_shown(text: str) -> None:
    desk = TestDesk()
    desk.press("n")
    assert desk.panel is not None
    desk.panel.paste(text)
    desk.text()
    desk.press("enter")
    if last(desk).kind == "note.written":
        desk.press("e")
        shown = desk.text()
        assert "\x1b" not in shown
        assert len(shown.splitlines()) <= 14


@pytest.mark.parametrize("text", ["[/]", "[B2", "[=5 mm]", '{"a": [1]}', "\u202egnirts", "字字字"])
def test_brackets_stay_brackets(text: str) -> None:
    desk = TestDesk()
    desk.press("n")
    assert desk.panel is not None
    desk.panel.paste(text)
    desk.press("enter")
    assert last(desk).what.text.replace("\u202e", "") == text.replace("\u202e", "")
    desk.press("e")
    assert text.replace("\u202e", "") in desk.text()
