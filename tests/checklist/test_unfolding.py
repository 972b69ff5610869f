"""How a checklist unfolds for a plan: the order of stages, and what each case is asked for."""

from __future__ import annotations

from decimal import Decimal
from typing import Literal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labcheck.checklist import finding
from labcheck.checklist.model import Checklist, When
from labcheck.checklist.plan import Plan
from labcheck.checklist.reading import read_checklist
from labcheck.checklist.unfolding import (
    Slot,
    applies,
    cusp_word,
    holds_for,
    may_apply,
    skipped_stages,
    steps_for,
    unfold,
)
from labcheck.checklist.words import Cusp, Ostium, Substrate
from tests.checklist.sound import NAME, broken, sound


def plan(*targets: Cusp, substrate: Substrate = "native", protection: tuple[Ostium, ...] = ()) -> Plan:
    return Plan(
        technique="sound", substrate=substrate, targets=targets or ("left",), protection_planned=protection
    )


def order(checklist: Checklist, *targets: Cusp) -> list[str]:
    return [f"{slot.stage} {slot.cusp or ''}".strip() for slot in unfold(checklist, targets)]


def test_one_cusp_goes_through_every_stage_once() -> None:
    assert order(sound(), "left") == ["access", "protection", "position left", "traverse left", "deploy"]


def test_a_lane_runs_through_for_the_first_cusp_and_then_for_the_next() -> None:
    assert order(sound(), "right", "left") == [
        "access", "protection",
        "position right", "traverse right", "position left", "traverse left",
        "deploy",
    ]  # fmt: skip


def test_without_a_lane_each_stage_is_done_for_every_cusp_before_the_next() -> None:
    text = broken('lane = "prepare"\n', "").replace('lane = "prepare"\n', "")
    assert order(read_checklist(text, NAME), "left", "right")[2:6] == [
        "position left", "position right", "traverse left", "traverse right",
    ]  # fmt: skip


def test_neighbouring_lanes_are_kept_apart() -> None:
    text = broken('per_cusp = true\nlane = "prepare"\nquiet', 'per_cusp = true\nlane = "split"\nquiet')
    assert order(read_checklist(text, NAME), "left", "right")[2:6] == [
        "position left", "position right", "traverse left", "traverse right",
    ]  # fmt: skip


@given(st.permutations(["left", "right", "noncoronary"]), st.integers(1, 3))
def test_every_cusp_meets_every_per_cusp_stage_once_and_in_the_file_s_order(
    cusps: list[Cusp], many: int
) -> None:
    targets = tuple(cusps[:many])
    slots = unfold(sound(), targets)
    assert len(set(slots)) == len(slots) == 3 + 2 * many
    for cusp in targets:
        assert [slot.stage for slot in slots if slot.cusp == cusp] == ["position", "traverse"]
    assert [slot.cusp for slot in slots if slot.stage == "traverse"] == list(targets)


def when(**keys: object) -> When:
    return When.model_validate(keys)


@pytest.mark.parametrize(
    ("limit", "wanted"),
    [
        (None, True),
        (when(substrate=("native",)), True),
        (when(substrate=("surgical", "transcatheter")), False),
        (when(cusps="one"), True),
        (when(cusps="two"), False),
        (when(protection_planned=False), True),
        (when(protection_planned=True), False),
        (when(substrate=("native",), cusps="two"), False),
        (when(decision="filters"), False),
    ],
)
def test_a_limit_is_judged_by_the_plan(limit: When | None, wanted: bool) -> None:
    assert applies(limit, plan("left"), {}) is wanted


@pytest.mark.parametrize("targets", [("left", "right"), ("left", "right", "noncoronary")])
def test_more_than_one_cusp_counts_as_two(targets: tuple[Cusp, ...]) -> None:
    assert applies(when(cusps="two"), plan(*targets), {})
    assert not applies(when(cusps="one"), plan(*targets), {})


@pytest.mark.parametrize(
    ("taken", "any_option", "only_used"),
    [({}, False, False), ({"filters": "used"}, True, True), ({"filters": "declined"}, True, False)],
)
def test_what_hangs_on_a_decision_waits_for_it(
    taken: dict[str, str], any_option: bool, only_used: bool
) -> None:
    assert applies(when(decision="filters"), plan(), taken) is any_option
    assert applies(when(**{"decision": "filters", "is": ("used",)}), plan(), taken) is only_used


def test_a_decision_still_to_come_may_apply() -> None:
    limit = when(**{"decision": "filters", "is": ("used",), "substrate": ("native",)})
    assert may_apply(limit, plan())
    assert not may_apply(limit, plan(substrate="surgical"))


