"""Wrong cusp: what goes along with what is moved, and what is still known about its time."""

from __future__ import annotations

from decimal import Decimal

from labcheck.caselog.intents import Claim
from labcheck.caselog.steps import bailout_lines
from labcheck.caselog.telling import lag_flagged, tell_now
from labcheck.checklist.model import Checklist
from tests.caselog.driving import Driver, small
from tests.caselog.shipped import shipped

MIN = 60_000_000


def electrosurgical() -> Driver:
    return Driver("left", "right", checklist=shipped("electrosurgical"))


def traversing() -> Driver:
    """In the crossing of the left leaflet, called at minute 30."""
    driver = electrosurgical().at(30)
    driver.do("stage.open", stage="traverse", cusp="left", reason="test")
    return driver


def test_a_late_entry_stays_late_with_its_reason_and_precision() -> None:
    driver = traversing().at(60)
    driver.do("attempt.close", outcome="crossed", claim=Claim(ago_us=25 * MIN, precision_s=300, reason="busy"))
    moved = [e for e in driver.do("cusp.move", cusp="right") if e.kind.startswith("attempt")]
    assert [(e.mode, e.precision_s, e.late_reason) for e in moved] == [("late", 300, "busy")] * 2
    assert all(lag_flagged(e) for e in moved)


def test_a_mark_that_was_described_stays_described() -> None:
    driver = traversing()
    mark = driver.at(31).do("mark.set")[0]
    driver.at(33).do("attempt.close", outcome="crossed", claim=Claim(mark=mark.seq))
    moved = driver.do("cusp.move", cusp="right")[-1]
    assert moved.from_mark == mark.seq
    assert driver.case.marks[0].what is not None
    refused = driver.refused("note.write", text="x", claim=Claim(mark=mark.seq))
    assert "already described" in refused.reason


def test_what_was_entered_live_is_not_called_late_by_a_move() -> None:
    driver = traversing()
    driver.do("attempt.open")
    moved = driver.do("cusp.move", cusp="right")[-1]
    assert (moved.mode, moved.late_reason) == ("amended", None)


def ready_for_traversal() -> Driver:
    driver = electrosurgical().at(1)
    driver.do("reading.take", reading="act", value=Decimal(280))
    driver.do("stage.open", stage="briefing", reason="test")
    driver.do("step.answer", step="pad")
    for cusp in ("left", "right"):
        driver.do("stage.open", stage="position", cusp=cusp, reason="test")
        for step in ("snare", "front", "side"):
            driver.do("step.answer", step=step)
    return driver


def test_the_holds_of_a_moved_call_are_judged_at_the_time_of_the_call() -> None:
    driver = ready_for_traversal()
    late = Claim(ago_us=10 * MIN, reason="busy")
    opened = driver.at(35).do("stage.open", stage="traverse", cusp="right", claim=late)
    assert "hold.passed" not in [e.kind for e in opened], "the value was 24 minutes old then, and is 34 now"
    moved = driver.at(36).do("cusp.move", cusp="left")
    assert "hold.passed" not in [e.kind for e in moved]
    assert moved[-1].mode == "late"


def test_a_value_taken_after_the_call_does_not_let_its_hold_pass_when_it_is_moved() -> None:
    driver = ready_for_traversal()
    driver.at(40).do("stage.open", stage="traverse", cusp="right", reason="test")
    driver.at(50).do("reading.take", reading="act", value=Decimal(290))
    for minute, cusp in ((51, "left"), (52, "right")):
        moved = driver.at(minute).do("cusp.move", cusp=cusp)
        assert [e.what.cusp for e in moved if e.kind == "hold.passed"] == [cusp]


