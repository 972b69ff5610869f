"""Views offered from a plan, and how far a view that was used is off."""

from __future__ import annotations

import math
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labcheck.caselog.clinical import plan_lines
from labcheck.caselog.figures import figures
from labcheck.caselog.projecting import (
    annulus,
    computed_views,
    off_words,
    offered,
    projection_of,
    view_of_step,
)
from labcheck.caselog.steps import step_lines
from labcheck.checklist.model import Checklist
from labcheck.checklist.plan import Plan
from labcheck.checklist.unfolding import Slot
from labcheck.reference.figures import Reason
from labcheck.reference.projections import Annulus, Projection
from tests.caselog.driving import Driver, small
from tests.caselog.planned import LEVEL, hinge, odd_plans, plan


def view(cusp: str, which: str, lao: int, cranial: int) -> dict[str, Any]:
    return {"cusp": cusp, "view": which, "rao_lao_deg": Decimal(lao), "cau_cra_deg": Decimal(cranial)}


def angles(lao: int, cranial: int) -> dict[str, Any]:
    return {"rao_lao_deg": Decimal(lao), "cau_cra_deg": Decimal(cranial)}


def lines(of: Plan) -> dict[str, str]:
    return {line.id: line.words for line in plan_lines(of)}


def test_a_level_annulus_is_seen_on_edge_without_any_tilt() -> None:
    said = lines(plan("left", "right", hinges=LEVEL))
    assert said["projections:curve"].startswith(
        "perpendicular: RAO 30; RAO 15; AP; LAO 15; LAO 30 (own geometry"
    )
    assert said["view:right:front"].startswith("right cusp, front view: AP (")


def test_the_front_view_of_the_right_cusp_has_its_hinge_midway_between_the_others() -> None:
    found = computed_views(plan("right", hinges=LEVEL))
    assert not isinstance(found, Reason)
    front = next(one.projection for one in found if one.view == "front")
    across = front.direction().cross(annulus_of(LEVEL).normal)
    seen = {h["cusp"]: float(h["x_mm"]) * across.x + float(h["y_mm"]) * across.y for h in LEVEL}
    assert math.isclose(seen["right"], (seen["left"] + seen["noncoronary"]) / 2, abs_tol=1e-9)


def test_the_side_view_of_a_cusp_lays_the_other_two_hinges_over_one_another() -> None:
    found = computed_views(plan("left", hinges=LEVEL))
    assert not isinstance(found, Reason)
    side = next(one.projection for one in found if one.view == "side")
    across = side.direction().cross(annulus_of(LEVEL).normal)
    seen = {h["cusp"]: float(h["x_mm"]) * across.x + float(h["y_mm"]) * across.y for h in LEVEL}
    assert math.isclose(seen["right"], seen["noncoronary"], abs_tol=1e-9)


def annulus_of(hinges: tuple[dict[str, Any], ...]) -> Annulus:
    found = annulus(plan(hinges=hinges))
    assert isinstance(found, Annulus)
    return found


def test_two_perpendicular_projections_give_the_curve_and_say_that_views_need_hinges() -> None:
    said = lines(plan(perpendicular=(angles(-20, -10), angles(20, 10))))
    # Closed form: tan(cranial) = k sin(LAO) with k = tan 10 / sin 20; 14.5 and 7.6 degrees at 30 and 15.
    assert "RAO 30 CAU 14; RAO 15 CAU 8; AP; LAO 15 CRA 8" in said["projections:curve"]
    assert (
        said["projections:views"]
        == "front and side views not known: the views of a cusp need its hinge points"
    )


@pytest.mark.parametrize(
    ("given_", "missing"),
    [
        ({"perpendicular": (angles(-20, -10),)}, "a second projection perpendicular to the annulus"),
        ({"perpendicular": (angles(10, 5), angles(11, 5))}, "too close to each other"),
        ({"hinges": LEVEL[:2]}, "the hinge point of the non-coronary cusp is not recorded"),
        (
            {"hinges": (LEVEL[0], hinge("right", "1", "1", "0"), hinge("noncoronary", "-8", "-4", "0"))},
            "on one line",
        ),
    ],
)
def test_what_keeps_a_projection_from_being_computed_is_said(given_: dict[str, Any], missing: str) -> None:
    said = lines(plan(**given_))
    assert said["projections"].startswith("projections not known: ")
    assert missing in said["projections"]
    assert not [id_ for id_ in said if id_.startswith("view:")]


def test_a_plan_without_hinges_or_projections_has_no_line_about_them() -> None:
    assert not [id_ for id_ in lines(plan()) if id_.startswith(("view", "projections"))]


