"""Where a case went another way than its checklist."""

from __future__ import annotations

import random
from collections import Counter
from dataclasses import replace
from decimal import Decimal

from rapidfuzz.distance import Indel

from labcheck.caselog.case import Case, Seal, Visit
from labcheck.caselog.deviations import Deviation, deviations
from labcheck.caselog.intents import Claim
from labcheck.caselog.stamps import Moment
from labcheck.checklist.model import Step
from labcheck.checklist.unfolding import Slot, unfold
from tests.caselog.driving import Driver, small

MIN = 60_000_000


def found(driver: Driver, kind: str) -> list[str]:
    return [d.words for d in deviations(driver.case) if d.kind == kind]


def tidy() -> Driver:
    """A case of one cusp in which everything is done in order, up to the deployment."""
    driver = Driver("left")
    driver.at(0).do("stage.open")
    driver.do("reading.take", reading="act", value=Decimal(280))
    driver.do("step.answer", step="pad")
    driver.do("dose.give", drug="heparin", amount=Decimal(5000))
    driver.do("decision.make", decision="protect", choice="declined", reason="haemodynamic")
    driver.at(5).do("stage.open", stage="position", cusp="left")
    driver.do("step.answer", step="view", answer="value", value="-20 15")
    driver.at(8).do("stage.open")
    driver.do("attempt.open")
    driver.do("attempt.close", outcome="crossed")
    driver.at(10).do("stage.open")
    driver.do("step.answer", step="loaded")
    driver.at(12).do("stage.open")
    driver.do("attempt.open")
    driver.do("attempt.close", outcome="cut")
    driver.at(14).do("stage.open")
    return driver


def test_a_case_done_in_order_has_only_what_was_declined() -> None:
    assert [d.kind for d in deviations(tidy().case)] == ["skipped"]
    assert found(tidy(), "skipped") == ["Filters: skipped by decision: Cerebral protection: declined"]


def test_a_stage_passed_over_by_call_is_skipped_and_not_missing() -> None:
    driver = Driver("left")
    driver.do("stage.open")
    driver.do("step.answer", step="pad")
    driver.do("stage.open", stage="ready", reason="haemodynamic")
    skipped = found(driver, "skipped")
    assert "Cross, left: skipped by call: haemodynamics" in skipped
    assert not [words for words in found(driver, "missing") if words.startswith("Cross")]


def test_a_step_without_an_answer_is_missing_once_its_stage_is_over_and_killer_steps_come_first() -> None:
    driver = Driver("left")
    driver.do("stage.open")
    assert found(driver, "missing") == []
    driver.do("stage.close")
    assert found(driver, "missing") == [
        "KILLER STEP Return pad on (Access): no answer",
        "Baseline ACT (Access): no answer",
        "Heparin given (Access): no answer",
    ]


def test_a_step_said_not_to_be_done_is_left_out_on_purpose_with_its_reason() -> None:
    driver = Driver("left")
    driver.do("stage.open")
    driver.do("step.answer", step="pad", answer="not_done", reason="haemodynamic")
    driver.do("stage.close")
    assert found(driver, "skipped") == ["Return pad on (Access): not done: haemodynamics"]
    assert not [words for words in found(driver, "missing") if "Return pad" in words]


def test_a_step_that_does_not_apply_is_no_deviation() -> None:
    driver = Driver("left")
    driver.do("stage.open")
    driver.do("step.answer", step="pad", answer="not_applicable", reason="haemodynamic")
    driver.do("stage.close")
    assert not [d for d in deviations(driver.case) if "Return pad" in d.words]


def test_a_stage_entered_again_says_how_often_and_how_long() -> None:
    driver = Driver("left")
    driver.at(0).do("stage.open", stage="position", cusp="left", reason="haemodynamic")
    driver.at(4).do("stage.open", stage="cross", cusp="left", reason="haemodynamic")
    driver.at(6).do("stage.open", stage="position", cusp="left")
    driver.at(9).do("stage.open", stage="cross", cusp="left", reason="haemodynamic")
    assert found(driver, "rework")[0] == "Position, left: 2 visits, 3:00 in rework"


