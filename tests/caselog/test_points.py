"""Named moments among others like them, what is read back and left open, and orders of happening."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from labcheck.caselog.deviations import deviations, first_answers
from labcheck.caselog.handover import open_items
from labcheck.caselog.intents import Claim
from labcheck.caselog.intervals import added, interval_table
from labcheck.caselog.ordering import by_happening
from labcheck.caselog.points import find_point
from labcheck.caselog.prompts import likely_missing, prompt
from labcheck.caselog.signout import signout_items
from labcheck.caselog.stamps import Moment, Span
from labcheck.caselog.steps import step_lines
from labcheck.caselog.units import in_own_unit
from labcheck.checklist.conditions import Point
from labcheck.checklist.model import SignOut
from labcheck.checklist.unfolding import Slot
from labcheck.checklist.words import Cusp
from tests.caselog.driving import START_US, Driver, in_access, small
from tests.caselog.shipped import shipped

MIN = 60_000_000


def seqs(driver: Driver, cusp: Cusp | None = None, **point: Any) -> list[int]:
    return [f.seq for f in find_point(driver.case, Point.model_validate(point), cusp)]


def test_a_stage_that_ended_is_found_on_its_own_cusp_and_only_where_it_was_done() -> None:
    driver = in_access("left", "right")
    ends = []
    for stage, cusp in (("position", "left"), ("cross", "left"), ("position", "right"), ("position", "left")):
        events = driver.do("stage.open", stage=stage, cusp=cusp, reason="test")
        ends += [e.seq for e in events if e.kind == "stage.closed"]
    driver.do("stage.close")
    last = driver.case.head_seq
    assert driver.case.visits[3].how == "left"
    assert seqs(driver, event="stage.closed", stage="position") == [ends[1], last]
    assert seqs(driver, "left", event="stage.closed", stage="position") == [ends[1], last]
    assert seqs(driver, "right", event="stage.closed", stage="position") == []


def test_a_reading_is_found_by_its_own_name_and_judged_in_its_own_unit() -> None:
    driver = in_access()
    small_one = driver.do("reading.take", reading="kap", value=Decimal(900), unit="uGy·m2")[0]
    driver.do("reading.take", reading="act", value=Decimal(300))
    large = driver.do("reading.take", reading="kap", value=Decimal(20), unit="Gy·cm2")[0]
    assert seqs(driver, event="reading", reading="kap") == [small_one.seq, large.seq]
    assert seqs(driver, event="reading", reading="kap", at_least=10) == [large.seq]


def test_moments_are_found_in_the_order_in_which_they_happened_also_over_a_restart() -> None:
    driver = in_access()
    second = driver.at(10).do("dose.give", drug="heparin")[0]
    first = driver.at(11).do("dose.give", drug="heparin", claim=Claim(ago_us=5 * MIN))[0]
    assert seqs(driver, event="dose", drug="heparin") == [first.seq, second.seq]
    driver.boot_id = "boot-b"
    driver.at(12).do("dose.give", drug="heparin")
    third = driver.case.head_seq
    paper = driver.at(13).do(
        "dose.give", drug="heparin", claim=Claim(wall_us=START_US + 8 * MIN, transcribed=True)
    )[0]
    assert seqs(driver, event="dose", drug="heparin") == [first.seq, paper.seq, second.seq, third]


def test_moments_from_paper_are_in_the_order_of_the_paper() -> None:
    driver = in_access()
    found = []
    for minute in (9, 5):
        claim = Claim(wall_us=START_US + minute * MIN, transcribed=True)
        found.append(driver.at(20).do("dose.give", drug="heparin", claim=claim)[0].seq)
    assert seqs(driver, event="dose", drug="heparin") == found[::-1]


def test_moments_of_one_boot_keep_their_order_though_the_clock_was_set_back() -> None:
    driver = in_access()
    found = [driver.at(10).do("dose.give", drug="heparin")[0].seq]
    driver.wall_shift_us = -60 * MIN
    found.append(driver.at(11).do("dose.give", drug="heparin")[0].seq)
    assert seqs(driver, event="dose", drug="heparin") == found


def test_the_seal_is_a_moment() -> None:
    driver = Driver()
    driver.do("signout.settle", item="signout:flow_seen", reason="test")
    driver.do("case.seal")
    assert seqs(driver, event="case.sealed") == [driver.case.head_seq]


def test_a_result_that_is_not_one_of_those_asked_for_is_no_such_moment() -> None:
    driver = in_access("left", "right")
    driver.do("stage.open", stage="cross", cusp="left", reason="test")
    for outcome in ("failed", "crossed"):
        driver.do("attempt.open")
        driver.do("attempt.close", outcome=outcome)
    assert seqs(driver, event="attempt", stage="cross", outcome=("crossed",)) == [driver.case.attempts[1].end_seq]
    assert seqs(driver, "right", event="attempt", stage="cross") == []
    assert seqs(driver, event="attempt.opened", stage="split") == []


def test_a_sum_of_durations_is_by_the_wall_as_soon_as_one_is_and_not_known_when_one_is_not() -> None:
    boot, wall = Span(us=3, basis="boot"), Span(us=4, basis="wall")
    assert added([boot, boot]) == Span(us=6, basis="boot")
    assert added([wall, boot]) == added([boot, wall]) == Span(us=7, basis="wall")
    assert added([boot, None]) is None


def test_a_visit_says_when_it_was_left_or_abandoned() -> None:
    driver = in_access("left", "right")
    driver.do("stage.open", stage="position", cusp="left")
    driver.do("stage.open", stage="position", cusp="right")
    driver.do("cusp.abandon", cusp="right", reason="calcium")
    driver.do("stage.open", stage="deploy", reason="test")
    rows = {r.title: r.note for r in interval_table(driver.case, driver.stamp()) if r.kind == "visit"}
    assert list(rows.values()) == ["", "left unfinished", "abandoned", ""]


def test_things_keep_their_place_unless_their_time_was_claimed_and_lies_before() -> None:
    driver = in_access()
    at = [Moment(wall_us=us, off_s=0, tz="", boot_us=None, boot_id=None) for us in range(5)]
    live = driver.case.head_seq
    told = [(at[3], live - 1, "c"), (at[1], live, "live"), (at[1], live + 1, "claimed"), (at[0], live + 2, "first")]
    assert by_happening(driver.case, reversed(told)) == ["first", "c", "live", "claimed"]


def test_a_sign_out_item_stays_until_every_part_of_it_is_met() -> None:
    driver = in_access()
    driver.do("stage.open", stage="flow", reason="test")
    driver.do("reading.take", reading="flow", choice="normal", ostium="left")
    assert "signout:flow_seen" in {i.id for i in signout_items(driver.case, driver.stamp())}


def test_only_an_unanswered_killer_step_is_called_one() -> None:
    driver = in_access()
    for do, fields in (
        ("stage.open", {"stage": "cross", "reason": "test"}),
        ("energy.on", {}),
        ("run.start", {"run": "cpr"}),
        ("sample.send", {"reading": "act"}),
        ("bailout.open", {"bailout": "coronary"}),
        ("mark.set", {}),
        ("handover.make", {"incoming": "unknown"}),
    ):
        driver.do(do, **fields)
    items = signout_items(driver.case, driver.stamp())
    assert {i.id.partition(":")[0] for i in items} == {
        "visit", "burst", "attempt", "run", "sample", "bailout", "mark", "step", "signout", "recorder",
    }  # fmt: skip
    assert [i.id for i in items if i.killer] == ["step:access.pad"]


@pytest.mark.parametrize(
    ("need", "reached"),
    [
        ({"each_cusp": "position"}, "position"),
        ({"reading": "act", "at_least": 999}, "access"),
        ({"decision": "protect"}, "filters"),
    ],
)
def test_what_the_checklist_wants_is_read_back_once_its_stage_was_entered(need: dict[str, Any], reached: str) -> None:
    item = SignOut.model_validate({"id": "wanted", "text": "wanted so", "need": [need]}, strict=False)
    driver = Driver("left", "right", checklist=small().model_copy(update={"signout": (item,)}))
    driver.do("stage.open", stage="deploy", reason="test")
    assert "wanted so" not in open_items(driver.case, driver.stamp())
    driver.do("stage.open", stage=reached, reason="test")
    assert "wanted so" in open_items(driver.case, driver.stamp())


def test_energy_that_is_on_is_read_back_though_its_try_has_a_result() -> None:
    driver = in_access()
    driver.do("stage.open", stage="cross", reason="test")
    driver.do("energy.on")
    driver.do("attempt.close", outcome="crossed")
    assert "left, attempt 1: energy ON" in open_items(driver.case, driver.stamp())
    driver.do("energy.off")
    driver.do("attempt.open")
    assert "left, attempt 2: no outcome yet" in open_items(driver.case, driver.stamp())


def test_nothing_is_prompted_in_a_sealed_case_whatever_stage_it_ended_in() -> None:
    driver = in_access()
    driver.at(20)
    assert prompt(driver.case, driver.stamp()) is not None, "twenty minutes of silence"
    for item in signout_items(driver.case, driver.stamp()):
        driver.do("signout.settle", item=item.id, reason="test")
    driver.do("case.seal")
    driver.at(60)
    assert prompt(driver.case, driver.stamp()) is None


@pytest.mark.parametrize(("minutes", "suggested"), [(1, []), (40, ["sample.send"])])
def test_a_reading_that_is_due_again_is_suggested_as_it_is_taken(minutes: float, suggested: list[str]) -> None:
    driver = Driver("left", checklist=shipped("electrosurgical"))
    driver.do("reading.take", reading="act", value=Decimal(274))
    driver.at(minutes)
    said = [s.do for s in likely_missing(driver.case, driver.stamp()) if s.fields == {"reading": "act"}]
    assert said == suggested


def test_killer_steps_are_suggested_before_the_others() -> None:
    whole = small()
    first = whole.stage[0].step[1].model_copy(update={"id": "plain", "say": "Plain", "killer": False})
    access = whole.stage[0].model_copy(update={"step": (first, *whole.stage[0].step)})
    driver = Driver(checklist=whole.model_copy(update={"stage": (access, *whole.stage[1:])}))
    driver.do("stage.open")
    said = [s.words for s in likely_missing(driver.case, driver.stamp()) if s.do == "step.answer"]
    assert said == ["Return pad on", "Plain"]


def test_a_killer_step_asked_again_names_the_last_visit_that_answered_it() -> None:
    driver = in_access()
    for _ in range(2):
        driver.do("step.answer", step="pad")
        driver.do("stage.open", stage="position")
        driver.do("stage.open", stage="access")
    pad = next(line for line in step_lines(driver.case, Slot("access")) if line.step.id == "pad")
    assert (pad.state, pad.anew, pad.words) == ("open", 2, "done in visit 2")


def test_a_voided_answer_is_not_the_first_and_a_paper_entry_that_was_voided_is_not_counted() -> None:
    driver = in_access()
    paper = Claim(wall_us=START_US + 1_000_000, transcribed=True)
    driver.at(1).do("step.answer", step="pad", claim=paper)
    driver.do("undo")
    driver.do("step.answer", step="pad", claim=paper)
    assert [a.seq for a in first_answers(driver.case)] == [driver.case.answers["access", None, "pad"].seq]
    copied = [d.words for d in deviations(driver.case) if "copied from paper" in d.words]
    assert copied == [f"1 of {driver.case.head_seq} entries were copied from paper"]


def test_a_step_answered_after_its_stage_had_ended_is_told_and_one_answered_in_a_second_visit_is_not() -> None:
    driver = in_access()
    driver.at(5).do("stage.open", stage="position")
    driver.at(6).do("step.answer", stage="access", step="pad")
    assert [d.seq for d in deviations(driver.case) if d.kind == "late_step"] == [driver.case.head_seq]
    driver.do("undo")
    driver.at(9).do("stage.open", stage="access")
    driver.do("step.answer", step="pad")
    driver.do("stage.open", stage="position")
    assert not [d for d in deviations(driver.case) if d.kind == "late_step"]


@pytest.mark.parametrize(("own", "value"), [("uGy·m2", "2000"), ("Gy·cm2", "20")])
def test_a_value_is_brought_to_whichever_unit_the_checklist_keeps(own: str, value: str) -> None:
    kap = next(r for r in small().reading if r.id == "kap").model_copy(update={"unit": own})
    assert in_own_unit(kap, Decimal(20), "Gy·cm2") == Decimal(value)


def test_a_value_in_a_unit_of_another_kind_is_none_whichever_of_the_two_is_known() -> None:
    kap = next(r for r in small().reading if r.id == "kap")
    assert in_own_unit(kap, Decimal(20), "min") is None
    assert in_own_unit(kap.model_copy(update={"unit": "mmHg"}), Decimal(20), "min") is None
