"""Readings whose units cannot both be right: asked once more, then taken; and units that belong nowhere."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from labcheck.caselog.case import Case
from labcheck.caselog.events import ReadingTaken
from tests.caselog.driving import Driver
from tests.caselog.shipped import shipped


def case() -> Driver:
    return Driver("left", checklist=shipped("electrosurgical")).at(60)


def take(reading: str, value: str, unit: str, **more: Any) -> dict[str, Any]:
    return {"reading": reading, "value": Decimal(value), "unit": unit, **more}


def last(of: Case) -> ReadingTaken:
    return of.readings[-1].what


# A mean field of 20 to 600 cm2 at the reference point is what a detector can give (own estimate, wide).
@pytest.mark.parametrize(
    ("kap", "unit"),
    [("9640", "Gy·cm2"), ("964", "Gy·cm2"), ("96.4", "cGy·cm2"), ("96.4", "uGy·m2"), ("9640", "mGy·cm2")],
)
def test_an_area_product_that_does_not_fit_the_kerma_is_asked_once_more(kap: str, unit: str) -> None:
    driver = case()
    driver.do("reading.take", **take("air_kerma", "1240", "mGy"))
    answer = driver.refused("reading.take", **take("kap", kap, unit))
    assert answer.needs == "accept"
    assert answer.reason.endswith(": again to accept")


@pytest.mark.parametrize(
    ("kap", "unit"),
    [("96.4", "Gy·cm2"), ("964", "dGy·cm2"), ("9640", "cGy·cm2"), ("9640", "uGy·m2"), ("96400", "mGy·cm2")],
)
def test_the_same_area_product_in_any_unit_of_a_console_is_taken_at_once(kap: str, unit: str) -> None:
    driver = case()
    driver.do("reading.take", **take("air_kerma", "1240", "mGy"))
    driver.do("reading.take", **take("kap", kap, unit))
    assert (last(driver.case).value, last(driver.case).unit) == (Decimal(kap), unit)
    assert not last(driver.case).outside


def test_the_doubt_is_the_same_whichever_of_the_two_comes_first() -> None:
    driver = case()
    driver.do("reading.take", **take("kap", "96.4", "Gy·cm2"))
    answer = driver.refused("reading.take", **take("air_kerma", "1.24", "mGy"))
    assert answer.needs == "accept"
    driver.do("reading.take", **take("air_kerma", "1.24", "Gy"))


def test_a_doubted_reading_is_taken_the_second_time_as_it_was_said_and_flagged() -> None:
    driver = case()
    driver.do("reading.take", **take("air_kerma", "1240", "mGy"))
    driver.do("reading.take", **take("kap", "96.4", "cGy·cm2", accept=True))
    assert (last(driver.case).value, last(driver.case).unit) == (Decimal("96.4"), "cGy·cm2")
    assert last(driver.case).outside


def test_two_readings_far_apart_in_time_are_not_held_against_each_other() -> None:
    driver = case()
    driver.do("reading.take", **take("air_kerma", "120", "mGy"))
    driver.at(90).do("reading.take", **take("kap", "96.4", "Gy·cm2"))
    assert not last(driver.case).outside


def test_a_voided_reading_raises_no_doubt() -> None:
    driver = case()
    driver.do("reading.take", **take("air_kerma", "1.24", "mGy"))
    driver.do("undo")
    driver.do("reading.take", **take("kap", "96.4", "Gy·cm2"))


@pytest.mark.parametrize(
    ("reading", "unit"), [("air_kerma", "MGy"), ("kap", "mGy"), ("act", "mL"), ("contrast", "L")]
)
def test_a_unit_of_another_quantity_or_size_is_refused_and_the_known_ones_named(
    reading: str, unit: str
) -> None:
    answer = case().refused("reading.take", **take(reading, "100", unit, accept=True))
    assert answer.needs == "none"
    assert f"unit '{unit}' is not known here: use" in answer.reason


@pytest.mark.parametrize(
    ("stage", "step", "unit"),
    [("access", "act", "mL"), ("access", "heparin", "mg"), ("signout", "kap", "mGy")],
)
def test_a_step_answered_from_another_stage_takes_no_stray_unit(stage: str, step: str, unit: str) -> None:
    driver = case()
    given = {"step": step, "stage": stage, "answer": "value", "value": "250", "unit": unit, "accept": True}
    answer = driver.refused("step.answer", **given)
    assert f"unit '{unit}' is not known here: use" in answer.reason
