"""What the plan form computes while it is typed, and where the computed lines stand during a case."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labcheck.caselog.events import ReadingTaken
from labcheck.caselog.signout import signout_items
from labcheck.caselog.steps import StepLine
from labcheck.checklist.model import Checklist, Step
from labcheck.checklist.plan import Plan
from labcheck.console import plan_form, plan_lines, plan_views
from labcheck.console.panels import help as help_panels
from labcheck.console.panels import reading as reading_panel
from labcheck.console.panels import signout as signout_panel
from labcheck.console.panels import step as step_panel
from tests.caselog.driving import small
from tests.caselog.shipped import shipped
from tests.console.desk import TestDesk

HINGES = {"hinge.left": "10 6 0", "hinge.right": "0 -12 0", "hinge.noncoronary": "-10 6 0"}


@pytest.fixture(scope="module")
def checklist() -> Checklist:
    return shipped("electrosurgical")


def form(checklist: Checklist, **values: str) -> dict[str, str]:
    return {**plan_form.first_values(checklist), **{k.replace("__", "."): v for k, v in values.items()}}


def said(checklist: Checklist, values: dict[str, str], typing: str) -> list[str]:
    return [line.words for line in plan_lines.so_far(checklist, values, typing)]


def test_the_field_being_typed_puts_its_own_lines_first(checklist: Checklist) -> None:
    values = {**form(checklist, weight_kg="70"), "ct.left.cusp_height_mm": "8", "ct.left.height_mm": "10"}
    assert said(checklist, values, "ct.left.vtc_mm")[0].startswith("left coronary: type I,")
    assert said(checklist, values, "weight_kg")[0] == (
        "heparin, 50 to 100 IU/kg: 3500 to 7000 IU (common practice, no source: verify locally)"
    )


def test_a_number_half_typed_does_not_take_the_other_lines_away(checklist: Checklist) -> None:
    values = {**form(checklist, weight_kg="7"), "ct.left.cusp_height_mm": "8", "ct.left.height_mm": "10"}
    assert isinstance(plan_form.plan_from(checklist, values), str)
    lines = said(checklist, values, "weight_kg")
    assert any(line.startswith("left coronary: type I,") for line in lines)
    assert "heparin, 50 to 100 IU/kg not known: weight is not recorded" in lines


def test_a_plan_wrong_elsewhere_computes_nothing(checklist: Checklist) -> None:
    assert said(checklist, form(checklist, weight_kg="7", age_years="80"), "age_years") == []


def test_hinge_points_and_perpendicular_projections_are_part_of_the_plan(checklist: Checklist) -> None:
    values = {**form(checklist), **HINGES, "perpendicular.1": "-20 -10"}
    plan = plan_form.plan_from(checklist, values)
    assert isinstance(plan, Plan)
    assert [(h.cusp, h.x_mm, h.y_mm) for h in plan.hinges][1] == ("right", Decimal(0), Decimal(-12))
    assert plan.perpendicular[0].rao_lao_deg == -20


@pytest.mark.parametrize(
    ("field", "value", "complaint"),
    [
        ("hinge.left", "1 2", "write three numbers"),
        ("hinge.left", "1 2 9999", "up to 5000"),
        ("perpendicular.1", "120 0", "up to 90"),
        ("perpendicular.2", "1", "write two numbers"),
        ("view.left.front", "1e1 2", "write two numbers"),
    ],
)
def test_a_wrong_point_or_projection_is_said_with_its_field(
    checklist: Checklist, field: str, value: str, complaint: str
) -> None:
    plan = plan_form.plan_from(checklist, {**form(checklist), field: value})
    assert isinstance(plan, str)
    assert complaint in plan


def test_the_computed_view_of_a_cusp_is_offered_as_it_would_be_typed(checklist: Checklist) -> None:
    plan = plan_form.plan_from(checklist, {**form(checklist), "targets": "right", **HINGES})
    assert plan_views.computed_for(plan, "view.right.front") == "0 0"
    assert plan_views.computed_for(plan, "view.left.front") is None
    assert plan_views.computed_for(plan, "weight_kg") is None
    assert plan_views.computed_for("no plan", "view.right.front") is None


def test_a_distance_past_the_wall_is_negative_and_a_height_is_not(checklist: Checklist) -> None:
    plan = plan_form.plan_from(checklist, {**form(checklist), "ct.left.vtc_mm": "-1.5"})
    assert isinstance(plan, Plan)
    assert plan.coronaries[0].vtc_mm == Decimal("-1.5")
    assert isinstance(plan_form.plan_from(checklist, {**form(checklist), "ct.left.height_mm": "-1"}), str)


def test_boundary_signs_are_a_choice_and_unsaid_at_first(checklist: Checklist) -> None:
    plain = plan_form.plan_from(checklist, form(checklist))
    chosen = plan_form.plan_from(checklist, {**form(checklist), "signs.vtc_4_mm": "wide"})
    assert isinstance(plain, Plan)
    assert isinstance(chosen, Plan)
    assert plain.boundary_signs is None
    assert chosen.boundary_signs is not None
    assert chosen.boundary_signs.vtc_4_mm == "wide"


FIELDS = [
    f.id
    for f in plan_form.fields(shipped("electrosurgical"), {"targets": "left,right"})
    if f.kind != "choice"
]


PRINTABLE = st.text(st.characters(exclude_categories=("C", "Z"), include_characters=" "), max_size=12)
NUMBERLIKE = st.text("0123456789+-,.eE ", max_size=9)


@settings(max_examples=100, deadline=None)
@given(st.dictionaries(st.sampled_from(FIELDS), st.one_of(PRINTABLE, NUMBERLIKE)))
def test_nothing_that_can_be_typed_into_the_form_makes_an_exception(typed: dict[str, str]) -> None:
    checklist = shipped("electrosurgical")
    values = {**plan_form.first_values(checklist), "targets": "left,right", **typed}
    plan = plan_form.plan_from(checklist, values)
    assert isinstance(plan, Plan) or "\n" not in plan
    for field in typed:
        plan_lines.so_far(checklist, values, field)
        plan_views.computed_for(plan, field)


# --- panels -----------------------------------------------------------------------------------------------


def test_tab_says_who_judged_a_flow_and_a_digit_still_records_at_once() -> None:
    desk = TestDesk("left")
    desk.turn(reading_panel.start(desk, "flow", "left"))
    desk.press("1")
    assert "who: not said" in desk.text()
    desk.press("tab", "1")
    taken = desk.case.readings[-1].what
    assert isinstance(taken, ReadingTaken)
    assert taken.judge == small().stage[0].step[0].owner
    assert taken.judged_by is not None


def test_who_judged_is_left_unsaid_unless_it_is_said() -> None:
    desk = TestDesk("left")
    desk.turn(reading_panel.start(desk, "flow", "left"))
    desk.press("1", "1")
    assert desk.case.readings[-1].what.judge is None


def test_the_sources_key_shows_what_the_plan_comes_to() -> None:
    desk = TestDesk("left")
    paragraphs = [text for _, text in getattr(help_panels.sources_panel(desk), "paragraphs", [])]
    assert "left coronary: no CT measurements recorded" in paragraphs
    assert any(text.startswith("eGFR not known: ") for text in paragraphs)


def test_the_planned_view_is_shown_beside_what_is_typed_and_not_typed_by_itself() -> None:
    desk = TestDesk("left")
    aimed = {"cusp": "left", "view": "front", "rao_lao_deg": Decimal(-12), "cau_cra_deg": Decimal(-18)}
    plan = Plan.model_validate(
        {"technique": "t", "substrate": "native", "targets": ("left",), "projections": (aimed,)}
    )
    desk.session.case = replace(desk.case, plan=plan)
    step = Step(id="front_view", say="Front view used", kind="projection")
    panel = step_panel.value_panel(desk, StepLine(step, "position", "left", "open", "", None))
    assert panel is not None
    drawn = panel.draw(80, 14).plain
    assert "planned: RAO 12 CAU 18" in drawn
    assert "-18" not in drawn


def test_before_the_seal_the_late_watch_is_read_out_with_how_each_coronary_was_seen() -> None:
    desk = TestDesk("left")
    desk.do("reading.take", reading="flow", ostium="left", choice="normal", judged_by="angio")
    for item in signout_items(desk.case, desk.now()):
        desk.do("signout.settle", item=item.id, reason="no time")
    panel = signout_panel.open_panel(desk)
    assert panel is not None
    drawn = " ".join(panel.draw(100, 20).plain.split())
    assert "hand over: left coronary normal" in drawn
    assert "hand over: right coronary was not looked at" in drawn
    assert "late watch: of 38 obstructions" in drawn
    assert "close the case and seal it" in drawn
