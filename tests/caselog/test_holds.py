"""Every kind of condition a hold may ask for, at its edges; and the running figures it is judged by."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from labcheck.caselog.holds import latest_value, met, tally_value, unmet
from labcheck.caselog.intents import Claim
from labcheck.caselog.tallies import latest_reading, number_words, totals
from labcheck.caselog.units import in_own_unit
from labcheck.checklist.conditions import Condition
from labcheck.checklist.model import Reading, Tally
from labcheck.checklist.unfolding import Slot
from labcheck.checklist.words import Cusp
from tests.caselog.driving import Driver, in_access, small

MIN = 60_000_000


def holds(driver: Driver, cusp: Cusp | None = None, **condition: Any) -> bool:
    asked = Condition.model_validate(condition, strict=False)
    return met(driver.case, asked, cusp, driver.stamp().moment())


@pytest.mark.parametrize(
    ("answer", "enough"), [("done", True), ("not_applicable", True), ("not_done", False), (None, False)]
)
def test_a_step_holds_when_it_was_done_or_does_not_apply(answer: str | None, enough: bool) -> None:
    driver = in_access()
    if answer is not None:
        driver.do("step.answer", step="pad", answer=answer, reason="bipolar only")
    assert holds(driver, step="access.pad") is enough


def test_a_step_that_must_be_one_of_some_values_holds_for_those_only() -> None:
    driver = in_access()
    driver.do("stage.open", stage="flow", reason="test")
    assert not holds(driver, step="flow.left_flow", **{"is": ["slow"]})
    driver.do("reading.take", reading="flow", choice="slow", ostium="left")
    assert holds(driver, step="flow.left_flow")
    assert holds(driver, step="flow.left_flow", **{"is": ["normal", "slow"]})
    assert not holds(driver, step="flow.left_flow", **{"is": ["normal"]})


def test_a_step_of_a_cusp_is_asked_for_on_that_cusp_and_without_one_on_every_cusp_left() -> None:
    driver = in_access("left", "right")
    driver.do("stage.open", stage="position", cusp="left")
    driver.do("step.answer", step="view", answer="value", value="-20 15")
    assert holds(driver, "left", step="position.view")
    assert not holds(driver, "right", step="position.view")
    assert not holds(driver, step="position.view")
    driver.do("cusp.abandon", cusp="right", reason="calcium")
    assert holds(driver, step="position.view")


def test_a_step_of_no_cusp_counts_for_every_cusp() -> None:
    driver = in_access("left", "right")
    driver.do("step.answer", step="pad")
    assert holds(driver, "right", step="access.pad")


@pytest.mark.parametrize(("outcome", "ready"), [("crossed", True), ("failed", False), (None, True)])
def test_a_stage_that_is_still_open_counts_as_done_unless_its_last_try_failed(outcome: str | None, ready: bool) -> None:
    driver = in_access()
    assert not holds(driver, "left", stage="cross")
    driver.do("stage.open", stage="cross", reason="test")
    driver.do("attempt.open")
    driver.do("attempt.close", outcome="failed" if outcome == "crossed" else "crossed")
    driver.do("attempt.open")
    if outcome is not None:
        driver.do("attempt.close", outcome=outcome)
    assert holds(driver, "left", stage="cross") is ready


def test_a_failed_try_elsewhere_does_not_count_against_the_open_stage() -> None:
    driver = in_access("left", "right")
    driver.do("stage.open", stage="cross", cusp="left", reason="test")
    driver.do("attempt.close", outcome="crossed")
    for stage, cusp, outcome in (("cross", "right", "failed"), ("split", "left", "none")):
        driver.do("attempt.close", stage=stage, cusp=cusp, outcome=outcome)
    assert holds(driver, "left", stage="cross")


def test_a_stage_of_every_cusp_holds_when_what_is_not_done_was_abandoned() -> None:
    driver = in_access("left", "right")
    driver.do("stage.open", stage="cross", cusp="left", reason="test")
    assert not holds(driver, stage="cross")
    driver.do("cusp.abandon", cusp="right", reason="calcium")
    assert holds(driver, stage="cross")


def test_a_stage_left_unfinished_does_not_hold_and_one_skipped_by_decision_does_but_not_by_call() -> None:
    driver = in_access()
    assert not holds(driver, stage="filters")
    driver.do("stage.skip", stage="filters", reason="operator's call")
    assert not holds(driver, stage="filters")
    driver.do("decision.make", decision="protect", choice="declined", reason="small arch")
    assert holds(driver, stage="filters")
    driver.do("stage.open", stage="cross", reason="test")
    driver.do("stage.open", stage="position")
    assert not holds(driver, "left", stage="cross")
    assert not holds(driver, stage="nowhere")


def test_each_cusp_means_every_cusp_that_was_not_abandoned() -> None:
    driver = in_access("left", "right")
    driver.do("stage.open", stage="position", cusp="left")
    driver.do("stage.open", stage="cross", cusp="left", reason="test")
    driver.do("attempt.close", outcome="crossed")
    assert not holds(driver, each_cusp="cross")
    driver.do("cusp.abandon", cusp="right", reason="calcium")
    assert holds(driver, each_cusp="cross")


@pytest.mark.parametrize(
    ("condition", "enough"),
    [
        ({}, True),
        ({"at_least": 274}, True),
        ({"at_least": Decimal("274.1")}, False),
        ({"at_most": 274}, True),
        ({"at_most": Decimal("273.9")}, False),
        ({"at_least": 200, "at_most": 250}, False),
        ({"within_min": 30}, True),
        ({"within_min": Decimal("29.9")}, False),
    ],
)
def test_a_reading_holds_within_its_limits_and_its_age(condition: dict[str, Any], enough: bool) -> None:
    driver = in_access()
    assert not holds(driver, reading="act", **condition)
    driver.do("reading.take", reading="act", value=Decimal(274))
    driver.now_us += 30 * MIN - 1_000_000
    assert holds(driver, reading="act", **condition) is enough


def test_a_limit_on_a_reading_is_in_its_own_unit_whatever_unit_was_read() -> None:
    driver = in_access()
    driver.do("reading.take", reading="kap", value=Decimal(2000), unit="uGy·m2")
    assert holds(driver, reading="kap", at_most=20)
    assert not holds(driver, reading="kap", at_least=21)


def test_a_finding_holds_by_being_there_and_is_no_number() -> None:
    driver = in_access()
    driver.do("reading.take", reading="flow", choice="slow", ostium="left")
    assert holds(driver, reading="flow")
    assert not holds(driver, reading="flow", at_least=0)


def test_a_tally_holds_only_when_there_is_a_figure() -> None:
    driver = in_access()
    assert not holds(driver, tally="heparin_total", at_most=10000)
    driver.do("dose.give", drug="heparin", amount=Decimal(5000))
    driver.do("dose.give", drug="heparin")
    assert holds(driver, tally="heparin_total", at_least=5000, at_most=5000)
    assert tally_value(driver.case, "none", driver.stamp().moment()) is None


def test_a_decision_holds_when_it_was_made_and_made_so() -> None:
    driver = in_access()
    assert not holds(driver, decision="protect")
    driver.do("decision.make", decision="protect", choice="used")
    assert holds(driver, decision="protect")
    assert holds(driver, decision="protect", **{"is": ["used"]})
    assert not holds(driver, decision="protect", **{"is": ["declined"]})


def test_a_call_on_an_abandoned_cusp_says_so() -> None:
    driver = in_access("left", "right")
    driver.do("cusp.abandon", cusp="left", reason="calcium")
    lines = unmet(driver.case, Slot("position", "left"), driver.stamp())
    assert [(line.hold, line.text) for line in lines] == [("abandoned", "left cusp was abandoned")]
    assert unmet(driver.case, Slot("position", "right"), driver.stamp()) == ()
    assert unmet(driver.case, Slot("nowhere"), driver.stamp()) == ()


def test_the_last_value_is_the_last_that_is_a_number_in_the_readings_own_unit() -> None:
    driver = in_access()
    assert latest_value(driver.case, "kap") is None
    driver.do("reading.take", reading="kap", value=Decimal(1000), unit="uGy·m2")
    driver.do("reading.take", reading="act", value=Decimal(274))
    driver.do("reading.take", reading="flow", choice="slow", ostium="left")
    assert (latest_value(driver.case, "kap"), latest_value(driver.case, "flow")) == (Decimal(10), None)
    assert latest_value(driver.case, "none") is None


def test_the_latest_reading_is_by_the_boot_clock_within_a_boot_and_by_the_wall_over_a_restart() -> None:
    driver = in_access()
    driver.at(5).do("reading.take", reading="act", value=Decimal(200))
    driver.wall_shift_us = -60 * MIN
    second = driver.at(6).do("reading.take", reading="act", value=Decimal(300))[0]
    latest = latest_reading(driver.case, "act")
    assert latest is not None
    assert latest.seq == second.seq, "the clock was set back"
    driver.boot_id, driver.wall_shift_us = "boot-b", 0
    third = driver.at(7).do("reading.take", reading="act", value=Decimal(250))[0]
    latest = latest_reading(driver.case, "act")
    assert latest is not None
    assert latest.seq == third.seq


def tallied(*tallies: dict[str, Any]) -> Driver:
    """Crossing, with these tallies."""
    found = tuple(Tally.model_validate({"title": t["id"], **t}, strict=False) for t in tallies)
    driver = Driver("left", "right", checklist=small().model_copy(update={"tally": found}))
    driver.at(0).do("stage.open")
    driver.do("stage.open", stage="cross", cusp="left", reason="test")
    return driver


def test_two_resets_of_a_counter_are_both_added_and_the_latest_is_only_the_last() -> None:
    driver = tallied(
        {"id": "whole", "kind": "cumulative", "reading": "kap"}, {"id": "last", "kind": "latest", "reading": "kap"}
    )
    for value, reset in ((20, False), (30, False), (5, True), (7, False), (1, True)):
        driver.do("reading.take", reading="kap", value=Decimal(value), reset=reset)
    whole, last = totals(driver.case, driver.stamp().moment())
    assert (whole.value, last.value, whole.unit) == (Decimal(38), Decimal(1), "Gy·cm2")
    assert whole.seq == last.seq == driver.case.readings[-1].seq


def test_a_first_reading_said_to_follow_a_reset_adds_nothing() -> None:
    driver = tallied({"id": "whole", "kind": "cumulative", "reading": "kap"})
    driver.do("reading.take", reading="kap", value=Decimal(5), reset=True)
    assert totals(driver.case, driver.stamp().moment())[0].value == Decimal(5)


def test_energy_is_counted_and_added_for_each_cusp_to_the_last_burst_and_on_to_now() -> None:
    driver = tallied(
        {"id": "bursts", "kind": "count", "energy": True}, {"id": "on", "kind": "seconds", "energy": True}
    )
    none = totals(driver.case, driver.stamp().moment())
    assert [(t.value, t.unit, t.seq) for t in none] == [(None, "", None), (None, "s", None)]
    for _ in range(2):
        driver.do("energy.on")
        driver.now_us += 1_500_000
        driver.do("energy.off")
    driver.do("stage.open", stage="split", cusp="right", reason="test")
    driver.do("energy.on")
    driver.now_us += 1_500_000
    bursts, on = totals(driver.case, driver.stamp().moment())
    assert (bursts.value, bursts.parts) == (Decimal(3), (("left", Decimal(2)), ("right", Decimal(1))))
    assert (on.value, on.parts) == (Decimal("7.5"), (("left", Decimal(5)), ("right", Decimal("2.5"))))
    assert (bursts.unit, on.unit) == ("", "s")
    assert bursts.seq == driver.case.attempts[-1].bursts[-1].seq


def test_a_sum_leaves_out_other_drugs_and_says_how_many_amounts_are_not_known() -> None:
    driver = tallied({"id": "heparin", "kind": "sum", "drug": "heparin"})
    assert totals(driver.case, driver.stamp().moment())[0].value is None
    for amount in (Decimal(5000), None, Decimal(2000), None):
        driver.do("dose.give", drug="heparin", amount=amount)
    total = totals(driver.case, driver.stamp().moment())[0]
    assert (total.value, total.left_out, total.unit, total.seq) == (
        Decimal(7000), 2, "IU", driver.case.doses[-1].seq,
    )  # fmt: skip


def test_a_late_reading_is_judged_by_when_it_was_taken() -> None:
    driver = in_access()
    driver.at(10).do("reading.take", reading="act", value=Decimal(274))
    driver.at(12).do("reading.take", reading="act", value=Decimal(180), claim=Claim(ago_us=5 * MIN))
    assert holds(driver, reading="act", at_least=250)


@pytest.mark.parametrize(
    ("unit", "own"), [(None, Decimal(20)), ("Gy·cm2", Decimal(20)), ("uGy·m2", Decimal("0.2")), ("rad", None)]
)
def test_a_value_is_brought_to_its_own_unit_or_to_none(unit: str | None, own: Decimal | None) -> None:
    kap = next(r for r in small().reading if r.id == "kap")
    assert in_own_unit(kap, Decimal(20), unit) == own
    assert in_own_unit(kap, None, unit) is None
    bare = Reading.model_validate({"id": "x", "title": "X", "unit": "furlong"}, strict=False)
    assert in_own_unit(bare, Decimal(20), "furlong") == Decimal(20)


@pytest.mark.parametrize(
    ("value", "said"), [("5.00", "5"), ("5.10", "5.1"), ("500", "500"), ("0.0", "0"), ("1E+3", "1000")]
)
def test_a_number_is_said_without_zeros_that_say_nothing(value: str, said: str) -> None:
    assert number_words(Decimal(value)) == said