@pytest.mark.parametrize(("substrate", "asked"), [("native", False), ("surgical", True)])
def test_a_substrate_changes_the_steps(substrate: Substrate, asked: bool) -> None:
    access = finding.stage(sound(), "access")
    assert access is not None
    steps = steps_for(access, plan(substrate=substrate), {})
    assert ("old_frame" in [step.id for step in steps]) is asked


def test_planned_protection_changes_the_holds() -> None:
    text = broken('hold = [{ id = "all",', 'hold = [{ id = "all", when = { protection_planned = true },')
    deploy = finding.stage(read_checklist(text, NAME), "deploy")
    assert deploy is not None
    assert [hold.id for hold in holds_for(deploy, plan(protection=("left",)), {})] == ["all"]
    assert holds_for(deploy, plan(), {}) == ()


def test_a_bailout_has_its_steps_like_a_stage() -> None:
    collapse = finding.bailout(sound(), "collapse")
    assert collapse is not None
    assert [step.id for step in steps_for(collapse, plan(), {})] == ["echo"]


@pytest.mark.parametrize(
    ("taken", "skipped"),
    [
        ({}, {}),
        ({"filters": "used"}, {}),
        ({"filters": "declined"}, {"protection": "filters"}),
        ({"unheard_of": "declined"}, {}),
    ],
)
def test_a_decision_skips_stages_by_name(taken: dict[str, str], skipped: dict[str, str]) -> None:
    assert skipped_stages(sound(), taken) == skipped


def test_an_option_that_opens_a_stage_wins_over_one_that_skips_it() -> None:
    again = """
[[decision]]
id = "again"
ask = "Again?"
options = [{ id = "yes", text = "yes", opens = ["protection"] }, { id = "no", text = "no" }]

[[reading]]
id = "act"
"""
    checklist = read_checklist(broken('\n[[reading]]\nid = "act"\n', again), NAME)
    assert skipped_stages(checklist, {"filters": "declined", "again": "no"}) == {"protection": "filters"}
    assert skipped_stages(checklist, {"filters": "declined", "again": "yes"}) == {}


def test_a_cusp_is_said_in_words() -> None:
    assert [cusp_word(cusp) for cusp in ("noncoronary", "anterior_mitral", None)] == [
        "non-coronary", "anterior mitral", "",
    ]  # fmt: skip


def test_things_are_found_by_their_id_and_nothing_else() -> None:
    checklist = sound()
    kinds: list[
        Literal["stage", "reading", "drug", "reason", "run", "tally", "watch", "interval", "decision"]
    ]
    kinds = ["stage", "reading", "drug", "reason", "run", "tally", "watch", "interval", "decision"]
    for kind in kinds:
        first = getattr(checklist, kind)[0]
        assert getattr(finding, kind)(checklist, first.id) is first
        assert getattr(finding, kind)(checklist, "no_such_thing") is None


def test_steps_are_found_in_stages_and_in_rescues() -> None:
    checklist = sound()
    pad, echo = finding.step(checklist, "access", "pad"), finding.step(checklist, "bailout:collapse", "echo")
    assert pad is not None
    assert pad.killer
    assert echo is not None
    assert echo.say == "Echo"
    assert finding.step(checklist, "collapse", "echo") is None
    assert finding.step(checklist, "bailout:access", "pad") is None


def test_slots_are_the_same_when_stage_and_cusp_are() -> None:
    assert Slot("traverse", "left") == Slot("traverse", "left")
    assert len({Slot("traverse", "left"), Slot("traverse", "right"), Slot("traverse")}) == 3


def test_a_plan_refuses_what_could_be_a_patient_number() -> None:
    base = {"technique": "sound", "substrate": "native", "targets": ("left",)}
    assert Plan.model_validate({**base, "study_number": "SITE1-0042"}).study_number == "SITE1-0042"
    for number in ("12345678", "A-19500102", "Smith, John", ""):
        with pytest.raises(ValueError, match="study_number"):
            Plan.model_validate({**base, "study_number": number})


def test_a_plan_wants_a_creatinine_with_its_unit() -> None:
    base = {"technique": "sound", "substrate": "native", "targets": ("left",)}
    Plan.model_validate({**base, "creatinine": Decimal("1.1"), "creatinine_unit": "mg/dL"})
    with pytest.raises(ValueError, match="needs its unit"):
        Plan.model_validate({**base, "creatinine": Decimal("1.1")})
