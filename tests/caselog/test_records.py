"""Readings, doses, samples, faults and answers; late entries and marks."""

from __future__ import annotations

from decimal import Decimal

from labcheck.caselog.intents import Claim
from labcheck.caselog.stamps import span
from labcheck.caselog.steps import bailout_lines
from tests.caselog.driving import START_US, Driver, in_access

MIN = 60_000_000


def test_a_value_outside_its_soft_range_is_asked_for_once_and_taken_and_flagged_the_second_time() -> None:
    driver = in_access()
    assert driver.refused("reading.take", reading="act", value=Decimal(21)).needs == "accept"
    driver.do("reading.take", reading="act", value=Decimal(21), accept=True)
    assert driver.case.readings[-1].what.outside


def test_a_reading_closes_the_sample_that_was_sent_and_answers_the_step_that_asked() -> None:
    driver = in_access()
    driver.do("sample.send", reading="act")
    driver.at(3).do("reading.take", reading="act", value=Decimal(210))
    assert driver.case.samples[0].answered == driver.case.readings[0].seq
    assert driver.case.answers["access", None, "act"].what.value == "210"


def test_a_cumulative_reading_may_not_fall_in_any_unit_without_a_stated_reset() -> None:
    driver = in_access()
    driver.do("reading.take", reading="kap", value=Decimal(20), unit="Gy·cm2")
    assert (
        "below the last"
        in driver.refused("reading.take", reading="kap", value=Decimal(1900), unit="uGy·m2").reason
    )
    driver.do("reading.take", reading="kap", value=Decimal(2100), unit="uGy·m2")
    driver.do("reading.take", reading="kap", value=Decimal(1), unit="Gy·cm2", reset=True)


def test_an_unknown_unit_is_refused_and_never_guessed() -> None:
    refused = in_access().refused("reading.take", reading="kap", value=Decimal(20), unit="rad")
    assert "unit 'rad' is not known here: use Gy·cm2, uGy·m2" in refused.reason


def test_flow_names_its_ostium_and_answers_only_that_ostiums_step() -> None:
    driver = Driver()
    driver.do("stage.open", stage="flow", reason="test")
    assert "which ostium" in driver.refused("reading.take", reading="flow", choice="normal").reason
    driver.do("reading.take", reading="flow", choice="normal", ostium="right", judged_by="angio")
    assert ("flow", None, "right_flow") in driver.case.answers
    assert ("flow", None, "left_flow") not in driver.case.answers


def test_a_dose_may_be_recorded_without_its_amount_and_none_is_invented() -> None:
    driver = in_access()
    driver.do("dose.give", drug="heparin")
    assert driver.case.doses[0].what.amount is None
    assert driver.case.doses[0].what.unit is None


def test_a_fault_is_tied_to_the_attempt_it_happened_in() -> None:
    driver = in_access()
    driver.do("stage.open", stage="cross", reason="test")
    driver.do("energy.on")
    driver.do("fault.note", fault="generator")
    assert driver.case.faults[0].what.attempt == driver.case.attempts[0].seq


def test_a_step_not_done_needs_a_reason_and_keeps_it() -> None:
    driver = in_access()
    assert driver.refused("step.answer", step="pad", answer="not_done").needs == "reason"
    driver.do("step.answer", step="pad", answer="not_done", reason="bipolar only")
    assert driver.case.answers["access", None, "pad"].what.reason == "bipolar only"


def test_a_projection_is_two_signed_degrees_within_bounds() -> None:
    driver = Driver()
    driver.do("stage.open", stage="position", reason="test")
    for bad in ("20", "95 0", "0 46", "a b", "1 2 3", "1e1 2"):
        driver.refused("step.answer", step="view", answer="value", value=bad)
    driver.do("step.answer", step="view", answer="value", value="-20 15")


def test_a_late_entry_keeps_both_times_and_its_reason() -> None:
    driver = in_access()
    driver.at(10)
    event = driver.do("dose.give", drug="heparin", claim=Claim(ago_us=3 * MIN, reason="busy"))[0]
    assert event.mode == "late"
    assert event.lag_us == 3 * MIN
    assert event.late_reason == "busy"
    assert event.entered.wall_us - START_US == 10 * MIN


def test_a_late_entry_before_the_case_was_opened_needs_a_reason() -> None:
    driver = in_access()
    driver.at(2)
    assert driver.refused("dose.give", drug="heparin", claim=Claim(ago_us=9 * MIN)).needs == "reason"
    driver.do("dose.give", drug="heparin", claim=Claim(ago_us=9 * MIN, reason="given on the ward"))


def test_a_time_still_to_come_is_refused() -> None:
    driver = in_access()
    claim = Claim(wall_us=START_US + 60 * MIN)
    assert "still to come" in driver.at(10).refused("note.write", text="x", claim=claim).reason


