"""Attempts, bursts and runs: which try an entry belongs to, how tries are counted, and what is refused."""

from __future__ import annotations

from typing import Any

import pytest

from labcheck.caselog.signout import signout_items
from tests.caselog.driving import Driver, late, small

MIN = 60_000_000


def at_stage(stage: str, *targets: str) -> Driver:
    """Access at 0, and the stage open at 5 on the first cusp."""
    driver = Driver(*targets)
    driver.at(0).do("stage.open")
    driver.at(5).do("stage.open", stage=stage, reason="test")
    return driver


def test_each_stage_counts_its_own_tries_on_a_cusp() -> None:
    driver = at_stage("cross")
    for outcome in ("failed", "crossed"):
        driver.do("attempt.open")
        driver.do("attempt.close", outcome=outcome)
    driver.do("stage.open", stage="split", reason="test")
    driver.do("attempt.open")
    assert [(a.stage, a.number) for a in driver.case.attempts] == [("cross", 1), ("cross", 2), ("split", 1)]


def test_an_attempt_names_the_visit_it_was_tried_in_and_none_that_is_not_its_own() -> None:
    driver = at_stage("cross")
    visit = driver.case.visit
    own = driver.do("attempt.open")[0]
    driver.do("attempt.close", outcome="failed")
    assert visit is not None
    assert own.what.opened == visit.seq
    driver.do("stage.open", stage="position", reason="test")
    elsewhere = driver.at(9).do("attempt.close", stage="cross", cusp="left", outcome="crossed", claim=late(1))
    assert elsewhere[0].what.opened is None


def test_a_second_try_waits_for_the_result_of_the_first() -> None:
    driver = at_stage("cross")
    driver.do("attempt.open")
    assert "attempt 1 on the left cusp has no result yet" in driver.refused("attempt.open").reason


def test_energy_in_a_second_stage_begins_a_try_there_while_another_still_waits_for_its_result() -> None:
    driver = at_stage("cross")
    driver.do("attempt.open")
    driver.do("stage.open", stage="split", reason="test")
    driver.do("energy.on")
    assert [(a.stage, a.number, len(a.bursts)) for a in driver.case.attempts] == [("cross", 1, 0), ("split", 1, 1)]


def test_a_second_burst_belongs_to_the_try_that_is_open() -> None:
    driver = at_stage("cross")
    for _ in range(2):
        driver.do("energy.on")
        driver.do("energy.off")
    assert [(a.number, len(a.bursts)) for a in driver.case.attempts] == [(1, 2)]


def test_energy_that_was_never_on_cannot_go_off() -> None:
    assert "off already" in at_stage("cross").refused("energy.off").reason


@pytest.mark.parametrize(
    ("do", "fields"),
    [
        ("attempt.close", {"outcome": "crossed"}),
        ("cusp.abandon", {"cusp": "left", "reason": "calcium"}),
        ("attempt.close", {"stage": "split", "cusp": "left", "outcome": "cut"}),
        ("stage.open", {"stage": "cross", "cusp": "right", "reason": "test"}),
    ],
)
def test_energy_stays_on_until_it_is_off_whatever_becomes_of_its_try(do: str, fields: dict[str, Any]) -> None:
    driver = at_stage("cross", "left", "right")
    driver.do("energy.on")
    driver.do(do, **fields)
    burst = driver.case.burst
    assert burst is not None
    assert f"burst:{burst.seq}" in {item.id for item in signout_items(driver.case, driver.stamp())}
    assert "on already" in driver.refused("energy.on").reason
    off = driver.do("energy.off")[0]
    assert driver.case.burst is None
    assert driver.case.attempts[0].bursts[0].end == off.happened


def test_a_try_takes_effect_when_its_last_burst_ends_or_with_its_result_where_it_had_none() -> None:
    driver = at_stage("cross")
    for _ in range(2):
        driver.do("energy.on")
        last = driver.do("energy.off")[0]
    driver.do("attempt.close", outcome="crossed")
    assert driver.case.attempts[0].effect == last.happened
    driver.do("attempt.open")
    assert driver.case.attempts[1].effect is None
    result = driver.do("attempt.close", outcome="crossed")[0]
    assert driver.case.attempts[1].effect == result.happened


