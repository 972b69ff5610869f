"""Undo, void, amend, moving to the other cusp; the seal and what may follow it."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from labcheck.caselog.case import Case
from labcheck.caselog.events import ReadingTaken
from labcheck.caselog.folding import begin, fold
from labcheck.caselog.intents import Claim
from labcheck.checklist.unfolding import Slot
from tests.caselog.driving import Driver, crossing

MIN = 60_000_000


def meaning(case: Case) -> Case:
    """The case without its log and its account of corrections: what still counts."""
    return replace(case, log=(), voided={}, amended={})


def test_undo_takes_back_the_whole_press_and_restores_the_stage_with_its_start() -> None:
    driver = Driver()
    driver.at(0).do("stage.open")
    before = meaning(driver.case)
    driver.at(5).do("stage.open")
    driver.do("undo")
    assert meaning(driver.case) == before
    assert [e.kind for e in driver.case.log[-2:]] == ["event.voided", "event.voided"]


def test_a_second_undo_goes_one_press_further_back_and_the_opening_stays() -> None:
    driver = Driver()
    opened = meaning(driver.case)
    driver.at(0).do("stage.open")
    driver.do("note.write", text="a")
    driver.do("undo")
    driver.do("undo")
    assert meaning(driver.case) == opened
    assert "nothing to undo" in driver.refused("undo").reason


def test_nothing_is_ever_removed_from_the_log() -> None:
    driver = crossing()
    driver.do("energy.on")
    count = len(driver.case.log)
    driver.do("undo")
    assert len(driver.case.log) > count
    assert driver.case.log[:count] == tuple(driver.events[:count])


def test_a_void_of_a_void_restores() -> None:
    driver = crossing()
    note = driver.do("note.write", text="kept")[0]
    before = meaning(driver.case)
    void = driver.do("event.void", target=note.seq, reason="slip")[0]
    assert driver.case.notes == ()
    driver.do("event.void", target=void.seq, reason="it was right")
    assert meaning(driver.case) == before


def test_an_entry_that_others_lean_on_is_not_voided_and_they_are_named() -> None:
    driver = crossing()
    burst = driver.do("energy.on")[-1]
    off = driver.do("energy.off")[0]
    assert (
        f"#{off.seq} leans on #{burst.seq}"
        in driver.refused("event.void", target=burst.seq, reason="x").reason
    )


def test_an_amended_value_counts_and_the_original_stays_as_written() -> None:
    driver = crossing()
    reading = driver.do("reading.take", reading="act", value=Decimal(274))[0]
    driver.do("event.amend", target=reading.seq, field="value", value="247", reason="misheard")
    assert driver.case.readings[0].what.value == Decimal(247)
    original = driver.case.event(reading.seq)
    assert original is not None
    assert original.what.value == Decimal(274)


def test_the_latest_amendment_wins_and_voiding_it_brings_the_one_before_back() -> None:
    driver = crossing()
    reading = driver.do("reading.take", reading="act", value=Decimal(274))[0]
    driver.do("event.amend", target=reading.seq, field="value", value="247", reason="misheard")
    second = driver.do("event.amend", target=reading.seq, field="value", value="250", reason="again")[0]
    assert driver.case.readings[0].what.value == Decimal(250)
    driver.do("event.void", target=second.seq, reason="no")
    assert driver.case.readings[0].what.value == Decimal(247)


def test_an_amendment_that_is_no_such_value_is_refused() -> None:
    driver = crossing()
    reading = driver.do("reading.take", reading="act", value=Decimal(274))[0]
    for value in ("many", "", "NaN", "1e400"):
        driver.refused("event.amend", target=reading.seq, field="value", value=value, reason="x")
    driver.refused("event.amend", target=reading.seq, field="reading", value="kap", reason="x")


def test_an_amended_time_moves_the_moment_and_may_not_end_a_thing_before_it_began() -> None:
    driver = crossing()
    driver.at(6).do("energy.on")
    off = driver.at(7).do("energy.off")[0]
    wall = off.happened.wall_us
    too_early = str(wall - 2 * MIN)
    assert (
        "before"
        in driver.refused("event.amend", target=off.seq, field="happened", value=too_early, reason="x").reason
    )
    driver.do(
        "event.amend", target=off.seq, field="happened", value=str(wall - 30_000_000), reason="late hand"
    )
    burst = driver.case.attempts[0].bursts[0]
    assert burst.end is not None
    assert burst.end.boot_us == (off.happened.boot_us or 0) - 30_000_000


def test_a_press_on_the_wrong_cusp_moves_with_its_whole_attempt_and_keeps_its_times() -> None:
    driver = crossing("right", "left")
    on = driver.at(6).do("energy.on", watts=30)
    off = driver.at(6.05).do("energy.off")[0]
    events = driver.do("cusp.move", cusp="left")
    assert [e.kind for e in events] == ["event.voided"] * 3 + [
        "attempt.opened",
        "energy.started",
        "energy.stopped",
    ]
    attempt = driver.case.attempts[0]
    assert (attempt.cusp, attempt.number) == ("left", 1)
    assert attempt.start == on[0].happened
    assert attempt.bursts[0].end == off.happened
    assert attempt.bursts[0].watts == 30
    assert "moved to left cusp" in events[0].what.reason


def test_a_stage_moved_to_the_other_cusp_takes_its_holds_and_passed_stages_there() -> None:
    driver = crossing("right", "left")
    assert Slot("position", "right") in driver.case.skipped
    driver.at(6).do("step.answer", stage="access", step="pad")  # ticked only after the call
    driver.at(7).do("cusp.move", cusp="left")
    assert set(driver.case.skipped) == {Slot("position", "left")}
    assert [(h.what.hold, h.what.cusp, h.what.reason) for h in driver.case.holds_passed] == [
        ("act_ok", "left", "test"),
        ("pad_on", "left", "test"),
    ]
    assert driver.case.visits[-1].slot == Slot("cross", "left")
    driver.at(8).do("undo")
    assert set(driver.case.skipped) == {Slot("position", "right")}


def test_a_stage_moved_there_and_back_is_judged_as_at_first() -> None:
    driver = crossing("right", "left")
    first = driver.case.holds_passed, driver.case.skipped
    driver.at(7).do("cusp.move", cusp="left")
    driver.at(8).do("cusp.move", cusp="right")
    assert set(driver.case.skipped) == set(first[1]) == {Slot("position", "right")}
    assert [h.what for h in driver.case.holds_passed] == [h.what for h in first[0]]
    assert [(v.slot, v.number) for v in driver.case.visits if v.stage == "cross"] == [(Slot("cross", "right"), 1)]


def test_the_end_of_a_stage_cannot_be_voided_once_another_stage_has_come_and_gone() -> None:
    driver = Driver()
    driver.at(0).do("stage.open")
    closed = driver.at(1).do("stage.close")[0]
    driver.at(2).do("stage.open", stage="position")
    driver.at(3).do("stage.close")
    assert "would never end" in driver.refused("event.void", target=closed.seq, reason="slip").reason


def test_the_end_of_the_last_stage_can_be_voided_and_the_stage_goes_on() -> None:
    driver = Driver()
    opened = driver.at(0).do("stage.open")[-1]
    closed = driver.at(1).do("stage.close")[0]
    driver.at(2).do("event.void", target=closed.seq, reason="slip")
    assert driver.case.visit is not None
    assert driver.case.visit.seq == opened.seq


def test_the_end_of_a_burst_cannot_be_voided_once_another_burst_has_come_and_gone() -> None:
    driver = crossing()
    driver.at(6).do("energy.on")
    off = driver.at(7).do("energy.off")[0]
    driver.at(8).do("energy.on")
    driver.at(9).do("energy.off")
    assert "would never end" in driver.refused("event.void", target=off.seq, reason="slip").reason


def test_moving_to_the_cusp_it_is_on_is_refused() -> None:
    driver = crossing("right", "left")
    driver.do("energy.on")
    assert "already" in driver.refused("cusp.move", cusp="right").reason


def test_a_case_is_not_sealed_while_something_is_open_and_each_item_can_be_settled_by_a_reason() -> None:
    driver = Driver()
    driver.at(0).do("stage.open")
    driver.do("run.start", run="cpr")
    refused = driver.refused("case.seal")
    assert refused.unmet
    for line in refused.unmet:
        driver.do("signout.settle", item=line.hold, reason="test")
    driver.do("case.seal")
    assert driver.case.seal is not None


def test_after_the_seal_only_amendments_voids_and_late_facts_are_taken() -> None:
    driver = Driver()
    for line in driver.refused("case.seal").unmet:
        driver.do("signout.settle", item=line.hold, reason="test")
    driver.do("case.seal")
    assert "sealed" in driver.refused("note.write", text="x").reason
    assert "sealed" in driver.refused("undo").reason
    fact = ReadingTaken(reading="act", value=Decimal(302), unit="s")
    assert "say when" in driver.refused("addendum.add", fact=fact, reason="lab called").reason
    driver.at(60 * 24).do("addendum.add", fact=fact, reason="lab called", claim=Claim(ago_us=30 * MIN))
    assert driver.case.readings[-1].what.value == Decimal(302)
    assert driver.case.addenda == (driver.case.head_seq,)
    assert driver.case.seal is not None


def test_a_handover_keeps_the_open_items_that_were_read_back() -> None:
    driver = crossing()
    driver.do("sample.send", reading="act")
    event = driver.do("handover.make", incoming="N2")[0]
    assert any("ACT" in line for line in event.what.open_items)
    assert driver.case.recorder == "N2"
    assert driver.do("note.write", text="x")[0].recorder == "N2"


def test_folding_one_by_one_and_all_at_once_give_the_same_case() -> None:
    driver = crossing()
    driver.do("energy.on")
    driver.do("undo")
    driver.do("note.write", text="x")
    slow = begin(driver.case.key, driver.checklist)
    for event in driver.case.log:
        slow = fold(slow, event)
    assert slow == driver.case


def test_a_step_answered_by_a_reading_follows_its_amendment_and_its_void() -> None:
    driver = Driver()
    driver.at(0).do("stage.open")
    reading = driver.do("reading.take", reading="act", value=Decimal(274))[0]
    driver.do("event.amend", target=reading.seq, field="value", value="247", reason="misheard")
    assert driver.case.answers["access", None, "act"].what.value == "247"
    driver.do("event.void", target=reading.seq, reason="another patient's")
    assert ("access", None, "act") not in driver.case.answers
    assert driver.case.readings == ()


def test_voiding_a_decision_brings_back_the_stages_it_skipped() -> None:
    driver = Driver()
    driver.at(0).do("stage.open")
    made = driver.do("decision.make", decision="protect", choice="declined", reason="small arch")[0]
    assert driver.case.skipped
    driver.do("event.void", target=made.seq, reason="misheard")
    assert driver.case.skipped == {}
    assert driver.case.decisions == {}
