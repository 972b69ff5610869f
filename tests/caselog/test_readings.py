"""Readings, samples, doses and devices: what is refused, what is asked for twice, and whose they are."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from labcheck.caselog.events import ReadingTaken
from labcheck.caselog.intents import Claim
from labcheck.caselog.signout import signout_items
from labcheck.checklist.model import Reading
from tests.caselog.driving import Driver, in_access, small
from tests.caselog.shipped import shipped


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"reading": "inr", "value": Decimal(2)}, "no reading 'inr'"),
        ({"reading": "act"}, "ACT: say the value"),
        ({"reading": "act", "value": Decimal(274), "choice": "normal"}, "a number, not one of a list"),
        ({"reading": "flow", "ostium": "left"}, "say one of normal, slow"),
        ({"reading": "flow", "ostium": "left", "choice": "odd"}, "'odd' is none of normal, slow"),
        ({"reading": "flow", "ostium": "left", "choice": "slow", "value": Decimal(1)}, "a finding, not a number"),
        ({"reading": "flow", "ostium": "left", "choice": "slow", "judged_by": "echo"}, "by 'echo': use angio"),
        ({"reading": "act", "value": Decimal(274), "judged_by": "angio"}, "not judged by 'angio': use nothing"),
        ({"reading": "act", "value": Decimal(274), "judge": "passer_by"}, "'passer_by' is no role here: use nurse"),
    ],
)  # fmt: skip
def test_a_reading_that_does_not_fit_is_refused_in_words(fields: dict[str, Any], words: str) -> None:
    assert words in in_access().refused("reading.take", **fields).reason


def test_a_reading_keeps_its_own_unit_where_none_is_said_and_a_finding_has_none() -> None:
    driver = in_access()
    driver.do("reading.take", reading="act", value=Decimal(274))
    driver.do("reading.take", reading="kap", value=Decimal(2000), unit="uGy·m2")
    driver.do("reading.take", reading="flow", choice="slow", ostium="left", unit="s")
    assert [r.what.unit for r in driver.case.readings] == ["s", "uGy·m2", None]


@pytest.mark.parametrize(("value", "outside"), [("69", True), ("70", False), ("600", False), ("601", True)])
def test_a_readings_range_includes_its_ends(value: str, outside: bool) -> None:
    driver = in_access()
    driver.do("reading.take", reading="act", value=Decimal(value), accept=True)
    assert driver.case.readings[0].what.outside is outside


def test_a_counter_may_stand_still_but_not_fall() -> None:
    driver = in_access()
    driver.do("reading.take", reading="kap", value=Decimal(20))
    driver.do("reading.take", reading="kap", value=Decimal(20))
    assert "19.99 is below the last, 20" in driver.refused("reading.take", reading="kap", value=Decimal("19.99")).reason


def test_a_counter_is_held_against_what_it_showed_last_and_not_against_what_was_entered_last() -> None:
    driver = in_access()
    driver.at(10).do("reading.take", reading="kap", value=Decimal(20))
    driver.at(12).do("reading.take", reading="kap", value=Decimal(5), claim=Claim(ago_us=9 * 60_000_000))
    assert "below the last, 20" in driver.refused("reading.take", reading="kap", value=Decimal(15)).reason
    driver.do("reading.take", reading="kap", value=Decimal(21))


def test_a_sample_closes_with_the_first_result_after_it_and_only_of_its_own_reading() -> None:
    driver = in_access()
    assert "KAP is not sent as a sample" in driver.refused("sample.send", reading="kap").reason
    assert "no reading 'inr'" in driver.refused("sample.send", reading="inr").reason
    driver.do("sample.send", reading="act")
    driver.do("reading.take", reading="kap", value=Decimal(20))
    assert driver.case.samples[0].answered is None
    first = driver.do("reading.take", reading="act", value=Decimal(274))[0]
    second = driver.do("reading.take", reading="act", value=Decimal(280))[0]
    assert driver.case.samples[0].answered == first.seq
    assert second.what.sample is None


@pytest.mark.parametrize(("amount", "outside"), [("499", True), ("500", False), ("15000", False), ("15001", True)])
def test_an_unusual_amount_is_asked_for_once_and_flagged(amount: str, outside: bool) -> None:
    driver = in_access()
    if outside:
        refused = driver.refused("dose.give", drug="heparin", amount=Decimal(amount))
        assert (refused.needs, "is outside" in refused.reason) == ("accept", True)
    driver.do("dose.give", drug="heparin", amount=Decimal(amount), accept=True)
    assert (driver.case.doses[0].what.outside, driver.case.doses[0].what.unit) == (outside, "IU")


def test_a_dose_in_another_unit_or_below_zero_or_of_no_known_drug_is_refused() -> None:
    driver = in_access()
    assert "no drug 'saline'" in driver.refused("dose.give", drug="saline").reason
    assert "recorded in IU, not mg" in driver.refused("dose.give", drug="heparin", unit="mg").reason
    assert "below zero" in driver.refused("dose.give", drug="heparin", amount=Decimal(-1), accept=True).reason
    driver.do("dose.give", drug="heparin", amount=Decimal(0), unit="IU", accept=True)


def test_a_device_and_a_note_stand_on_the_cusp_of_the_open_stage() -> None:
    driver = in_access("left", "right")
    assert "no device 'basket'" in driver.refused("device.use", device="basket", action="placed").reason
    assert "no fault 'spark'" in driver.refused("fault.note", fault="spark").reason
    assert "the note is empty" in driver.refused("note.write", text="  ").reason
    driver.do("device.use", device="snare", action="opened")
    driver.do("stage.open", stage="position", cusp="right")
    driver.do("device.use", device="snare", action="placed")
    assert [d.what.cusp for d in driver.case.devices] == [None, "right"]
    assert driver.do("note.write", text="x")[0].what.cusp == "right"


def test_a_reading_of_a_cusp_is_of_the_one_worked_on_unless_another_is_named() -> None:
    whole = small()
    gap = Reading.model_validate({"id": "gap", "title": "Gap", "unit": "mm", "per": "cusp"}, strict=False)
    driver = in_access("left", "right", checklist=whole.model_copy(update={"reading": (*whole.reading, gap)}))
    driver.do("reading.take", reading="gap", value=Decimal(4))
    driver.do("reading.take", reading="gap", value=Decimal(4), cusp="right")
    driver.do("reading.take", reading="act", value=Decimal(274))
    assert [r.what.cusp for r in driver.case.readings] == ["left", "right", None]
    for cusp in ("left", "right"):
        driver.do("cusp.abandon", cusp=cusp, reason="calcium")
    assert "Gap: say which cusp" in driver.refused("reading.take", reading="gap", value=Decimal(4)).reason


def test_of_two_samples_on_their_way_the_later_one_has_the_result_and_the_earlier_one_stays_open() -> None:
    driver = in_access()
    for _ in range(2):
        driver.do("sample.send", reading="act")
    taken = driver.do("reading.take", reading="act", value=Decimal(274))[0]
    assert [s.answered for s in driver.case.samples] == [None, taken.seq]


def test_a_counter_that_fell_is_taken_once_it_is_said_that_it_was_reset() -> None:
    driver = Driver(checklist=shipped("electrosurgical"))
    driver.do("stage.open")
    driver.do("reading.take", reading="kap", value=Decimal(120))
    refused = driver.refused("reading.take", reading="kap", value=Decimal(3))
    assert (refused.needs, "below the last, 120" in refused.reason) == ("reset", True)
    driver.do("reading.take", reading="kap", value=Decimal(3), reset=True)
    assert [one.what.reset for one in driver.case.readings] == [False, True]


def test_a_reading_amended_out_of_its_range_is_asked_once_and_flagged_and_amended_back_it_is_not() -> None:
    driver = in_access()
    driver.do("reading.take", reading="act", value=Decimal(274))
    amend = {"target": driver.case.readings[0].seq, "field": "value", "reason": "misheard"}
    refused = driver.refused("event.amend", value="2740", **amend)
    assert (refused.needs, "ACT 2740 is outside" in refused.reason) == ("accept", True)
    driver.do("event.amend", value="2740", accept=True, **amend)
    one = driver.case.readings[0].what
    assert (one.value, one.outside) == (2740, True)
    driver.do("event.amend", value="280", **amend)
    one = driver.case.readings[0].what
    assert (one.value, one.outside) == (280, False)
    driver.do("undo")
    assert driver.case.readings[0].what.outside


def test_a_dose_amended_out_of_its_range_is_asked_once_and_flagged() -> None:
    driver = Driver(checklist=shipped("electrosurgical"))
    driver.do("stage.open")
    driver.do("dose.give", drug="heparin", amount=Decimal(5000))
    amend = {"target": driver.case.doses[0].seq, "field": "amount", "value": "50000", "reason": "misheard"}
    assert driver.refused("event.amend", **amend).needs == "accept"
    driver.do("event.amend", accept=True, **amend)
    assert (driver.case.doses[0].what.amount, driver.case.doses[0].what.outside) == (50000, True)


def test_a_value_added_after_the_seal_is_asked_about_as_one_before_it() -> None:
    driver = in_access()
    for item in signout_items(driver.case, driver.stamp()):
        if item.settled is None:
            driver.do("signout.settle", item=item.id, reason="test")
    driver.do("case.seal")
    fact = {"fact": ReadingTaken(reading="act", value=Decimal(2740), unit="s"), "reason": "told_later"}
    claim = Claim(ago_us=60_000_000, reason="busy")
    assert driver.refused("addendum.add", claim=claim, **fact).needs == "accept"
    (event,) = driver.do("addendum.add", claim=claim, accept=True, **fact)
    assert event.what.fact.outside
