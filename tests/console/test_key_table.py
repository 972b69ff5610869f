"""The key table: its rules, its lookups, and what is made from it."""

from __future__ import annotations

import pytest

from labcheck.console import footer, keys, presses
from labcheck.console.keys import KEYS, by_id, card, faults, find
from tests.console.desk import TestDesk


def test_the_table_keeps_its_own_rules() -> None:
    assert faults() == ()


@pytest.mark.parametrize(
    ("broken", "complaint"),
    [
        (keys.Key("x", ("f3",), "F3", "x", "x", ("case",), keys.OPEN), "is not safe"),
        (keys.Key("x", ("f18",), "F18", "x", "x", ("case",), keys.OPEN), "is not safe"),
        (keys.Key("x", ("ctrl+space",), "x", "x", "x", ("case",), keys.OPEN), "is not safe"),
        (keys.Key("x", ("shift+a",), "A", "x", "x", ("case",), keys.OPEN), "needs Shift"),
        (keys.Key("x", ("z",), "Z", "x", "x", ("case",), keys.RECORD, True), "would log by itself"),
        (keys.Key("x", ("b",), "B", "x", "x", ("case",), keys.OPEN), "is both"),
    ],
)
def test_a_line_that_breaks_a_rule_is_found(
    monkeypatch: pytest.MonkeyPatch, broken: keys.Key, complaint: str
) -> None:
    monkeypatch.setattr(keys, "KEYS", (*KEYS, broken))
    assert any(complaint in fault for fault in faults())


def test_a_letter_counts_the_same_with_caps_lock_on() -> None:
    assert find("b", "case") is find("B", "case") is by_id("bailout")


def test_letters_are_text_while_typing_and_the_bailout_stays_within_reach() -> None:
    assert find("b", "typing") is None
    assert find("space", "typing") is None
    assert find("f4", "typing") is by_id("bailout")
    assert find("f9", "typing") is by_id("undo")
    assert find("f6", "typing") is by_id("energy")


def test_every_key_that_records_at_once_has_something_to_do() -> None:
    recording = {line.id for line in KEYS if line.logs}
    assert recording == set(presses.RECORDS)


def test_every_key_that_opens_a_panel_in_a_case_has_its_panel() -> None:
    opening = {line.id for line in KEYS if line.group == keys.OPEN and "case" in line.where}
    assert opening == {*presses.PANELS, "step_other"}


def test_the_card_names_every_key_within_its_width() -> None:
    text = card(78)
    assert all(f"  {line.shown} " in text for line in KEYS)
    assert max(len(row) for row in text.splitlines()) <= 78


def test_the_bailout_is_among_the_first_six_keys_of_every_moment_of_an_open_case() -> None:
    desk = TestDesk()
    moments = [footer.keys_for(desk.case, None)]
    desk.press("enter")
    moments.append(footer.keys_for(desk.case, None))
    desk.press("r")
    moments.append(footer.keys_for(desk.case, desk.panel))
    desk.press("1")
    moments.append(footer.keys_for(desk.case, desk.panel))
    desk.press("escape")
    desk.do("stage.open", stage="cross", cusp="left", reason="test")
    moments.append(footer.keys_for(desk.case, None))
    desk.press("space")
    moments.append(footer.keys_for(desk.case, None))
    assert all(any(key.word == "bailout" for key in shown[:6]) for shown in moments)
