"""Nothing is on twice at once and nothing lies outside what it is part of, whatever is entered late or amended."""

from __future__ import annotations

from labcheck.caselog.tallies import totals
from tests.caselog.driving import START_US, Driver, in_access, late
from tests.caselog.shipped import shipped

MIN = 60_000_000


def minute(at: float) -> str:
    """So many minutes since the case was opened, as an amendment says a time."""
    return str(START_US + round(at * MIN))


def starts(driver: Driver) -> list[tuple[str, float, float | None]]:
    return [
        (v.stage, (v.start.wall_us - START_US) / MIN, v.end and (v.end.wall_us - START_US) / MIN)
        for v in driver.case.visits
    ]


def test_a_stage_is_not_entered_into_the_middle_of_one_that_has_ended() -> None:
    driver = in_access()
    closed = driver.at(30).do("stage.close")[0]
    refused = driver.at(32).refused("stage.open", stage="position", reason="test", claim=late(20))
    assert refused.reason == (
        f"Access was still open then: say a later time, or amend the time of #{closed.seq} if it ended earlier"
    )
    driver.do("event.amend", target=closed.seq, field="happened", value=minute(12), reason="heard_late")
    driver.at(32).do("stage.open", stage="position", reason="test", claim=late(20))
    assert starts(driver) == [("access", 0, 12), ("position", 12, None)]


def test_an_amended_call_ends_the_stage_before_it_and_passes_its_holds_at_the_same_moment() -> None:
    driver = in_access()
    events = driver.at(30).do("stage.open", stage="ready", reason="test")
    opened = next(e for e in events if e.kind == "stage.opened")
    driver.at(40).do("event.amend", target=opened.seq, field="happened", value=minute(20), reason="heard_late")
    assert starts(driver) == [("access", 0, 20), ("ready", 20, None)]
    assert {h.at.wall_us for h in driver.case.holds_passed} == {START_US + 20 * MIN}
    driver.do("undo")
    assert starts(driver) == [("access", 0, 30), ("ready", 30, None)]


def test_an_amended_time_does_not_let_two_stages_overlap() -> None:
    driver = in_access()
    closed = driver.at(10).do("stage.close")[0]
    opened = driver.at(20).do("stage.open", stage="position", reason="test")[-1]
    wrong = {"field": "happened", "reason": "heard_late"}
    access = driver.case.visits[0].seq
    for target, at in ((opened.seq, 5), (closed.seq, 25)):
        refused = driver.at(30).refused("event.amend", target=target, value=minute(at), **wrong)
        assert f"the stages of #{access} and #{opened.seq} would overlap: amend the other first" in refused.reason
    driver.do("event.amend", target=closed.seq, value=minute(4), **wrong)
    driver.do("event.amend", target=opened.seq, value=minute(5), **wrong)
    assert starts(driver) == [("access", 0, 4), ("position", 5, None)]


def test_the_try_that_began_with_its_energy_moves_with_it_and_one_that_did_not_is_named() -> None:
    driver = Driver("left", checklist=shipped("electrosurgical")).at(30)
    driver.do("stage.open", stage="lacerate", reason="test")
    begun, first = driver.at(32).do("energy.on")
    driver.do("energy.off")
    wrong = {"field": "happened", "reason": "heard_late"}
    driver.at(40).do("event.amend", target=first.seq, value=minute(31), **wrong)
    attempt = driver.case.attempts[0]
    assert (attempt.start.wall_us, attempt.bursts[0].start.wall_us) == (START_US + 31 * MIN,) * 2
    second = driver.at(41).do("energy.on")[0]
    refused = driver.refused("event.amend", target=second.seq, value=minute(30.5), **wrong)
    assert f"#{second.seq} would come before its attempt #{begun.seq} began: amend the other first" in refused.reason
    visit = driver.case.visits[0].seq
    refused = driver.refused("event.amend", target=visit, value=minute(35), **wrong)
    assert f"attempt #{begun.seq} would come before its stage #{visit} began" in refused.reason


def paced() -> Driver:
    """Paced from minute 32 to 33."""
    driver = in_access().at(32)
    driver.do("run.start", run="pacing")
    driver.at(33).do("run.stop", run="pacing")
    return driver.at(35)


def test_the_same_seconds_of_a_run_are_not_counted_twice() -> None:
    driver = paced()
    spell = driver.case.spells[0].seq
    refused = driver.refused("run.start", run="pacing", claim=late(2.5))
    assert f"Pacing was on then already (#{spell}): say another time" in refused.reason
    driver.do("run.start", run="pacing", claim=late(4))
    refused = driver.at(35).refused("run.stop", run="pacing", claim=late(2.5))
    assert f"Pacing went on again before that (#{spell}): say an earlier time" in refused.reason
    stopped = driver.at(35).do("run.stop", run="pacing", claim=late(3.5))[0]
    refused = driver.refused("event.amend", target=stopped.seq, field="happened", value=minute(32.5), reason="x")
    assert "the spells of #" in refused.reason
    driver.do("run.start", run="cpr", claim=late(2.5))


def test_the_same_seconds_of_energy_are_not_counted_twice() -> None:
    driver = Driver("left", checklist=shipped("electrosurgical")).at(30)
    driver.do("stage.open", stage="lacerate", reason="test")
    driver.at(32).do("energy.on")
    driver.at(33).do("energy.off")
    burst = driver.case.attempts[0].bursts[0].seq
    driver.do("attempt.close", outcome="cut")
    refused = driver.at(35).refused("energy.on", claim=late(2.5))
    assert f"energy was on then already (#{burst}): say another time" in refused.reason
    driver.at(35).do("energy.on", claim=late(4))
    refused = driver.at(35).refused("energy.off", claim=late(2.5))
    assert f"energy went on again before that (#{burst}): say an earlier time" in refused.reason
    driver.do("energy.off")
    assert totals(driver.case, driver.stamp().moment()), "a live press is always taken"


def test_an_overlap_that_an_old_log_holds_does_not_lock_other_times() -> None:
    driver = paced()
    driver.do("run.start", run="pacing", claim=late(4))
    driver.at(36).do("run.stop", run="pacing")
    note = driver.do("note.write", text="x")[0]
    driver.do("event.amend", target=note.seq, field="happened", value=minute(34), reason="heard_late")
    second = driver.case.spells[1]
    assert second.end_seq is not None
    driver.do("event.amend", target=second.end_seq, field="happened", value=minute(31.5), reason="heard_late")