def test_energy_cannot_have_gone_on_before_its_try_nor_off_before_it_went_on() -> None:
    driver = at_stage("cross")
    driver.at(6).do("attempt.open")
    assert "before attempt 1 began" in driver.at(9).refused("energy.on", claim=late(4)).reason
    driver.at(9).do("energy.on")
    assert "before the energy went on" in driver.at(11).refused("energy.off", claim=late(3)).reason
    off = driver.at(11).do("energy.off", claim=late(1))[0]
    assert driver.case.attempts[0].bursts[0].end == off.happened


def test_a_stage_without_energy_takes_none() -> None:
    whole = small()
    dry = tuple(
        s.model_copy(update={"attempts": s.attempts.model_copy(update={"energy": None})}) if s.attempts else s
        for s in whole.stage
    )
    driver = Driver(checklist=whole.model_copy(update={"stage": dry}))
    driver.do("stage.open", stage="cross", reason="test")
    assert "Cross, left uses no energy" in driver.refused("energy.on").reason
    driver.do("attempt.open")


def test_a_result_this_stage_does_not_know_is_refused_and_giving_up_is_always_one() -> None:
    driver = at_stage("cross")
    driver.do("attempt.open")
    assert "use crossed, failed, fault" in driver.refused("attempt.close", outcome="cut").reason
    driver.do("attempt.close", outcome="abandoned")
    assert driver.case.attempts[0].outcome == "abandoned"


def test_a_result_cannot_come_before_its_try_began() -> None:
    driver = at_stage("cross")
    driver.at(6).do("attempt.open")
    refused = driver.at(9).refused("attempt.close", outcome="crossed", claim=late(4))
    assert "before attempt 1 began" in refused.reason


def test_where_nothing_is_tried_there_is_no_result() -> None:
    driver = at_stage("position")
    assert "no attempts here (Position, left)" in driver.refused("attempt.close", outcome="crossed").reason
    assert "no attempts in Access" in driver.refused("attempt.close", stage="access", outcome="crossed").reason


def test_a_result_said_after_the_stage_goes_to_the_try_that_still_waits_for_one() -> None:
    driver = at_stage("cross", "left", "right")
    driver.do("attempt.open")
    driver.do("stage.open", stage="position", cusp="right", reason="test")
    driver.do("stage.open", stage="cross", cusp="right", reason="test")
    driver.do("attempt.open")
    driver.do("attempt.close", outcome="failed")
    driver.do("stage.open", stage="ready", reason="test")
    events = driver.do("attempt.close", outcome="crossed")
    assert [e.kind for e in events] == ["attempt.closed"]
    assert [(a.cusp, a.outcome) for a in driver.case.attempts] == [("left", "crossed"), ("right", "failed")]


def test_of_two_tries_that_wait_on_different_cusps_each_gets_its_own_result() -> None:
    driver = at_stage("cross", "left", "right")
    driver.do("attempt.open")
    driver.do("stage.open", stage="cross", cusp="right", reason="test")
    driver.do("attempt.open")
    driver.do("attempt.close", stage="cross", cusp="left", outcome="crossed")
    driver.do("attempt.close", stage="cross", cusp="right", outcome="failed")
    assert [(a.cusp, a.outcome) for a in driver.case.attempts] == [("left", "crossed"), ("right", "failed")]


def test_of_two_tries_that_wait_the_last_one_gets_a_result_that_names_no_stage() -> None:
    driver = at_stage("cross", "left", "right")
    driver.do("attempt.open")
    driver.do("stage.open", stage="cross", cusp="right", reason="test")
    driver.do("attempt.open")
    driver.do("stage.open", stage="ready", reason="test")
    driver.do("attempt.close", outcome="crossed")
    assert [(a.cusp, a.outcome) for a in driver.case.attempts] == [("left", None), ("right", "crossed")]


