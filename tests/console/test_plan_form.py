"""The plan's form: what it asks for, and the plan it comes to."""

from __future__ import annotations

from decimal import Decimal

import pytest

from labcheck.checklist.plan import Plan
from labcheck.console.plan_form import fields, first_values, plan_from, recorder_of
from tests.caselog.driving import small

FORBIDDEN = ("name", "birth", "patient", "hospital number", "address")


def test_there_is_no_field_for_who_the_patient_is() -> None:
    values = first_values(small())
    asked = [field.label.lower() for field in fields(small(), {**values, "substrate": "surgical"})]
    assert not [label for label in asked for word in FORBIDDEN if word in label]


def test_a_new_form_is_a_plan_already() -> None:
    plan = plan_from(small(), first_values(small()))
    assert isinstance(plan, Plan)
    assert plan.technique == "small"
    assert len(plan.targets) == 1


def test_the_order_of_the_cusps_is_part_of_the_plan() -> None:
    plan = plan_from(small(), {**first_values(small()), "targets": "right,left"})
    assert isinstance(plan, Plan)
    assert plan.targets == ("right", "left")


def test_numbers_are_read_exactly_and_a_comma_is_a_decimal_point() -> None:
    values = {**first_values(small()), "weight_kg": "68,5", "age_years": "79", "ct.left.height_mm": "7.20"}
    plan = plan_from(small(), values)
    assert isinstance(plan, Plan)
    assert plan.weight_kg == Decimal("68.5")
    assert plan.age_years == 79
    assert plan.coronaries[0].height_mm == Decimal("7.20")


def test_views_are_asked_for_each_target_cusp_and_signed() -> None:
    values = {**first_values(small()), "targets": "left,right", "view.right.side": "-12 18"}
    assert {f.id for f in fields(small(), values)} >= {"view.left.front", "view.right.side"}
    plan = plan_from(small(), values)
    assert isinstance(plan, Plan)
    view = plan.projections[0]
    assert (view.cusp, view.view, view.rao_lao_deg, view.cau_cra_deg) == ("right", "side", Decimal(-12), Decimal(18))


@pytest.mark.parametrize(
    ("field", "value", "said"),
    [
        ("weight_kg", "abc", "weight"),
        ("weight_kg", "5", "weight"),
        ("age_years", "79.5", "age"),
        ("study_number", "19420317", "study number"),
        ("study_number", "two words", "study number"),
        ("creatinine", "1.1", "creatinine"),
        ("ct.left.height_mm", "-3", "left coronary height"),
        ("view.left.front", "12", "front view"),
        ("view.left.front", "120 0", "front view"),
    ],
)
def test_what_is_wrong_is_said_in_one_line_that_names_the_field(field: str, value: str, said: str) -> None:
    values = {**first_values(small()), "targets": "left", field: value}
    complaint = plan_from(small(), values)
    assert isinstance(complaint, str)
    assert said in complaint
    assert "\n" not in complaint


def test_a_recorder_who_is_not_named_is_unknown_and_not_invented() -> None:
    assert recorder_of({"recorder": ""}) == "unknown"
    assert recorder_of({"recorder": "N 2!"}) == "N2"
