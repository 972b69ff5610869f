"""What is entered late belongs to the stage, the cusp and the try of its own time, not to those of now."""

from __future__ import annotations

from tests.caselog.driving import Driver, late
from tests.caselog.shipped import shipped


def both_lacerated() -> Driver:
    """Laceration of the left leaflet from minute 30, of the right one from minute 34."""
    driver = Driver("left", "right", checklist=shipped("electrosurgical")).at(30)
    driver.do("stage.open", stage="lacerate", cusp="left", reason="test")
    driver.at(34).do("stage.open", stage="lacerate", cusp="right", reason="test")
    return driver


def tries(driver: Driver) -> list[tuple[str, str, int, int, str | None]]:
    return [(a.stage, a.cusp, a.number, len(a.bursts), a.outcome) for a in driver.case.attempts]


def test_energy_and_a_result_from_before_the_present_stage_are_of_the_cusp_that_was_open_then() -> None:
    driver = both_lacerated()
    left = driver.case.visits[0].seq
    begun = driver.at(35).do("energy.on", claim=late(3))[0]
    driver.do("energy.off", claim=late(3))
    driver.do("attempt.close", outcome="cut", claim=late(3))
    assert tries(driver) == [("lacerate", "left", 1, 1, "cut")]
    assert begun.what.opened == left


def test_a_result_alone_from_before_the_present_stage_ends_the_try_that_waits_there() -> None:
    driver = Driver("left", "right", checklist=shipped("electrosurgical")).at(30)
    driver.do("stage.open", stage="lacerate", cusp="left", reason="test")
    driver.at(31).do("attempt.open")
    driver.at(34).do("stage.open", stage="lacerate", cusp="right", reason="test")
    driver.at(35).do("attempt.open")
    driver.at(36).do("attempt.close", outcome="partial", claim=late(4))
    driver.do("attempt.close", outcome="cut")
    assert tries(driver) == [("lacerate", "left", 1, 0, "partial"), ("lacerate", "right", 1, 0, "cut")]


def test_energy_from_a_time_before_any_stage_with_tries_is_refused_and_says_what_to_do() -> None:
    driver = Driver("left", checklist=shipped("electrosurgical")).at(30)
    driver.do("stage.open", stage="lacerate", reason="test")
    call = driver.case.visits[0].seq
    for do, fields in (
        ("energy.on", {}),
        ("attempt.open", {}),
        ("attempt.close", {"outcome": "cut"}),
        ("attempt.close", {"outcome": "cut", "stage": "lacerate"}),
    ):
        refused = driver.at(35).refused(do, claim=late(8), **fields)
        assert refused.reason == (
            "that is before Laceration, left began: say a later time, "
            f"or amend the time of #{call} if it began earlier"
        )
    opened = driver.case.event(call)
    assert opened is not None
    earlier = str(opened.happened.wall_us - 5 * 60_000_000)
    driver.do("event.amend", target=call, field="happened", value=earlier, reason="heard_late")
    driver.at(35).do("energy.on", claim=late(8))


def test_a_burst_in_a_try_that_has_its_result_belongs_to_that_try() -> None:
    driver = both_lacerated()
    driver.at(35).do("attempt.open", claim=late(4))
    driver.do("attempt.close", outcome="cut", claim=late(2))
    driver.at(36).do("energy.on", claim=late(4))
    driver.do("energy.off", claim=late(4))
    assert tries(driver) == [("lacerate", "left", 1, 1, "cut")]
    assert "was under way then" in driver.at(36).refused("attempt.open", claim=late(4)).reason


def test_a_result_that_names_its_try_needs_no_stage_said() -> None:
    driver = both_lacerated()
    begun = driver.at(35).do("attempt.open", claim=late(3))[0]
    driver.at(36).do("stage.open", stage="deploy", reason="test")
    driver.do("attempt.close", attempt=begun.seq, outcome="cut")
    assert tries(driver) == [("lacerate", "left", 1, 0, "cut")]


def test_a_device_a_note_and_a_fault_entered_late_take_the_cusp_of_their_own_time() -> None:
    driver = both_lacerated()
    driver.at(33).do("attempt.open", claim=late(2))
    driver.at(35)
    for do, fields in (
        ("device.use", {"device": "snare", "action": "changed"}),
        ("note.write", {"text": "snare turned"}),
        ("fault.note", {"fault": "generator_alarm"}),
    ):
        assert driver.do(do, claim=late(2), **fields)[0].what.cusp == "left"
        assert driver.do(do, claim=late(20), **fields)[0].what.cusp is None, "no stage was open then"


def test_a_rescue_entered_late_is_on_the_cusp_that_was_worked_on_then() -> None:
    driver = both_lacerated().at(36)
    assert driver.do("bailout.open", bailout="traverse_fail", claim=late(4))[0].what.cusp == "left"
    driver.do("bailout.close", outcome="given_up")
    driver.do("stage.open", stage="deploy", reason="test")
    assert driver.do("bailout.open", bailout="traverse_fail", claim=late(0.5))[0].what.cusp == "right"
    driver.at(40).do("bailout.close", outcome="given_up")
    first = driver.do("bailout.open", bailout="traverse_fail", claim=late(39))[0]
    assert first.what.cusp == "left", "the first planned"


def test_a_fault_is_not_tied_to_a_try_that_waits_for_its_result_elsewhere() -> None:
    driver = Driver("left", "right", checklist=shipped("electrosurgical")).at(10)
    driver.do("stage.open", stage="traverse", cusp="left", reason="test")
    driver.do("energy.on")
    driver.do("energy.off")
    driver.at(20).do("stage.open", stage="traverse", cusp="right", reason="test")
    assert driver.do("fault.note", fault="generator_alarm")[0].what.attempt is None
    own = driver.do("attempt.open")[0]
    assert driver.do("fault.note", fault="generator_alarm")[0].what.attempt == own.seq
    driver.at(60).do("stage.open", stage="deploy", reason="test")
    what = driver.do("fault.note", fault="imaging")[0].what
    assert (what.attempt, what.cusp) == (None, None)