def test_a_stage_opened_after_the_one_that_comes_after_it_is_out_of_order() -> None:
    driver = Driver("left")
    driver.at(0).do("stage.open", stage="ready", reason="haemodynamic")
    driver.at(1).do("stage.open", stage="access")
    assert found(driver, "inverted") == ["Access: opened after Ready"]


def test_the_order_of_the_cusps_is_free() -> None:
    driver = Driver("left", "right")
    for minute, (stage, cusp) in enumerate([("position", "right"), ("position", "left")]):
        driver.at(minute).do("stage.open", stage=stage, cusp=cusp, reason="haemodynamic")
    assert found(driver, "inverted") == []


def killers(*ids: str) -> Driver:
    """A case whose access stage has these killer steps, in this order."""
    steps = tuple(Step(id=name, say=f"Do {name}", killer=True, owner="nurse") for name in ids)
    stages = tuple(s.model_copy(update={"step": steps}) if s.id == "access" else s for s in small().stage)
    return Driver("left", checklist=small().model_copy(update={"stage": stages}))


def test_killer_steps_answered_out_of_order_are_named_beside_one_they_changed_places_with() -> None:
    driver = killers("one", "two", "three")
    driver.do("stage.open")
    for step in ("two", "three", "one"):
        driver.do("step.answer", step=step)
    assert found(driver, "inverted") == ["Do one (Access): answered after Do two"]


def test_the_order_of_steps_that_do_not_harm_at_once_is_free() -> None:
    driver = Driver("left")
    driver.do("stage.open")
    driver.do("dose.give", drug="heparin", amount=Decimal(5000))
    driver.do("reading.take", reading="act", value=Decimal(280))
    assert found(driver, "inverted") == []


def test_answering_a_step_anew_in_a_second_visit_is_neither_late_nor_out_of_order() -> None:
    driver = killers("one", "two")
    driver.at(0).do("stage.open")
    driver.do("step.answer", step="one")
    driver.do("step.answer", step="two")
    driver.at(2).do("stage.open", stage="position", cusp="left")
    driver.at(4).do("stage.open", stage="access")
    driver.do("step.answer", step="one")
    assert found(driver, "inverted") == []
    assert found(driver, "late_step") == []


def test_a_step_that_a_hold_needs_is_late_once_the_stage_behind_the_hold_has_begun() -> None:
    driver = Driver("left")
    driver.at(0).do("stage.open")
    driver.do("reading.take", reading="act", value=Decimal(280))
    driver.at(5).do("stage.open", stage="position", cusp="left")
    driver.at(8).do("stage.open", stage="cross", cusp="left", reason="haemodynamic")
    driver.at(11).do("step.answer", step="pad", stage="access")
    assert found(driver, "late_step") == ["Return pad on: 3:00 after Cross, left began"]


def test_a_step_answered_after_its_own_stage_had_ended_says_how_long_after() -> None:
    driver = Driver("left")
    driver.at(0).do("stage.open")
    driver.at(5).do("stage.open", stage="position", cusp="left")
    driver.at(6).do("step.answer", step="pad", stage="access")
    assert found(driver, "late_step") == ["Return pad on: 1:00 after Access ended"]


def test_a_late_entry_of_a_step_done_in_time_is_a_late_entry_and_no_late_step() -> None:
    driver = Driver("left")
    driver.at(0).do("stage.open")
    driver.at(5).do("stage.open", stage="position", cusp="left")
    driver.at(8).do(
        "step.answer", step="pad", stage="access", claim=Claim(ago_us=5 * MIN, reason="haemodynamic")
    )
    assert found(driver, "late_step") == []
    assert found(driver, "late_entry") == ["LATE +5:00: Return pad on: done: haemodynamics"]


def test_a_hold_passed_says_what_was_not_true_and_the_reason() -> None:
    driver = Driver("left")
    driver.do("stage.open")
    driver.do("stage.open", stage="cross", cusp="left", reason="haemodynamic")
    passed = found(driver, "hold_passed")
    assert any("ACT at least 250" in words and words.endswith("haemodynamics") for words in passed)