def test_what_took_its_cusp_from_the_moved_stage_goes_along_and_what_came_before_it_stays() -> None:
    driver = electrosurgical().at(10)
    driver.do("stage.open", stage="position", cusp="left", reason="test")
    visit = driver.case.visit
    assert visit is not None
    driver.do("device.use", device="guide_left", action="placed")
    driver.do("note.write", text="snare turned")
    driver.at(12).do("dose.give", drug="heparin", amount=Decimal(1000))
    driver.do("cusp.move", cusp="right", target=visit.seq)
    assert driver.case.devices[0].what.cusp == "right"
    assert driver.case.event(driver.case.notes[0].seq).what.cusp == "right"  # type: ignore[union-attr]
    assert len(driver.case.doses) == 1
    assert driver.case.voided.keys().isdisjoint({driver.case.doses[0].seq})


def assessed() -> Driver:
    driver = Driver("left", "right", checklist=shipped("coronary_protection")).at(50)
    driver.do("stage.open", stage="assess", cusp="left", reason="test")
    driver.do("step.answer", step="flow", answer="value", value="partial")
    return driver


def test_the_flow_seen_in_a_moved_stage_is_that_of_the_right_ostium() -> None:
    driver = assessed()
    visit = driver.case.visit
    assert visit is not None
    driver.do("cusp.move", cusp="right", target=visit.seq)
    assert [(r.what.ostium, r.what.choice) for r in driver.case.readings] == [("right", "partial")]
    assert driver.case.answers["assess", "right", "flow"].what.opened == driver.case.open_visit


def test_a_moved_answer_takes_its_reading_along_and_they_still_follow_each_other() -> None:
    driver = assessed()
    driver.do("cusp.move", cusp="right")
    assert [r.what.ostium for r in driver.case.readings] == ["right"]
    assert ("assess", "left", "flow") not in driver.case.answers
    reading = driver.case.readings[0].seq
    driver.do("event.amend", target=reading, field="choice", value="normal", reason="wrong_value")
    assert driver.case.answers["assess", "right", "flow"].what.value == "normal"
    driver.do("event.void", target=reading, reason="wrong_key")
    assert (driver.case.readings, dict(driver.case.answers)) == ((), {})


def test_the_reading_itself_can_be_named_as_what_is_on_the_wrong_cusp() -> None:
    driver = assessed()
    driver.do("cusp.move", cusp="right", target=driver.case.readings[0].seq)
    assert [r.what.ostium for r in driver.case.readings] == ["right"]


def test_an_answer_moved_without_its_stage_names_no_visit_to_the_other_cusps() -> None:
    driver = electrosurgical().at(10)
    driver.do("stage.open", stage="position", cusp="right", reason="test")
    right = driver.case.open_visit
    driver.do("stage.open", stage="position", cusp="left", reason="test")
    driver.do("step.answer", step="snare")
    driver.do("cusp.move", cusp="right")
    assert driver.case.answers["position", "right", "snare"].what.opened == right
    driver.do("stage.open", stage="traverse", cusp="left", reason="test")
    driver.do("step.answer", step="wire")
    driver.do("cusp.move", cusp="right")
    assert driver.case.answers["traverse", "right", "wire"].what.opened is None


def test_a_rescue_takes_along_the_cusp_that_it_abandoned_and_opens_the_try_on_the_wrong_one() -> None:
    driver = traversing()
    opened = driver.do("bailout.open", bailout="traverse_fail")[0]
    driver.do("attempt.open")
    driver.do("bailout.close", outcome="given_up", lead="abandon_cusp")
    driver.do("cusp.move", cusp="right", target=opened.seq)
    assert (list(driver.case.abandoned), driver.case.bailouts[0].what.cusp) == (["right"], "right")
    assert driver.case.attempts[0].outcome is None
    driver.do("undo")
    assert (list(driver.case.abandoned), driver.case.attempts[0].outcome) == (["left"], "abandoned")
    driver.do("cusp.move", cusp="right")
    assert driver.case.bailouts[0].what.cusp == "right", "the abandonment moves with its rescue"


