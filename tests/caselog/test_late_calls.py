"""A late entry is judged by what was known at its own time, and takes nothing away from the present."""

from __future__ import annotations

from decimal import Decimal

from labcheck.caselog.figures import figures
from labcheck.caselog.intents import Claim
from labcheck.caselog.ordering import up_to
from tests.caselog.driving import Driver, late
from tests.caselog.shipped import shipped


def electrosurgical(*cusps: str) -> Driver:
    """A case with the shipped checklist."""
    return Driver(*(cusps or ("left",)), checklist=shipped("electrosurgical")).at(0)


def in_position() -> Driver:
    """In the stage before the first of energy, with all steps of its hold answered."""
    driver = electrosurgical()
    driver.do("stage.open", stage="briefing", reason="test")
    driver.do("step.answer", step="pad")
    driver.do("stage.open", stage="position", reason="test")
    for step in ("snare", "front", "side"):
        driver.do("step.answer", step=step)
    return driver


def figure(driver: Driver, start: str) -> str:
    """The words of the first figure whose id begins so; empty where there is none."""
    return next((f.words for f in figures(driver.case, driver.stamp()) if f.id.startswith(start)), "")


def test_a_late_call_is_not_let_through_by_a_reading_taken_after_it() -> None:
    driver = in_position()
    driver.at(20).do("reading.take", reading="act", value=Decimal(280))
    driver.at(25).refused("stage.open", claim=late(15))
    passed = driver.do("stage.open", claim=late(15), reason="no_time")
    assert "hold.passed" in [e.kind for e in passed]


def test_a_late_call_is_not_held_by_a_reading_taken_after_it() -> None:
    driver = in_position()
    driver.at(5).do("reading.take", reading="act", value=Decimal(280))
    driver.at(20).do("reading.take", reading="act", value=Decimal(210))
    assert "hold.passed" not in [e.kind for e in driver.at(25).do("stage.open", claim=late(15))]


def test_a_call_described_at_a_mark_from_before_a_restart_is_judged_by_what_was_read_before_the_mark() -> (
    None
):
    driver = in_position()
    driver.at(49).do("reading.take", reading="act", value=Decimal(280))
    driver.at(50).do("mark.set")
    mark = driver.case.head_seq
    driver.boot_id = "boot-b"
    driver.at(51.5).do("reading.take", reading="act", value=Decimal(180))
    opened = driver.at(54).do("stage.open", claim=Claim(mark=mark))
    assert "hold.passed" not in [e.kind for e in opened]


def test_what_was_not_yet_given_or_measured_at_a_moment_is_not_in_the_case_up_to_it() -> None:
    driver = in_position()
    before = driver.at(5).do("dose.give", drug="heparin", amount=Decimal(5000))[0]
    moment = driver.at(6).stamp().moment()
    driver.at(7).do("dose.give", drug="heparin", amount=Decimal(2000))
    driver.at(8).do("reading.take", reading="act", value=Decimal(280))
    then = up_to(driver.case, moment)
    assert [d.seq for d in then.doses] == [before.seq]
    assert not then.readings
    assert up_to(driver.case, driver.stamp().moment()) is driver.case


def test_the_age_of_the_last_heparin_is_that_of_the_one_given_last() -> None:
    driver = electrosurgical()
    driver.at(50).do("dose.give", drug="heparin", amount=Decimal(2000))
    driver.at(52).do("dose.give", drug="heparin", amount=Decimal(5000), claim=late(45))
    driver.at(60).do("dose.give", drug="protamine", amount=Decimal(50))
    assert "last heparin 10 min ago" in figure(driver, "ratio:protamine")


def test_a_forgotten_sample_does_not_silence_the_next_reading() -> None:
    driver = electrosurgical()
    driver.at(5).do("sample.send", reading="act")
    driver.at(10).do("sample.send", reading="act")
    driver.at(12).do("reading.take", reading="act", value=Decimal(280))
    driver.at(60)
    assert "due again since" in figure(driver, "tally:act")
    driver.do("sample.send", reading="act")
    assert "due" not in figure(driver, "tally:act")
