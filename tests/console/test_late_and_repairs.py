"""Late entries, repairs and sign-out, key by key, on a real session in memory."""

from __future__ import annotations

from decimal import Decimal

from labcheck.caselog.telling import clock_words
from labcheck.checklist import finding
from tests.console.desk import TestDesk
from tests.console.test_panels import crossing, last
from tests.console.zones.scenes import CHECKLIST as ELECTROSURGICAL

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


def test_no_time_before_the_opening_of_the_case_is_offered() -> None:
    desk = TestDesk()
    desk.press("l")
    assert [item.text for item in desk.panel.items] == ["an exact time, typed"]  # type: ignore[union-attr]
    assert "opened at" in desk.text()
    desk.press("escape")
    desk.wait(125)
    desk.press("l")
    assert [item.digit for item in desk.panel.items] == ["1", "2", "0"]  # type: ignore[union-attr]
    desk.press("5")
    assert desk.panel is not None
    assert "when did it happen" in desk.text()
    desk.press("escape")
    desk.wait(600)
    desk.press("l")
    assert [item.digit for item in desk.panel.items] == ["1", "2", "3", "5", "0"]  # type: ignore[union-attr]
    assert "opened at" not in desk.text()


def test_a_time_before_the_opening_asks_why_it_is_late_and_offers_no_reason_of_a_hold() -> None:
    desk = TestDesk()
    early = clock_words(desk.now().model_copy(update={"wall_us": desk.now().wall_us - 120_000_000}))
    desk.press("l", "0", *early, "enter", "enter")
    offered = [item.text for item in desk.panel.items]  # type: ignore[union-attr]
    late = [reason.text for reason in finding.reasons_for(desk.checklist, "late")]
    assert offered == [*late, "another reason, typed"]
    desk.press("1")
    assert last(desk).kind == "stage.opened"
    assert last(desk).late_reason == late[0]


def test_a_late_call_past_a_hold_asks_for_the_reason_of_the_hold_and_invents_none_for_being_late() -> None:
    desk = TestDesk()
    desk.press("enter")
    desk.wait(600)
    for _ in range(6):
        desk.press("l", "1", "enter")
        desk.wait(70)
        if desk.panel is not None:
            break
    held = desk.refusals[-1] if desk.refusals else None
    assert held is not None
    assert held.why.unmet
    desk.press("1")
    passed = next(e for e in reversed(desk.case.log) if e.kind == "hold.passed")
    assert passed.what.reason
    assert passed.late_reason is None


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
    desk.press("l", "3", "d", "1", "down", "enter")
    assert last(desk).late_reason is None
    desk.press("l", "3", "tab", "d", "1", "down", "enter")
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


# --- cusps, stages, corrections -----------------------------------------------------------------------------------


def test_a_burst_on_the_wrong_cusp_is_moved_with_two_keys() -> None:
    desk = crossing("left", "right")
    desk.press("space", "c", "1")
    started = [e for e in desk.case.log if e.kind == "energy.started" and desk.case.counts(e.seq)]
    assert [e.what.cusp for e in started] == ["right"]
    assert "event.voided" in {e.kind for e in desk.case.log}


def test_the_cusp_panel_names_the_entry_before_the_key_that_moves_it() -> None:
    desk = crossing("left", "right")
    desk.press("space", "f2", "c")
    moved = next(e for e in reversed(desk.case.log) if e.kind == "energy.started")
    drawn = desk.text().splitlines()
    said = f"{moved.seq}  {clock_words(moved.happened)}  energy on, left"
    named = next(n for n, line in enumerate(drawn) if said in line)
    key = next(n for n, line in enumerate(drawn) if "1  move it to right" in line)
    assert named < key
    assert "with 1 more that belong to it" in desk.text()
    desk.press("1")
    assert moved.seq in desk.case.voided


def test_the_entry_that_moves_is_the_one_that_was_named() -> None:
    desk = crossing("left", "right")
    desk.press("space", "space", "c")
    assert desk.panel is not None
    panel = desk.panel
    desk.panel = None
    desk.do("reading.take", reading="act", value=Decimal(250))
    desk.do("attempt.close", outcome="crossed")
    desk.panel = panel
    desk.press("1")
    assert [(a.cusp, a.outcome) for a in desk.case.attempts] == [("right", "crossed")]


