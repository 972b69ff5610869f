"""The panels, key by key, on a real session in memory."""

from __future__ import annotations

from decimal import Decimal
from types import SimpleNamespace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labcheck.caselog.events import Event
from labcheck.console.panels import looking_back
from labcheck.console.panels.help import sources_panel
from tests.console.desk import TestDesk
from tests.console.zones.scenes import CHECKLIST as ELECTROSURGICAL
from tests.console.zones.scenes import driver, to_ready


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


def test_an_amount_is_what_was_typed_and_no_digit_picks_another() -> None:
    desk = TestDesk()
    desk.press("d", "1", "5", "0", "0", "0", "enter")
    assert last(desk).what.amount == Decimal(5000)
    desk.press("d", "1", "2", "0", "0", "0", "enter")
    assert last(desk).what.amount == Decimal(2000)


def test_a_usual_amount_is_reached_with_down_and_an_unknown_amount_stays_unknown() -> None:
    desk = TestDesk()
    desk.press("d", "1", "down", "down", "enter")
    assert last(desk).what.amount == Decimal(5000)
    desk.press("d", "1", "up", "enter")
    assert last(desk).what.amount is None
    desk.press("d", "1", "down", "7", "0", "0", "enter")
    assert last(desk).what.amount == Decimal(700)


def test_what_is_no_number_is_said_and_not_recorded() -> None:
    desk = TestDesk()
    desk.press("d", "1", "-", ".", "enter")
    assert "not a number" in desk.text()
    desk.press("escape")
    desk.press("d", "1", "enter")
    assert "type the amount" in desk.text()
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


def test_looking_back_turns_the_debriefs_pages_and_records_nothing() -> None:
    desk = TestDesk("left")
    before = desk.case
    desk.turn(looking_back.open_panel(desk))
    assert desk.panel is not None
    first = desk.panel.draw(80, 14).plain
    assert f"DEBRIEF {before.key}" in first
    assert all(len(line) <= 80 for line in first.splitlines())
    desk.press("down")
    second = desk.panel.draw(80, 14).plain
    assert "page 2 of" in second
    desk.press("up")
    assert desk.panel.draw(80, 14).plain == first
    assert desk.case is before


# --- answering anew ---------------------------------------------------------------------------------------------


def test_an_answered_reading_step_is_measured_again_or_its_entry_corrected() -> None:
    desk = TestDesk()
    desk.press("enter")
    desk.press("right", *"148", "enter")
    taken = next(e for e in reversed(desk.case.log) if e.kind == "reading.taken")
    desk.step_at = 0
    desk.press("left")
    assert [item.text for item in desk.panel.items][:2] == ["measured again", "correct what was recorded"]  # type: ignore[union-attr]
    desk.press("1", *"184", "enter")
    assert desk.kinds(2) == ["reading.taken", "step.answered"]
    assert desk.viewing.steps(desk.case)[1][0].words == "184 s"
    desk.press("e", *["up"] * (desk.case.head_seq - taken.seq), "enter")
    listed = desk.text()
    desk.press("escape", "escape")
    desk.do("undo")
    desk.step_at = 0
    desk.press("left", "2")
    assert desk.text() == listed


def test_an_answered_dose_step_is_given_once_more_or_its_entry_corrected() -> None:
    desk = TestDesk()
    desk.press("enter")
    desk.do("dose.give", drug="heparin", amount=Decimal(5000))
    desk.step_at = 2
    desk.press("left")
    assert [item.text for item in desk.panel.items][:2] == ["given once more", "correct what was recorded"]  # type: ignore[union-attr]
    desk.press("1", *"3000", "enter")
    assert [dose.what.amount for dose in desk.case.doses] == [5000, 3000]
    assert desk.viewing.steps(desk.case)[1][2].words.startswith("5000")


# --- devices and sources --------------------------------------------------------------------------------------


def at_the_guide(checklist: bytes) -> TestDesk:
    """The panel of the step that asks which guide."""
    desk = TestDesk("left", checklist=checklist)
    desk.press("enter")
    desk.do("stage.open", stage="position", cusp="left", reason="test")
    _, lines = desk.viewing.steps(desk.case)
    desk.step_at = next(n for n, line in enumerate(lines) if line.step.id == "guide_shape")
    desk.press("right")
    return desk


def test_a_device_step_offers_the_devices_that_belong_to_it_and_the_others_one_key_further() -> None:
    desk = at_the_guide(ELECTROSURGICAL.read_bytes())
    offered = [item.text for item in desk.panel.items]  # type: ignore[union-attr]
    assert offered[-1] == "another device"
    assert all(text.startswith("guide, ") for text in offered[:-1])
    desk.press(desk.panel.digit_of(len(offered) - 1))  # type: ignore[union-attr]
    others = [item.text for item in desk.panel.items]  # type: ignore[union-attr]
    assert len(others) + len(offered) - 1 == len(desk.checklist.device)
    assert not set(others) & set(offered)
    desk.press("1")
    assert last(desk).what.value == next(d.id for d in desk.checklist.device if d.text == others[0])


def test_a_device_step_that_names_no_devices_offers_all() -> None:
    text = ELECTROSURGICAL.read_text().replace(
        ', devices = ["guide_left", "guide_deep_left", "guide_right", "guide_straight"]', ""
    )
    desk = at_the_guide(text.encode())
    assert len(desk.panel.items) == len(desk.checklist.device)  # type: ignore[union-attr]


def test_the_sources_panel_says_every_limit_once_with_its_whole_source() -> None:
    case = driver("left", "right")
    to_ready(case)
    desk = SimpleNamespace(case=case.case, now=case.stamp)
    said = [text for _, text in sources_panel(desk).paragraphs]  # type: ignore[arg-type, attr-defined]
    assert len(said) == len(set(said))
    assert sum("2.0 x clearance" in text for text in said) == 1
    assert sum(text.startswith("Contrast 88 mL") for text in said) == 0
    for text in said:
        assert text.count("verify locally") <= 1, text
