"""Rescues: opened, ended, and where they lead."""

from __future__ import annotations

from labcheck.caselog.progress import next_slot
from labcheck.checklist.unfolding import Slot
from tests.caselog.driving import late, opened

MIN = 60_000_000


def test_a_rescue_that_runs_is_not_opened_twice_but_the_other_ostium_may_need_one_too() -> None:
    driver = opened()
    first = driver.do("bailout.open", bailout="coronary", ostium="left")[0]
    again = driver.refused("bailout.open", bailout="coronary", ostium="left")
    assert f"Coronary obstruction is running already (#{first.seq})" in again.reason
    driver.do("bailout.open", bailout="coronary", ostium="right")
    driver.do("bailout.close", bailout="coronary", outcome="stented")
    assert [(b.what.ostium, b.end is None) for b in driver.case.bailouts] == [("left", True), ("right", False)]
    driver.do("bailout.open", bailout="coronary", ostium="right")


def test_a_rescue_for_a_cusp_is_on_the_cusp_being_worked_on() -> None:
    driver = opened("left", "right")
    driver.do("stage.open", stage="position", cusp="right")
    driver.do("bailout.open", bailout="collapse")
    driver.do("bailout.open", bailout="coronary")
    assert [b.what.cusp for b in driver.case.bailouts] == ["right", None]


def test_a_rescue_ends_only_if_it_runs_with_its_own_outcomes_and_leads() -> None:
    driver = opened()
    assert "no such bailout is running" in driver.refused("bailout.close", outcome="steady").reason
    assert "no bailout 'tamponade'" in driver.refused("bailout.open", bailout="tamponade").reason
    driver.at(6).do("bailout.open", bailout="collapse")
    for fields, words in (
        ({"bailout": "coronary", "outcome": "stented"}, "no such bailout is running"),
        ({"outcome": "stented"}, "no outcome of Collapse: use steady, not"),
        ({"outcome": "steady", "lead": "convert"}, "Collapse does not lead to convert"),
        ({"outcome": "steady", "claim": late(3)}, "before Collapse began"),
    ):
        assert words in driver.at(8).refused("bailout.close", **fields).reason


def test_a_rescue_named_by_its_bailout_ends_though_another_was_opened_after_it() -> None:
    driver = opened()
    driver.do("bailout.open", bailout="coronary", ostium="left")
    driver.do("bailout.open", bailout="collapse")
    driver.do("bailout.close", bailout="coronary", outcome="stented")
    assert [b.outcome for b in driver.case.bailouts] == ["stented", None]
    driver.do("bailout.open", bailout="coronary", ostium="left")
    driver.do("bailout.close", outcome="lost")
    assert [b.outcome for b in driver.case.bailouts] == ["stented", None, "lost"]
    refused = driver.refused("bailout.close", bailout="coronary", outcome="lost")
    assert "no such bailout is running" in refused.reason


def test_a_rescue_that_abandons_its_cusp_says_so_once() -> None:
    driver = opened("left", "right")
    driver.do("stage.open", stage="position", cusp="right")
    for _ in range(2):
        driver.do("bailout.open", bailout="collapse", cusp="right")
        events = driver.do("bailout.close", outcome="not", lead="abandon_cusp")
    assert [e.kind for e in events] == ["bailout.closed"], "abandoned already"
    assert driver.case.abandoned["right"].what == "rescue: Collapse"
    assert "left" not in driver.case.abandoned


def test_where_a_rescue_leads_holds_only_until_a_stage_is_opened_and_for_the_last_rescue() -> None:
    driver = opened()
    driver.do("bailout.open", bailout="collapse")
    driver.do("bailout.close", outcome="not", lead="jump")
    assert next_slot(driver.case) == Slot("deploy")
    assert driver.refused("stage.open", stage="split").needs == "reason", "the rescue leads elsewhere"
    driver.do("stage.open", stage="position")
    assert next_slot(driver.case) == Slot("cross", "left")
    assert driver.refused("stage.open", stage="deploy").needs == "reason"


def test_a_rescue_that_led_on_as_before_leaves_the_next_call_as_it_was() -> None:
    driver = opened()
    driver.do("bailout.open", bailout="collapse")
    driver.do("bailout.close", outcome="steady", lead="carry_on")
    assert next_slot(driver.case) == Slot("filters")
    assert driver.refused("stage.open", stage="deploy").needs == "reason"
