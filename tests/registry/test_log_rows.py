"""What the table of the log, the steps and the plan say of places, units, devices and reasons."""

from __future__ import annotations

import re
from typing import get_args

import pytest

from labcheck.caselog.events import AddendumAdded, Payload
from labcheck.checklist.plan import Plan
from labcheck.registry.deriving import log
from labcheck.registry.deriving.amending import BEFORE
from labcheck.registry.rows.log import EventRow
from labcheck.registry.rows.outcome import CaseRow
from labcheck.registry.tables import ROWS
from tests.registry.generating import generated
from tests.registry.telling import everything, head, told
from tests.registry.test_spans import LATE, all_rehearsals, rows_of


@pytest.mark.parametrize("number", range(6))
def test_stage_leaflet_and_visit_name_one_row_of_stages(number: int) -> None:
    for rows in (rows_of(generated(number)), *all_rehearsals()[number : number + 1]):
        visits = [
            (row["stage"], row["cusp"], row["visit"]) for row in rows["stages"] if row["visit"] is not None
        ]
        assert len(visits) == len(set(visits))
        void = {
            (e["stage"], e["visit"]) for e in rows["events"] if e["kind"] == "stage.opened" and e["voided"]
        }
        for event in rows["events"]:
            if event["visit"] is not None and (event["stage"], event["visit"]) not in void:
                assert (event["stage"], event["stage_cusp"], event["visit"]) in visits, event
        opened = {row["seq"]: row["stage"] for row in rows["stages"]}
        opened |= {row["seq"]: f"bailout:{row['bailout']}" for row in rows["bailouts"]}
        for step in rows["steps"]:
            assert step["opened_seq"] is None or opened[step["opened_seq"]] == step["stage"], step
            if step["visit"] is not None:
                assert (step["stage"], step["cusp"], step["visit"]) in visits, step


def test_a_pressure_read_during_work_on_a_leaflet_is_found_by_the_leaflet_of_the_visit() -> None:
    found = [
        (event["stage_cusp"], event["cusp"])
        for rows in all_rehearsals()
        for event in rows["events"]
        if event["kind"] == "reading.taken" and event["code"] == "systolic" and event["stage_cusp"]
    ]
    assert len(found) > 2
    assert {cusp for _, cusp in found} == {None}


def test_a_correction_stands_where_what_it_corrects_stands() -> None:
    for rows in (*all_rehearsals(), rows_of(everything())):
        for event in rows["events"]:
            if event["kind"] in ("event.amended", "event.voided"):
                target = rows["events"][event["refers_to"] - 1]
                names = ("stage", "visit", "stage_cusp", "cusp")
                if target["stage"] is not None:
                    assert [event[n] for n in names] == [target[n] for n in names], event


def test_a_rate_has_the_unit_of_its_run() -> None:
    starts = [e for e in rows_of(everything())["events"] if e["kind"] == "run.started"]
    assert [(e["code"], e["value"], e["unit"]) for e in starts] == [("pacing", 180, "/min")]
    bare = LATE.replace("rate = 180\n", "")
    (start,) = [e for e in rows_of(told(head() + bare))["events"] if e["kind"] == "run.started"]
    assert (start["value"], start["unit"]) == (None, None)


def test_a_reason_for_a_late_entry_leaves_as_its_id_and_a_typed_one_not_at_all() -> None:
    rows = rows_of(told(head() + LATE))["events"]
    late = [(e["kind"], e["late_reason_code"]) for e in rows if e["late"]]
    assert ("stage.closed", "haemodynamic") in late
    assert ("attempt.closed", None) in late
    assert "late_reason" not in rows[0]


def test_a_device_that_answers_a_step_leaves_as_its_id_and_a_view_does_not_leave() -> None:
    steps = [step for rows in all_rehearsals() for step in rows["steps"]]
    shapes = [step["option"] for step in steps if step["step"] == "guide_shape"]
    assert shapes
    assert None not in shapes
    events = [e for rows in all_rehearsals() for e in rows["events"] if e["code"] == "guide_shape"]
    assert {e["choice"] for e in events if e["kind"] == "step.answered"} >= set(shapes)
    views = [
        step for step in steps if step["step"] in ("front_view", "side_view") and step["answer"] == "value"
    ]
    assert views
    assert {(step["option"], step["value"], "value_text" in step) for step in views} == {(None, None, False)}


@pytest.mark.parametrize(
    ("planned", "said"),
    [("", "none"), ("[]", "none"), ('["left"]', "left"), ('["left", "right"]', "left;right")],
)
def test_no_protection_planned_is_said_as_none(planned: str, said: str) -> None:
    line = f"protection_planned = {planned}\n" if planned else ""
    assert rows_of(told(head() + line + LATE))["cases"][0]["protection_planned"] == said


def _said_in(row: type[EventRow] | type[CaseRow]) -> set[str]:
    return set(re.findall(r"``(\w+)``", row.__doc__ or "")) | set(row.model_fields)


CARRIED = {
    *log.CODE, *log.CHOICE, *log.WORDS, *log.IN_MICROSECONDS, *log.ENDS, *BEFORE,
    "run", "lead", "amount", "rate", "watts", "number", "mode", "before",
}  # fmt: skip
"""Fields of entries that a column of the log holds under another name."""


def test_every_field_of_every_entry_has_a_column_or_is_named_as_standing_elsewhere() -> None:
    known = CARRIED | _said_in(EventRow)
    for model in get_args(get_args(Payload)[0]):
        lost = set(model.model_fields) - known - ({"fact"} if model is AddendumAdded else set())
        assert lost == set(), model.__name__


def test_what_is_said_to_stand_in_other_tables_stands_there() -> None:
    for table, names in {
        "readings": {"judged_by", "judge", "reset", "outside"},
        "clocks": {"resolution_s", "uncertainty_s"},
        "cases": {"rehearsal", "checklist_revision", "checklist_digest"},
    }.items():
        assert names <= set(ROWS[table].model_fields)


def test_what_of_the_plan_has_no_column_is_named() -> None:
    named = CaseRow.__doc__ or ""
    words = {"coronaries": "coronaries", "hinges": "hinge", "perpendicular": "views", "projections": "views",
             "boundary_signs": "boundary signs", "roles": "roles", "study_number": "subject_id"}  # fmt: skip
    for field in set(Plan.model_fields) - set(CaseRow.model_fields):
        assert words[field] in named or words[field] in CaseRow.model_fields, field


def test_no_word_of_a_checklist_or_of_the_program_is_taken_for_a_typed_one() -> None:
    cases = [*all_rehearsals(), *(rows_of(case) for case in (everything(), *map(generated, range(8))))]
    for number, case in enumerate(cases):
        for name, rows in case.items():
            assert [row for row in rows if "other" in row.values()] == [], (name, number)
