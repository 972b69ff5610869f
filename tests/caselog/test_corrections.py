"""Corrections one by one: what goes with what, what is refused, and what the case is afterwards. After the seal."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from labcheck.checklist.model import Decision
from labcheck.checklist.unfolding import Slot
from tests.caselog.driving import START_US, Driver, crossing, in_access, small

MIN = 60_000_000


def test_undo_passes_over_what_the_program_itself_wrote() -> None:
    driver = in_access()
    driver.do("note.write", text="x")
    driver.do("lease.take", console="desk 2", reason="frozen")
    driver.do("undo")
    assert driver.case.notes == ()
    assert driver.case.visit is not None


def test_undo_after_a_bounced_press_takes_back_the_press_before_it() -> None:
    driver = in_access()
    driver.now_us = 100_000
    assert driver.do("stage.open")[0].kind == "press.bounced"
    driver.do("undo")
    assert driver.case.visits == ()


def test_a_void_and_an_amendment_are_presses_that_can_be_undone() -> None:
    driver = in_access()
    note = driver.do("note.write", text="x")[0]
    driver.do("event.void", target=note.seq, reason="slip")
    driver.do("undo")
    assert [n.what for n in driver.case.notes] == ["x"]
    driver.do("event.amend", target=note.seq, field="text", value="y", reason="slip")
    driver.do("undo")
    assert [n.what for n in driver.case.notes] == ["x"]


def test_an_entry_that_was_amended_can_still_be_voided_and_comes_back_as_amended() -> None:
    driver = in_access()
    note = driver.do("note.write", text="x")[0]
    driver.do("event.amend", target=note.seq, field="text", value="y", reason="slip")
    driver.do("event.void", target=note.seq, reason="slip")
    assert driver.case.notes == ()
    driver.do("undo")
    assert [n.what for n in driver.case.notes] == ["y"]


def test_the_opening_of_the_case_the_seal_and_a_takeover_are_not_voided() -> None:
    driver = in_access()
    lease = driver.do("lease.take", console="desk 2", reason="frozen")[0]
    for seq, kind in ((1, "case.opened"), (lease.seq, "lease.taken")):
        assert f"#{seq} {kind} cannot be voided" in driver.refused("event.void", target=seq, reason="x").reason
    assert "there is no entry #99" in driver.refused("event.void", target=99, reason="x").reason


def test_an_entry_is_voided_once_and_the_refusal_names_the_void() -> None:
    driver = in_access()
    note = driver.do("note.write", text="x")[0]
    void = driver.do("event.void", target=note.seq, reason="slip")[0]
    refused = driver.refused("event.void", target=note.seq, reason="x")
    assert f"#{note.seq} is void already (by #{void.seq})" in refused.reason


@pytest.mark.parametrize("kind", ["stage.opened", "stage.closed"])
def test_voiding_the_end_or_the_beginning_of_a_call_takes_back_the_whole_call(kind: str) -> None:
    driver = in_access()
    events = driver.do("stage.open", stage="ready", reason="test")
    target = next(e.seq for e in events if e.kind == kind)
    driver.do("event.void", target=target, reason="slip")
    assert set(driver.case.voided) == {e.seq for e in events}
    assert driver.case.visit is not None
    assert driver.case.visit.stage == "access"


@pytest.mark.parametrize("kind", ["stage.skipped", "hold.passed"])
def test_what_a_call_passed_over_is_not_voided_alone_and_the_call_is_named(kind: str) -> None:
    driver = in_access()
    events = driver.do("stage.open", stage="ready", reason="test")
    target, call = (next(e.seq for e in events if e.kind == name) for name in (kind, "stage.opened"))
    refused = driver.refused("event.void", target=target, reason="slip")
    assert f"#{target} belongs to the call of #{call}: void #{call} to take the whole call back" in refused.reason
    assert driver.case.visit is not None
    assert driver.case.visit.stage == "ready"
    driver.do("event.amend", target=target, field="reason", value="operator_call", reason="slip")


def test_a_stage_skipped_by_itself_is_voided_alone() -> None:
    driver = in_access()
    skipped = driver.do("stage.skip", stage="filters", reason="call")[0]
    driver.do("event.void", target=skipped.seq, reason="slip")
    assert driver.case.skipped == {}


def test_voiding_an_answer_leaves_the_reading_that_gave_it() -> None:
    driver = in_access()
    taken, answer = driver.do("reading.take", reading="act", value=Decimal(274))
    driver.do("event.void", target=answer.seq, reason="not this step's")
    assert driver.case.readings[0].seq == taken.seq
    assert ("access", None, "act") not in driver.case.answers


def test_voiding_a_dose_takes_its_answer_with_it() -> None:
    driver = in_access()
    dose = driver.do("dose.give", drug="heparin", amount=Decimal(5000))[0]
    driver.do("event.void", target=dose.seq, reason="not given")
    assert ("access", None, "heparin") not in driver.case.answers


def test_a_void_that_would_leave_two_stages_open_is_refused() -> None:
    driver = in_access()
    driver.do("stage.close")
    closed = driver.case.log[-1]
    driver.do("stage.open", stage="filters")
    assert "two stages would be open" in driver.refused("event.void", target=closed.seq, reason="x").reason


def test_a_void_that_would_leave_a_run_or_energy_on_twice_is_refused() -> None:
    driver = crossing()
    for on, off, words in (
        (("run.start", {"run": "cpr"}), ("run.stop", {"run": "cpr"}), "the same run would be on twice"),
        (("energy.on", {}), ("energy.off", {}), "two energy bursts would be on"),
    ):
        driver.do(on[0], **on[1])
        ended = driver.do(off[0], **off[1])[0]
        driver.do(on[0], **on[1])
        assert words in driver.refused("event.void", target=ended.seq, reason="x").reason
    driver.do("run.start", run="pacing")
    last = driver.do("run.stop", run="pacing")[0]
    driver.do("event.void", target=last.seq, reason="still on")
    assert [s.run for s in driver.case.spells if s.end is None] == ["cpr", "pacing"], "two kinds may be on"


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("text", "x", "says that already"),
        ("recorder", "N2", "recorder of note.written cannot be amended"),
        ("happened", "soon", "the time must be UTC microseconds"),
        ("happened", "²", "the time must be UTC microseconds"),
        ("happened", "1" * 18, "the time must be UTC microseconds"),
        ("happened", None, "the time must be UTC microseconds"),
        ("happened", str(START_US + 10 * MIN), "still to come"),
    ],
)
def test_an_amendment_that_says_nothing_new_or_nothing_sound_is_refused(
    field: str, value: str | None, words: str
) -> None:
    driver = in_access()
    note = driver.do("note.write", text="x")[0]
    refused = driver.refused("event.amend", target=note.seq, field=field, value=value, reason="slip")
    assert words in refused.reason


def test_only_an_entry_that_is_there_and_counts_is_amended() -> None:
    driver = in_access()
    note = driver.do("note.write", text="x")[0]
    void = driver.do("event.void", target=note.seq, reason="slip")[0]
    for seq, words in ((note.seq, "is void: enter it anew"), (99, "no entry #99"), (void.seq, "cannot be amended")):
        assert words in driver.refused("event.amend", target=seq, field="text", value="y", reason="x").reason


def test_a_time_may_be_amended_up_to_now() -> None:
    driver = in_access()
    note = driver.do("note.write", text="x")[0]
    now = START_US + driver.now_us
    driver.do("event.amend", target=note.seq, field="happened", value=str(now), reason="slip")
    assert driver.case.notes[0].at.wall_us == now


@pytest.mark.parametrize("kind", ["visit", "attempt", "burst", "run", "bailout"])
def test_nothing_is_amended_to_begin_after_it_ended(kind: str) -> None:
    driver = crossing()
    begun: dict[str, Any] = {}
    if kind == "visit":
        begun = {"seq": driver.case.visits[-1].seq, "end": ("stage.close", {})}
    elif kind == "attempt":
        begun = {"seq": driver.do("attempt.open")[0].seq, "end": ("attempt.close", {"outcome": "failed"})}
    elif kind == "burst":
        begun = {"seq": driver.do("energy.on")[-1].seq, "end": ("energy.off", {})}
    elif kind == "run":
        begun = {"seq": driver.do("run.start", run="cpr")[0].seq, "end": ("run.stop", {"run": "cpr"})}
    else:
        rescue = driver.do("bailout.open", bailout="coronary")[0]
        begun = {"seq": rescue.seq, "end": ("bailout.close", {"outcome": "lost"})}
    end = driver.at(8).do(begun["end"][0], **begun["end"][1])[0]
    driver.at(12)
    just_after = str(end.happened.wall_us + 1)
    refused = driver.refused("event.amend", target=begun["seq"], field="happened", value=just_after, reason="x")
    assert f"#{end.seq} would end before #{begun['seq']} began" in refused.reason
    same = str(end.happened.wall_us)
    driver.do("event.amend", target=begun["seq"], field="happened", value=same, reason="x")


def test_a_step_follows_the_unit_choice_amount_and_time_of_what_answered_it_but_not_its_note() -> None:
    driver = in_access()
    driver.at(2)
    dose = driver.do("dose.give", drug="heparin", amount=Decimal(5000))[0]
    for field, value in (("amount", "6000"), ("note", "slowly"), ("happened", str(START_US + MIN))):
        driver.do("event.amend", target=dose.seq, field=field, value=value, reason="misheard")
    answer = driver.case.answers["access", None, "heparin"]
    assert (answer.what.value, answer.what.unit, answer.at.wall_us) == ("6000", "IU", START_US + MIN)
    assert (driver.case.doses[0].what.note, driver.case.doses[0].at.wall_us) == ("slowly", START_US + MIN)
    driver.do("stage.open", stage="flow", reason="test")
    flow = driver.do("reading.take", reading="flow", choice="normal", ostium="left")[0]
    driver.do("event.amend", target=flow.seq, field="choice", value="slow", reason="misheard")
    assert driver.case.answers["flow", None, "left_flow"].what.value == "slow"


def test_an_amount_said_later_does_not_make_a_step_that_was_only_done_a_value() -> None:
    driver = in_access()
    dose = driver.do("dose.give", drug="heparin")[0]
    driver.do("event.amend", target=dose.seq, field="amount", value="5000", reason="found on the syringe")
    assert driver.case.doses[0].what.amount == Decimal(5000)
    answer = driver.case.answers["access", None, "heparin"].what
    assert (answer.answer, answer.value) == ("done", None)


def test_the_time_of_a_step_that_was_only_done_follows_its_dose() -> None:
    driver = in_access()
    dose = driver.at(2).do("dose.give", drug="heparin")[0]
    driver.do("event.amend", target=dose.seq, field="happened", value=str(START_US + MIN), reason="misheard")
    assert driver.case.answers["access", None, "heparin"].at.wall_us == START_US + MIN


def test_a_stage_called_on_the_wrong_cusp_moves_with_what_was_done_in_it() -> None:
    driver = in_access("left", "right")
    driver.do("stage.open", stage="position", cusp="right")
    driver.do("stage.open", stage="cross", cusp="right", reason="test")
    driver.do("attempt.open")
    driver.do("fault.note", fault="generator")
    driver.do("attempt.close", outcome="fault")
    driver.do("stage.open", stage="position", cusp="left")
    driver.do("stage.open", stage="cross", cusp="left", reason="test")
    visit = driver.case.visit
    assert visit is not None
    driver.do("attempt.open")
    mark = driver.do("mark.set")[0]
    driver.do("fault.note", fault="generator")
    driver.do("cusp.move", cusp="right", target=visit.seq)
    case = driver.case
    assert [m.seq for m in case.marks] == [mark.seq], "it names nothing that moved"
    assert [(v.stage, v.cusp, v.number) for v in case.visits[-2:]] == [("position", "left", 1), ("cross", "right", 2)]
    assert [(a.cusp, a.number) for a in case.attempts] == [("right", 1), ("right", 2)]
    assert case.event(case.attempts[1].seq).what.opened == case.visits[-1].seq  # type: ignore[union-attr]
    assert [(f.what.cusp, f.what.attempt) for f in case.faults] == [("right", a.seq) for a in case.attempts]
    assert case.visits[-1].start == visit.start


def test_a_try_moved_without_its_stage_no_longer_names_that_stages_visit() -> None:
    driver = crossing("left", "right")
    first = driver.do("attempt.open")[0]
    driver.do("attempt.close", outcome="failed")
    driver.do("cusp.move", cusp="right", target=first.seq)
    moved = driver.case.event(driver.case.attempts[0].seq)
    assert moved is not None
    assert (moved.what.opened, moved.mode, driver.case.attempts[0].outcome) == (None, "amended", "failed")


def test_moving_is_refused_where_there_is_nothing_to_move_or_no_such_cusp() -> None:
    driver = in_access("left", "right")
    assert "no entry with a cusp to move" in driver.refused("cusp.move", cusp="right").reason
    assert "fused is not a planned cusp" in driver.refused("cusp.move", cusp="fused").reason
    assert "no entry #99 that counts" in driver.refused("cusp.move", cusp="right", target=99).reason
    assert "#2 stage.opened has no cusp" in driver.refused("cusp.move", cusp="right", target=2).reason
    note = driver.do("note.write", text="x")[0]
    driver.do("undo")
    refused = driver.refused("cusp.move", cusp="right", target=note.seq)
    assert f"no entry #{note.seq} that counts" in refused.reason
    driver.do("stage.open", stage="position", cusp="left")
    ended = driver.case.visits[-1].seq
    driver.do("stage.open", stage="position", cusp="right")
    assert "that stage has ended" in driver.refused("cusp.move", cusp="right", target=ended).reason


def test_a_move_after_an_undo_takes_the_last_entry_that_still_counts() -> None:
    driver = crossing("left", "right")
    driver.do("energy.on")
    driver.do("energy.off")
    driver.do("attempt.close", outcome="failed")
    driver.do("energy.on")
    driver.do("undo")
    driver.do("cusp.move", cusp="right")
    assert [(a.cusp, a.number, a.outcome) for a in driver.case.attempts] == [("right", 1, "failed")]


def test_a_decision_taken_anew_lifts_only_what_a_decision_had_skipped() -> None:
    driver = in_access()
    driver.do("stage.skip", stage="filters", reason="operator's call")
    driver.do("stage.skip", stage="position", reason="operator's call")
    driver.do("decision.make", decision="protect", choice="used")
    assert set(driver.case.skipped) == {Slot("filters"), Slot("position", "left")}


def test_a_decision_taken_anew_leaves_what_another_decision_had_skipped() -> None:
    whole = small()
    options = [{"id": "no", "text": "no", "skips": ["ready"]}, {"id": "yes", "text": "yes"}]
    other = Decision.model_validate({"id": "other", "ask": "Other", "options": options}, strict=False)
    driver = Driver(checklist=whole.model_copy(update={"decision": (*whole.decision, other)}))
    driver.do("decision.make", decision="other", choice="no")
    driver.do("decision.make", decision="protect", choice="declined", reason="small arch")
    assert set(driver.case.skipped) == {Slot("filters"), Slot("ready")}
    driver.do("decision.make", decision="protect", choice="used")
    assert set(driver.case.skipped) == {Slot("ready")}