def test_of_two_tries_that_wait_on_one_cusp_the_later_gets_the_result() -> None:
    driver = at_stage("cross")
    for stage in ("split", "cross"):
        driver.do("attempt.open")
        driver.do("stage.open", stage=stage, reason="test")
    driver.do("attempt.open")
    driver.do("attempt.close", outcome="crossed")
    assert [(a.stage, a.number, a.outcome) for a in driver.case.attempts] == [
        ("cross", 1, None), ("split", 1, None), ("cross", 2, "crossed"),
    ]  # fmt: skip


def test_a_run_is_on_once_and_a_run_of_another_kind_may_be_on_beside_it() -> None:
    driver = at_stage("cross")
    driver.do("run.start", run="cpr")
    assert "Compressions is on already" in driver.refused("run.start", run="cpr").reason
    driver.do("run.start", run="pacing")
    driver.do("run.stop", run="cpr")
    assert [(s.run, s.end is None) for s in driver.case.spells] == [("cpr", False), ("pacing", True)]
    assert "Compressions is off already" in driver.refused("run.stop", run="cpr").reason
    driver.do("run.start", run="cpr")
    assert [s.end is None for s in driver.case.spells] == [False, True, True]


def test_a_run_that_is_off_cannot_be_stopped_and_none_stops_before_it_went_on() -> None:
    driver = at_stage("cross")
    assert "Pacing is off already" in driver.refused("run.stop", run="pacing").reason
    assert "no run 'balloon'" in driver.refused("run.start", run="balloon").reason
    assert "no run 'balloon'" in driver.refused("run.stop", run="balloon").reason
    driver.at(6).do("run.start", run="pacing")
    assert "before Pacing went on" in driver.at(9).refused("run.stop", run="pacing", claim=late(4)).reason


def test_a_note_of_a_fault_after_the_try_is_tied_to_the_last_try_of_this_stage_and_cusp() -> None:
    driver = at_stage("cross", "left", "right")
    driver.do("attempt.open")
    driver.do("attempt.close", outcome="fault")
    driver.do("attempt.open")
    second = driver.case.attempts[-1].seq
    driver.do("attempt.close", outcome="fault")
    driver.do("fault.note", fault="generator")
    assert (driver.case.faults[-1].what.attempt, driver.case.faults[-1].what.cusp) == (second, "left")
    driver.do("stage.open", stage="cross", cusp="right", reason="test")
    driver.do("fault.note", fault="generator")
    assert (driver.case.faults[-1].what.attempt, driver.case.faults[-1].what.cusp) == (None, None)


def test_a_result_that_names_its_attempt_is_that_of_no_other() -> None:
    driver = at_stage("cross", "left", "right")
    first = driver.do("attempt.open")[0].seq
    driver.do("stage.open", stage="split", reason="test")
    split = driver.do("attempt.open")[0].seq
    driver.do("stage.open", stage="cross", cusp="left", reason="test")
    second = driver.do("attempt.open")[0].seq
    fields = {"stage": "cross", "cusp": "left", "outcome": "failed"}
    driver.do("attempt.close", attempt=first, **fields)
    assert [(a.seq, a.outcome) for a in driver.case.attempts] == [
        (first, "failed"), (split, None), (second, None),
    ]  # fmt: skip
    refused = driver.refused("attempt.close", attempt=first, **fields)
    assert f"#{first} is no attempt that waits for its result" in refused.reason
    other = driver.refused("attempt.close", attempt=second, outcome="crossed", stage="cross", cusp="right")
    assert f"#{second} is no attempt" in other.reason


def test_a_late_result_is_taken_after_a_restart_with_the_clock_set_back() -> None:
    driver = at_stage("cross")
    driver.do("attempt.open")
    driver.at(driver.now_us / MIN + 5)
    driver.boot_id, driver.wall_shift_us = "boot-b", -30 * MIN
    driver.do("attempt.close", outcome="failed", claim=late(1))
    assert driver.case.attempts[-1].outcome == "failed"