def test_abandoning_the_wrong_cusp_is_moved_with_the_end_of_the_try_on_the_right_one() -> None:
    driver = electrosurgical().at(10)
    driver.do("stage.open", stage="traverse", cusp="right", reason="test")
    driver.do("attempt.open")
    driver.do("cusp.abandon", cusp="left", reason="anatomy")
    driver.do("cusp.move", cusp="right")
    assert list(driver.case.abandoned) == ["right"]
    assert [(a.cusp, a.outcome) for a in driver.case.attempts] == [("right", "abandoned")]


def test_a_fault_moves_with_its_whole_try() -> None:
    driver = traversing()
    driver.do("energy.on")
    driver.do("energy.off")
    driver.do("fault.note", fault="generator_alarm")
    driver.do("cusp.move", cusp="right")
    assert [(a.cusp, a.number) for a in driver.case.attempts] == [("right", 1)]
    fault = driver.case.event(driver.case.faults[0].seq)
    assert fault is not None
    assert tell_now(driver.case, fault).endswith("right, attempt 1")


def test_two_tries_moved_with_their_stage_keep_numbers_of_their_own() -> None:
    driver = traversing()
    visit = driver.case.visit
    assert visit is not None
    for outcome in ("failed", "crossed"):
        driver.do("attempt.open")
        driver.do("attempt.close", outcome=outcome)
    driver.do("cusp.move", cusp="right", target=visit.seq)
    assert [(a.cusp, a.number, a.outcome) for a in driver.case.attempts] == [
        ("right", 1, "failed"),
        ("right", 2, "crossed"),
    ]


def test_a_step_of_a_rescue_moves_with_the_rescue_and_stays_on_its_card() -> None:
    driver = traversing()
    driver.do("bailout.open", bailout="mitral_caught")
    driver.do("step.answer", stage="bailout:mitral_caught", step="no_energy")
    driver.do("cusp.move", cusp="right")
    rescue = driver.case.bailouts[0]
    assert rescue.what.cusp == "right"
    assert {line.step.id: line.state for line in bailout_lines(driver.case, rescue.seq)}["no_energy"] == "done"


def test_a_rescue_of_the_left_ostium_is_not_answered_by_a_flow_that_moved_to_the_right() -> None:
    driver = Driver("left", "right", checklist=shipped("coronary_protection")).at(50)
    rescue = driver.do("bailout.open", bailout="coronary", ostium="left")[0].seq
    driver.do("stage.open", stage="assess", cusp="left", reason="test")
    driver.do("step.answer", step="flow", answer="value", value="partial")
    assert (rescue, None, "flow") in driver.case.answers
    driver.do("cusp.move", cusp="right", target=driver.case.open_visit)
    assert (rescue, None, "flow") not in driver.case.answers
    assert driver.case.answers["assess", "right", "flow"].what.value == "partial"


def test_an_answer_that_the_same_reading_gave_elsewhere_keeps_its_place() -> None:
    driver = Driver("left", "right", checklist=with_act_asked_in_position()).at(50)
    rescue = driver.do("bailout.open", bailout="coronary", ostium="left")[0].seq
    driver.do("stage.open", stage="position", cusp="left", reason="test")
    driver.do("reading.take", reading="act", value=Decimal(274))
    driver.do("cusp.move", cusp="right", target=driver.case.open_visit)
    assert {key: a.what.value for key, a in driver.case.answers.items()} == {
        (rescue, None, "act"): "274",
        ("position", "right", "act"): "274",
    }


def with_act_asked_in_position() -> Checklist:
    """The small checklist with a reading asked for in a stage per cusp, as in its rescue."""
    whole = small()
    asked = next(stage for stage in whole.stage if stage.id == "access").step[0]
    stages = tuple(
        stage.model_copy(update={"step": (*stage.step, asked)}) if stage.id == "position" else stage
        for stage in whole.stage
    )
    return whole.model_copy(update={"stage": stages})