def test_where_nothing_can_be_moved_the_panel_says_so() -> None:
    desk = TestDesk("left", "right")
    desk.press("c")
    assert "no entry can be moved" in desk.text()
    assert not any("move it" in item.text for item in desk.panel.items)  # type: ignore[union-attr]


def test_undo_says_in_words_what_it_took_back() -> None:
    desk = crossing()
    desk.press("space")
    started = last(desk)
    desk.press("f9")
    assert desk.answer.startswith("took back 2 entries: energy on, left, attempt 1; attempt 1 begins, left")
    desk.press("f2", "f9")
    mark = next(e for e in reversed(desk.case.log) if e.kind == "mark.set")
    assert desk.answer == f'took back {mark.seq} "mark"'
    assert started.seq in desk.case.voided


def test_undo_of_a_repair_says_what_the_repair_was_about() -> None:
    desk = crossing("left", "right")
    desk.press("space", "c", "1", "f9")
    assert desk.answer.startswith("took back 4 entries: ")
    assert "void of" in desk.answer
    assert "(energy on, left, attempt 1)" in desk.answer


def test_the_result_of_a_moved_attempt_goes_to_the_cusp_it_was_moved_to() -> None:
    desk = crossing("left", "right")
    desk.press("space", "space", "c", "1", "a")
    assert desk.panel is not None
    assert desk.panel.title == "RESULT of attempt 1, right"
    desk.press("1")
    assert [(a.cusp, a.number, a.outcome is not None) for a in desk.case.attempts] == [("right", 1, True)]


def test_the_late_result_of_a_moved_attempt_goes_to_the_cusp_it_was_moved_to() -> None:
    desk = crossing("left", "right")
    desk.press("space", "space", "c", "1")
    desk.wait(400)
    desk.press("l", "3", "1")
    assert [(a.cusp, a.number, a.outcome is not None) for a in desk.case.attempts] == [("right", 1, True)]
    assert last(desk).mode == "late"


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


def test_the_line_that_goes_back_stays_in_sight_in_a_long_list_of_stages() -> None:
    desk = TestDesk("left", checklist=ELECTROSURGICAL.read_bytes())
    desk.press("enter")
    desk.wait(60)
    desk.press("enter")
    for stage, cusp in (("position", "left"), ("traverse", "left"), ("closure", None)):
        desk.do("stage.open", stage=stage, cusp=cusp, reason="test")
    desk.press("s")
    for height in (14, 10, 6):
        drawn = desk.panel.draw(80, height).plain  # type: ignore[union-attr]
        assert "0  BACK to Crossing the leaflet, left" in drawn
        assert "> " in drawn
        assert len(drawn.splitlines()) <= height


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
    desk.press(*"1234567890", "enter", "down")
    assert desk.case.seal is None  # no one key seals, however often it comes
    desk.press("enter")
    assert desk.case.seal is not None
    assert desk.ledger.head(desk.case.key).short in desk.text()
    assert f"{desk.case.seal.seq} entries" in desk.text()


def test_after_the_seal_a_late_fact_is_an_addendum_and_a_live_key_does_nothing() -> None:
    desk = TestDesk()
    desk.press("enter", "o")
    while desk.case.seal is None:
        desk.press(*(("down", "enter") if "close the case" in desk.text() else ("1", "1")))
    desk.press("escape")
    before = desk.case.head_seq
    desk.press("f2", "r")
    assert desk.case.head_seq == before
    desk.wait(900)
    desk.press("l", "5", "r", "1", "3", "0", "2", "enter")
    assert last(desk).kind == "addendum.added"
    assert last(desk).what.fact.value == Decimal(302)


def test_many_settled_items_leave_the_closing_line_near_the_top_of_the_sign_out_list() -> None:
    desk = crossing("left", "right")
    desk.press("o")
    for _ in range(40):
        if desk.panel is None or desk.panel.items[0].text == "close the case and seal it":  # type: ignore[attr-defined]
            break
        desk.press("1", "1")
        if desk.panel is None or desk.panel.id != "signout":
            desk.press("escape", "o")
    assert desk.panel.items[0].text == "close the case and seal it"  # type: ignore[union-attr]
    assert sum("settled" in line for line in desk.panel.lead) == 1  # type: ignore[union-attr]
