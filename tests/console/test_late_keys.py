"""What the keys do once a late time is chosen, what is asked again, and what was typed and must stay."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal

import pytest

from labcheck.caselog.folding import effective_payload
from labcheck.caselog.telling import clock_words
from labcheck.checklist import finding
from labcheck.console.panels.late_desk import LETTERS
from tests.console.desk import TestDesk
from tests.console.test_panels import crossing, last
from tests.console.zones.scenes import CHECKLIST as ELECTROSURGICAL

THREE_MIN_US = 180_000_000


def waited(*targets: str) -> TestDesk:
    desk = TestDesk(*targets)
    desk.press("enter")
    desk.wait(600)
    return desk


def sealed() -> TestDesk:
    desk = waited()
    desk.wait(600)
    desk.press("o")
    while desk.case.seal is None:
        desk.press(*(("down", "enter") if "close the case" in desk.text() else ("1", "1")))
    desk.press("escape")
    return desk


# --- late or now, in words ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("keys", "kind"),
    [
        (("p", "2"), "run.started"),
        (("f7",), "run.started"),
        (("enter",), "stage.opened"),
        (("s", "2", "1"), "stage.opened"),
        (("r", "d", "1", "down", "enter"), "dose.given"),
        (("d", "x", "1"), "fault.noted"),
    ],
)
def test_what_the_late_panel_and_those_under_it_record_is_late(keys: tuple[str, ...], kind: str) -> None:
    desk = waited("left", "right")
    desk.press("l", "3")
    chosen = desk.now().wall_us - 1_000_000
    desk.press(*keys)
    late = [event for event in desk.case.log if event.kind == kind and event.mode == "late"]
    assert late, desk.kinds(3)
    assert late[-1].happened.wall_us == chosen - THREE_MIN_US


@pytest.mark.parametrize("letter", sorted(LETTERS))
def test_every_panel_under_a_late_time_says_late(letter: str) -> None:
    desk = crossing("left", "right")
    desk.wait(600)
    desk.press("l", "3", letter)
    assert desk.text().startswith("LATE  ")
    desk.press("1")
    assert desk.panel is None or desk.text().startswith("LATE  ")


def test_a_call_that_wants_a_reason_stays_late_in_its_title() -> None:
    desk = waited()
    for _ in range(6):
        desk.press("l", "1", "enter")
        desk.wait(70)
        if desk.panel is not None:
            break
    assert desk.text().startswith("LATE  ")
    assert "ALL THE SAME? reason" in desk.text()


@pytest.mark.parametrize("key", ["c", "k", "h", "o"])
@pytest.mark.parametrize("before", [("l", "3"), ("l", "3", "r")])
def test_a_key_that_would_count_now_is_not_taken_and_the_late_time_stays(before: tuple[str, ...], key: str) -> None:
    desk = waited()
    desk.press(*before)
    title, head = desk.text().splitlines()[0], desk.case.head_seq
    desk.press(key)
    assert desk.answer == (
        f"{key.upper()} NOT TAKEN: a late entry is open (3 min ago); Esc drops it, then {key.upper()} counts now"
    )
    assert desk.text().splitlines()[0] == title
    assert desk.case.head_seq == head


@pytest.mark.parametrize("key", ["f6", "f7", "f8"])
def test_a_switch_pressed_while_a_late_note_is_typed_is_not_taken_and_the_words_stay(key: str) -> None:
    desk = crossing()
    desk.wait(600)
    desk.press("l", "3", "n", *"wire")
    head = desk.case.head_seq
    desk.press(key)
    assert f"{key.upper()} NOT TAKEN" in desk.answer
    assert desk.case.head_seq == head
    assert "note: wire" in desk.text()


@pytest.mark.parametrize("before", [("l", "3"), ("l", "3", "n"), ("l", "3", "b")])
def test_f4_in_a_late_entry_starts_a_rescue_now_and_says_that_the_time_is_dropped(before: tuple[str, ...]) -> None:
    desk = crossing()
    desk.wait(600)
    desk.press(*before, "f4")
    assert desk.answer == "F4: a bailout that starts NOW; 3 min ago is dropped"
    assert desk.text().startswith("BAILOUT")
    desk.press("2")
    assert last(desk).kind == "bailout.opened"
    assert last(desk).mode == "live"


def test_b_in_a_late_entry_is_a_rescue_that_began_earlier() -> None:
    desk = crossing()
    desk.wait(600)
    desk.press("l", "3", "b", "2")
    assert last(desk).kind == "bailout.opened"
    assert last(desk).mode == "late"


def test_a_mark_in_a_late_entry_is_now_says_so_and_leaves_the_entry_open() -> None:
    desk = waited()
    desk.press("l", "3", "r", "f2")
    assert last(desk).kind == "mark.set"
    assert last(desk).mode == "live"
    assert desk.answer == "F2 marks NOW, not 3 min ago"
    assert desk.text().startswith("LATE  READING")


@pytest.mark.parametrize("key", ["e", "f1", "l"])
def test_a_key_that_leads_elsewhere_says_that_the_late_time_is_dropped(key: str) -> None:
    desk = waited()
    desk.press("l", "3", "d", key)
    assert desk.answer == "the late entry (3 min ago) is dropped: nothing of it was recorded"
    assert not desk.text().startswith("LATE  ")


def test_after_the_seal_a_late_time_opens_only_what_can_still_be_added() -> None:
    desk = sealed()
    desk.press("l", "5")
    assert "energy" not in desk.text()
    head = desk.case.head_seq
    for key in ("b", "space", "f7", "enter"):
        desk.press(key)
        assert desk.case.head_seq == head
        assert "the case is sealed" in desk.answer
    desk.press("d", "1", *"5000", "enter")
    assert last(desk).kind == "addendum.added"


# --- asked again ------------------------------------------------------------------------------------------------------


def before_the_case(desk: TestDesk) -> str:
    opened = desk.case.opened
    assert opened is not None
    return clock_words(opened.model_copy(update={"wall_us": opened.wall_us - 300_000_000}))


@pytest.mark.parametrize("keys", [("1",), ("y", "1", "1"), ("r", "1", *"274", "enter")])
def test_a_time_before_the_case_asks_once_why_it_is_late_and_then_records(keys: tuple[str, ...]) -> None:
    desk = waited()
    desk.press("l", "0", *before_the_case(desk), "enter")
    if keys == ("1",):
        place = next(n for n, item in enumerate(desk.panel.items) if "Return pad" in item.text)  # type: ignore[union-attr]
        keys = (desk.panel.digit_of(place),)  # type: ignore[union-attr]
    desk.press(*keys, "1")
    assert desk.panel is None
    assert last(desk).mode == "late"
    assert last(desk).late_reason == finding.reasons_for(desk.checklist, "late")[0].text
    assert getattr(last(desk).what, "reason", None) is None


def test_a_fact_from_before_the_case_is_added_after_the_seal_with_its_reason_once() -> None:
    desk = sealed()
    desk.press("l", "0", *before_the_case(desk), "enter", "d", "1", *"5000", "enter", "1")
    reason = finding.reasons_for(desk.checklist, "late")[0].text
    assert desk.panel is None
    assert (last(desk).kind, last(desk).late_reason, last(desk).what.reason) == ("addendum.added", reason, reason)


def held(*, late: bool = False) -> TestDesk:
    """A call that a hold asks a reason for."""
    desk = TestDesk("left", "right")
    desk.press("enter", "enter", "enter")
    desk.wait(600)
    desk.press(*(("l", "1", "enter") if late else ("enter",)))
    assert desk.refusals[-1].why.unmet
    return desk


def test_the_question_of_a_hold_names_the_call_it_is_about() -> None:
    assert held().text().startswith('"Crossing, left" ALL THE SAME? reason')


@pytest.mark.parametrize("late", [False, True])
def test_an_undo_under_the_question_of_a_hold_opens_no_other_stage(late: bool) -> None:
    desk = held(late=late)
    desk.press("f9")
    head = desk.case.head_seq
    assert '"Crossing, left"' in desk.text()
    desk.press("1")
    assert desk.case.head_seq == head
    assert 'NOT RECORDED: "Crossing, left" was asked about' in desk.answer


def test_a_mark_under_the_question_of_a_hold_leaves_it_what_it_was() -> None:
    desk = held()
    desk.press("f2", "1")
    assert desk.case.visit is not None
    assert (desk.case.visit.stage, desk.case.visit.cusp) == ("cross", "left")


def test_an_undo_under_a_late_entry_does_not_make_enter_another_call() -> None:
    desk = waited()
    desk.press("l", "1")
    assert 'Enter the expected call "' in desk.text()
    desk.press("f9")
    head = desk.case.head_seq
    desk.press("enter")
    assert desk.case.head_seq == head
    assert "another call is expected now" in desk.answer
    desk.press("enter")
    assert last(desk).kind == "stage.opened"


# --- what was typed stays ---------------------------------------------------------------------------------------------


def at_time_step() -> TestDesk:
    desk = TestDesk("left", checklist=ELECTROSURGICAL.read_bytes())
    desk.press("enter", "b", "3")
    lines = desk.viewing.steps(desk.case)[1]
    desk.step_at = next(at for at, line in enumerate(lines) if line.step.kind == "time")
    desk.press("right")
    return desk


def test_a_time_step_takes_one_digit_for_the_hour_and_writes_two() -> None:
    desk = at_time_step()
    desk.press(*"9:05", "enter")
    assert last(desk).what.value == "09:05"


def test_a_time_step_refuses_what_is_no_time_and_keeps_it() -> None:
    desk = at_time_step()
    desk.press(*"9:65", "enter")
    assert '"9:65" is not a time' in desk.text()
    assert "time hh:mm: 9:65" in desk.text()


def amending(field: str, first: str) -> TestDesk:
    desk = TestDesk()
    desk.press("enter", "r", "1", *first, "enter")
    entry = next(event for event in desk.case.log if event.kind == "reading.taken")
    desk.press("e")
    desk.panel.at = entry.seq  # type: ignore[union-attr]
    desk.press("enter")
    place = next(n for n, item in enumerate(desk.panel.items) if item.text == f"amend {field}")  # type: ignore[union-attr]
    desk.press(desk.panel.digit_of(place), *["backspace"] * len(first))  # type: ignore[union-attr]
    return desk


def test_a_comma_is_a_decimal_point_in_an_amendment_too() -> None:
    desk = amending("value", "274")
    desk.press(*"274,5", "enter")
    assert "value 274.5 instead of 274" in desk.text()
    desk.press("1")
    entry = next(event for event in desk.case.log if event.kind == "reading.taken")
    assert effective_payload(desk.case, entry.seq)[0].value == Decimal("274.5")  # type: ignore[index]


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("27x", '"27x" is not a number'),
        ("1,250", "is not clear"),
        ("274.0", "that is what it says already"),
        ("274", "that is what it says already"),
    ],
)
def test_an_amendment_that_is_wrong_or_changes_nothing_is_refused_and_stays_typed(typed: str, said: str) -> None:
    desk = amending("value", "274")
    head = desk.case.head_seq
    desk.press(*typed, "enter")
    assert said in desk.text()
    assert f"value is: {typed}" in desk.text()
    assert desk.case.head_seq == head


def test_an_amendment_that_the_log_will_not_take_is_refused_before_the_reason() -> None:
    desk = amending("value", "274")
    entry = next(event for event in desk.case.log if event.kind == "reading.taken")
    desk.do("event.void", target=entry.seq, reason="test")
    desk.press(*"275", "enter")
    assert f"#{entry.seq} is void" in desk.text()
    assert "value is: 275" in desk.text()


def test_the_panels_of_a_late_entry_take_pasted_words() -> None:
    desk = waited()
    desk.press("l", "3", "n")
    assert desk.panel is not None
    paste: Callable[[str], None] = desk.panel.paste
    paste("a wire")
    desk.press("enter")
    assert last(desk).what.text == "a wire"
