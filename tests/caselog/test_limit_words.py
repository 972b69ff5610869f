"""The short form of a source, and limits said with where they come from."""

from __future__ import annotations

from decimal import Decimal

import pytest

from labcheck.caselog.folding import begin
from labcheck.caselog.holds import unmet
from labcheck.caselog.levels import source_line
from labcheck.caselog.limit_words import tag, unmet_words, usual_words
from labcheck.checklist.unfolding import Slot
from labcheck.reference.named_limits import NAMED_LIMITS, PatientFigures, resolve
from tests.caselog.driving import Driver
from tests.caselog.shipped import NAMES, shipped


@pytest.mark.parametrize(
    ("line", "short"),
    [
        # The citations are those of the shipped checklists and of labcheck.reference, as they stand there.
        ("Gurm, JACC 2011 (58,957): keep below 2 x clearance (seen); verify locally", "Gurm 2011"),
        ("Cigarroa 1989: 5 mL x kg over creatinine, 300 mL at most (seen); verify locally", "Cigarroa 1989"),
        ("Stecker, J Vasc Interv Radiol 2009, and NCRP report 168, 2010 (from memory); verify locally", "Stecker 2009"),
        ("Laboratories aim at 250 to 300 s (common practice, no source); verify locally", "local"),
        ("Technique reports, from memory: none was read (from memory); verify locally", "Technique reports"),
        ("Lisko (8 antegrade cases): 39 min (seen); verify locally", "Lisko"),
        ("no source given; verify locally", "no source"),
    ],
)
def test_the_short_form_is_author_and_year_or_local(line: str, short: str) -> None:
    assert tag(line) == short


@pytest.mark.parametrize("name", NAMES)
def test_every_source_of_a_shipped_checklist_has_a_short_form_that_fits_beside_a_limit(name: str) -> None:
    case = begin("K7Q2-M4", shipped(name))
    for source in shipped(name).source:
        short = tag(source_line(case, source.id))
        assert 3 <= len(short) <= 24, source


def test_every_named_limit_has_a_short_form() -> None:
    known = PatientFigures(
        weight_kg=Decimal(70), height_cm=Decimal(170), age_years=Decimal(80), sex="male",
        creatinine=Decimal(1), creatinine_unit="mg/dL",
    )  # fmt: skip
    for name in NAMED_LIMITS:
        limit = resolve(name, known)
        assert tag(limit.source.line()) not in ("", "no source")  # type: ignore[union-attr]


def held() -> Driver:
    """Before the crossing, with nothing that its holds wait for."""
    driver = Driver("left", checklist=shipped("electrosurgical"))
    driver.do("stage.open", reason="test")
    driver.at(5).do("stage.open", reason="test")
    return driver


def test_a_hold_with_a_number_in_it_names_its_source_and_one_without_does_not() -> None:
    driver = held()
    slot = Slot("traverse", "left")
    said = {one.hold: unmet_words(driver.case, "traverse", one) for one in unmet(driver.case, slot, driver.stamp())}
    assert said["act"].endswith("(local)")
    assert "(" not in said["pad"]


def test_a_range_is_said_with_its_whole_source() -> None:
    case = held().case
    act = next(r for r in case.checklist.reading if r.id == "act")
    words = usual_words(case, act.low, act.high, act.source)
    assert words.startswith("usual 70 to 999: ")
    assert words.endswith("verify locally")
    assert usual_words(case, None, None, act.source) == ""