def test_corrections_are_listed_once_for_each_press() -> None:
    driver = Driver("left")
    driver.do("stage.open")
    driver.do("stage.open", stage="position", cusp="left")
    driver.do("undo")
    assert len(driver.case.voided) == 2
    assert len(found(driver, "correction")) == 1


def test_a_late_entry_that_was_voided_is_no_late_entry_any_more() -> None:
    driver = Driver("left")
    driver.at(10).do("note.write", text="x", claim=Claim(ago_us=5 * MIN))
    driver.do("undo")
    assert found(driver, "late_entry") == []
    assert len(found(driver, "correction")) == 1


def test_a_case_copied_from_paper_says_so_in_one_line() -> None:
    driver = Driver("left")
    for minute in (10, 11, 12):
        driver.at(minute).do("note.write", text="x", claim=Claim(ago_us=5 * MIN, transcribed=True))
    assert found(driver, "late_entry") == ["3 of 4 entries were copied from paper"]


def test_an_abandoned_cusp_is_left_out_on_purpose_and_its_stages_are_not_missing() -> None:
    driver = Driver("left", "right")
    driver.do("stage.open")
    driver.do("cusp.abandon", cusp="right", reason="haemodynamic")
    driver.do("stage.close")
    assert "right cusp abandoned: haemodynamics" in found(driver, "skipped")
    assert not [words for words in found(driver, "missing") if "right" in words]


def test_after_the_seal_what_was_never_opened_is_missing_unless_it_is_optional() -> None:
    driver = Driver("left")
    driver.do("signout.settle", item="signout:flow_seen", reason="haemodynamic")
    driver.do("case.seal")
    missing = found(driver, "missing")
    assert {"Access", "Position, left", "Coronary check"} <= set(missing)
    assert "Filters" not in missing


def test_deviations_name_the_entry_they_are_about() -> None:
    driver = Driver("left")
    driver.do("stage.open")
    driver.do("stage.open", stage="cross", cusp="left", reason="haemodynamic")
    passed: Deviation = next(d for d in deviations(driver.case) if d.kind == "hold_passed")
    assert passed.seq is not None
    assert driver.case.log[passed.seq - 1].kind == "hold.passed"


def test_stages_left_out_repeated_and_out_of_order_agree_with_an_alignment_library_on_random_logs() -> None:
    slots = unfold(small(), ("left",))
    optional = {s.id for s in small().stage if s.optional}
    opened = Driver("left").case
    draw = random.Random(20310311)
    for _ in range(2000):
        came = [slot for slot in slots if draw.random() > 0.2]
        for _ in range(draw.randint(0, 2)):
            came.insert(draw.randint(0, len(came)), draw.choice(slots))
        if draw.random() < 0.3:
            draw.shuffle(came)
        case = _visited_in_turn(opened, came)
        first = list(dict.fromkeys(came))
        kinds = Counter(d.kind for d in deviations(case) if "no answer" not in d.words)
        expected = [slot for slot in slots if slot in first]
        assert 2 * kinds["inverted"] == Indel.distance(expected, first), came
        assert kinds["rework"] == sum(1 for _, n in Counter(came).items() if n > 1)
        assert kinds["missing"] == len([s for s in slots if s not in first and s.stage not in optional])


def _visited_in_turn(opened: Case, came: list[Slot]) -> Case:
    """A sealed case whose stages were opened in this order, a minute each."""
    start = opened.opened
    assert start is not None

    def at(minute: int) -> Moment:
        us = minute * MIN
        return start.model_copy(update={"wall_us": start.wall_us + us, "boot_us": (start.boot_us or 0) + us})

    visits = tuple(
        Visit(n + 1, slot.stage, slot.cusp, 1 + came[:n].count(slot), at(n), False, at(n + 1), n + 1, "done")
        for n, slot in enumerate(came)
    )
    sealed = Seal(len(came) + 1, at(len(came)), len(came), "N1")
    return replace(opened, visits=visits, seal=sealed)