def test_exchanged_labels_are_doubted() -> None:
    left, right, non = LEVEL
    exchanged = ({**left, "cusp": "right"}, {**right, "cusp": "left"}, non)
    assert "check the labels" in lines(plan(hinges=exchanged))["projections:labels"]
    assert "projections:labels" not in lines(plan(hinges=LEVEL))


def test_a_view_planned_by_hand_wins_and_its_distance_from_the_computed_one_is_said() -> None:
    both = plan("right", hinges=LEVEL, projections=(view("right", "front", 10, 0),))
    aim = offered(both, "right", "front")
    assert aim is not None
    assert (aim.planned, aim.projection) == (True, Projection(10, 0))
    assert "planned LAO 10, 10 deg away" in lines(both)["view:right:front"]


def test_a_cusp_without_a_hinge_point_gets_no_computed_view() -> None:
    assert computed_views(plan("fused", hinges=LEVEL)) == ()
    assert offered(plan("fused", hinges=LEVEL), "fused", "front") is None


@pytest.mark.parametrize(
    ("step", "which"), [("front_view", "front"), ("side_view", "side"), ("side", "side"), ("view", None)]
)
def test_the_view_of_a_step_is_read_from_its_id(step: str, which: str | None) -> None:
    assert view_of_step(step) == which


@pytest.mark.parametrize("text", ["", "12", "a b", "1 2 3", "nan 3", "95 0", "0 50", "1e9 1e9", "- -"])
def test_what_is_no_projection_is_none_and_raises_nothing(text: str) -> None:
    assert projection_of(text) is None


def test_a_view_used_is_told_off_planned_and_off_perpendicular() -> None:
    level = plan("right", hinges=LEVEL, projections=(view("right", "front", 10, 0),))
    assert off_words(level, "right", "front", Projection(10, 5)) == (
        "5 deg off planned LAO 10, 5 deg off perpendicular"
    )
    assert off_words(level, "right", "side", Projection(0, 0)).endswith("0 deg off perpendicular")


def test_where_nothing_was_planned_a_view_used_is_only_recorded() -> None:
    assert off_words(plan("right"), "right", "front", Projection(10, 5)) == ""


# --- in a case --------------------------------------------------------------------------------------------


def with_front_view() -> Checklist:
    """The small checklist, its one view asked for as the front view."""
    checklist = small()
    stages = tuple(
        s.model_copy(update={"step": tuple(p.model_copy(update={"id": "front_view"}) for p in s.step)})
        if s.id == "position"
        else s
        for s in checklist.stage
    )
    return checklist.model_copy(update={"stage": stages})


def positioned(**given_: Any) -> Driver:
    driver = Driver("left", checklist=with_front_view(), **given_)
    driver.at(0).do("stage.open")
    driver.do("stage.open", stage="position", cusp="left", reason="order")
    return driver


def test_the_step_and_the_figures_show_how_far_the_view_used_is_off() -> None:
    driver = positioned(projections=(view("left", "front", -12, -18),))
    driver.do("step.answer", step="front_view", answer="value", value="-12 -10")
    line = step_lines(driver.case, Slot("position", "left"))[0]
    assert line.words == "RAO 12 CAU 10, 8 deg off planned RAO 12 CAU 18"
    shown = {figure.id: figure for figure in figures(driver.case, driver.stamp())}
    assert shown["view:front_view"].words == "front view RAO 12 CAU 10: 8 deg off planned RAO 12 CAU 18"
    assert shown["view:front_view"].source.endswith("verify locally")


def test_the_angle_off_stays_out_of_the_log_which_keeps_what_was_said() -> None:
    driver = positioned(projections=(view("left", "front", -12, -18),))
    answered = driver.do("step.answer", step="front_view", answer="value", value="-12 -10")
    assert answered[-1].what.value == "-12 -10"


def test_without_a_plan_of_views_the_step_shows_the_view_alone() -> None:
    driver = positioned()
    driver.do("step.answer", step="front_view", answer="value", value="-12 -10")
    assert step_lines(driver.case, Slot("position", "left"))[0].words == "RAO 12 CAU 10"


@settings(max_examples=150, deadline=None)
@given(odd_plans(), st.floats(), st.floats(), st.sampled_from(["front", "side", None]))
def test_no_projection_however_odd_makes_an_exception(
    odd: Plan, lao: float, cranial: float, which: Any
) -> None:
    for cusp in (*odd.targets, None):
        said = off_words(odd, cusp, which, Projection(lao, cranial))
        assert "nan" not in said
        assert said == "" or (abs(lao) <= 90 and abs(cranial) <= 45)