def test_a_stage_cannot_be_said_to_have_begun_before_the_one_it_follows() -> None:
    driver = in_access()
    driver.at(10).do("stage.open")
    assert "before" in driver.at(12).refused("stage.open", claim=Claim(ago_us=5 * MIN), reason="x").reason
    driver.at(12).do("stage.open", claim=Claim(ago_us=1 * MIN), reason="x")
    first, second = driver.case.visits[-2:]
    assert first.end == second.start


def test_an_attempt_nobody_pressed_is_written_late_with_its_number() -> None:
    driver = in_access()
    driver.do("stage.open", stage="cross", reason="test")
    driver.do("energy.on")
    driver.do("energy.off")
    driver.do("attempt.close", outcome="failed")
    driver.at(8).do("stage.open", stage="position")
    events = driver.at(15).do(
        "attempt.close",
        stage="cross",
        cusp="left",
        outcome="crossed",
        claim=Claim(ago_us=3 * MIN, reason="busy"),
    )
    assert [e.kind for e in events] == ["attempt.opened", "attempt.closed"]
    assert all(e.mode == "late" for e in events)
    assert driver.case.attempts[-1].number == 2


def test_a_mark_is_described_once_and_lends_its_time() -> None:
    driver = in_access()
    mark = driver.at(4).do("mark.set")[0]
    event = driver.at(9).do("dose.give", drug="heparin", claim=Claim(mark=mark.seq))[0]
    assert event.happened == mark.happened
    assert event.from_mark == mark.seq
    assert driver.case.marks[0].what == event.seq
    assert (
        "already described" in driver.refused("dose.give", drug="heparin", claim=Claim(mark=mark.seq)).reason
    )


def test_durations_follow_the_boot_clock_through_a_step_of_the_wall_clock() -> None:
    driver = in_access()
    driver.wall_shift_us = -60 * MIN
    driver.at(10).do("stage.open")
    visit = driver.case.visits[0]
    assert visit.end is not None
    assert span(visit.start, visit.end).model_dump() == {"us": 10 * MIN, "basis": "boot"}


def test_a_duration_over_a_restart_is_wall_time_and_says_so() -> None:
    driver = in_access()
    driver.boot_id = "boot-b"
    driver.at(10).do("stage.open")
    visit = driver.case.visits[0]
    assert visit.end is not None
    assert span(visit.start, visit.end).model_dump() == {"us": 10 * MIN, "basis": "wall"}


def test_a_live_press_is_taken_even_when_the_wall_clock_was_set_back_over_a_restart() -> None:
    driver = in_access()
    driver.boot_id = "boot-b"
    driver.wall_shift_us = -120 * MIN
    driver.at(10).do("stage.open")
    assert driver.case.visits[0].end is not None


def test_a_paper_record_has_wall_times_only_in_its_own_zone() -> None:
    driver = in_access()
    claim = Claim(wall_us=START_US + 5 * MIN, transcribed=True, off_s=19800, tz="")
    event = driver.at(20).do("note.write", text="from paper", claim=claim)[0]
    assert (event.mode, event.happened.boot_us, event.happened.off_s) == ("transcribed", None, 19800)


def test_a_press_held_for_its_reason_happened_at_the_first_key_and_is_entered_at_the_second() -> None:
    driver = in_access()
    driver.at(10)
    held = Claim(ago_us=13_000_000, precision_s=0, held=True)
    opened = driver.do("stage.open", stage="deploy", reason="haemodynamics", claim=held)[-1]
    assert (opened.mode, opened.lag_us, opened.precision_s) == ("live", 13_000_000, 0)
    assert opened.entered.wall_us == START_US + 10 * MIN


def test_a_press_held_for_longer_than_a_minute_is_a_late_entry() -> None:
    driver = in_access()
    driver.at(10)
    held = Claim(ago_us=60_000_001, precision_s=0, held=True)
    assert driver.do("note.write", text="x", claim=held)[0].mode == "late"


def test_a_reading_answers_the_card_of_a_rescue_that_was_running_and_of_none_that_began_after_it() -> None:
    driver = in_access()
    rescue = driver.at(5).do("bailout.open", bailout="coronary")[0]
    driver.at(8).do("reading.take", reading="act", value=Decimal(180), claim=Claim(ago_us=6 * MIN))
    assert not [line for line in bailout_lines(driver.case, rescue.seq) if line.state != "open"]
    driver.do("reading.take", reading="act", value=Decimal(274))
    assert [line.words for line in bailout_lines(driver.case, rescue.seq)] == ["", "274 s"]
    driver.do("bailout.close", outcome="stented")
    second = driver.at(20).do("bailout.open", bailout="coronary")[0]
    driver.do("reading.take", reading="act", value=Decimal(301))
    assert [line.words for line in bailout_lines(driver.case, second.seq)] == ["", "301 s"]
