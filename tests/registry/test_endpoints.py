"""Endpoints at exit from the room: what a log can know, and pending for the rest."""

from __future__ import annotations

import pytest

from labcheck.registry.deriving.endpoints import endpoint_rows
from labcheck.registry.deriving.frame import frame
from labcheck.registry.rows.endpoints import ENDPOINTS, EndpointRow
from tests.registry.telling import CHECKLISTS, TOLD, head, rehearsals, told

HEAD = """
format = 1
title = "endpoints"
checklist = "electrosurgical"
date = "2031-03-04"
utc_offset = "+01:00"
[plan]
technique = "electrosurgical"
substrate = "native"
targets = ["left"]
protection_planned = {protected}
"""

ENTRIES = {
    "alive": 'do = "step.answer"\nstage = "signout"\nstep = "leaves"\nanswer = "value"\nvalue = "alive"',
    "died": 'do = "step.answer"\nstage = "signout"\nstep = "leaves"\nanswer = "value"\nvalue = "died"',
    "one valve": 'do = "step.answer"\nstage = "signout"\nstep = "valve"\nanswer = "value"\nvalue = "one_right"',
    "wrong place": 'do = "step.answer"\nstage = "signout"\nstep = "valve"\nanswer = "value"\nvalue = "one_wrong"',
    "two valves": 'do = "step.answer"\nstage = "signout"\nstep = "valve"\nanswer = "value"\nvalue = "more"',
    "delivered": 'do = "step.answer"\nstage = "signout"\nstep = "delivery"\nanswer = "value"\nvalue = "good"',
    "obstructed": 'do = "bailout.open"\nbailout = "coronary"\nostium = "left"',
    "a rescue": 'do = "step.answer"\nstage = "bailout:coronary"\nstep = "planned"\nanswer = "value"\nvalue = "no"',
    "as planned": 'do = "step.answer"\nstage = "bailout:coronary"\nstep = "planned"\nanswer = "value"\nvalue = "yes"',
    "stented": 'do = "bailout.close"\noutcome = "stented"',
    "no treatment": 'do = "bailout.close"\noutcome = "no_treatment"',
}  # fmt: skip
GOOD = ("alive", "one valve", "delivered")


def rows(*said: str, protected: tuple[str, ...] = ()) -> dict[tuple[str, str | None], EndpointRow]:
    """The endpoints of a case in which this was said, a minute apart; it is not closed yet."""
    script = HEAD.format(protected=list(protected)).replace("'", '"')
    for minute, name in enumerate(said):
        script += f'\n[[entry]]\nat = "10:{minute:02d}:00"\n{ENTRIES[name]}\n'
    case, _ = told(script, checklist=CHECKLISTS / "electrosurgical.toml")
    framed = frame(case, profile="hospital", case_id="C-K7Q2-M4", subject_id=None)
    return {(r.endpoint, r.ostium or r.cusp): r for r in endpoint_rows(framed)}


def test_a_failed_criterion_decides_even_while_others_are_open() -> None:
    found = rows("two valves")[("technical_success", None)]
    assert found.answer == "no"
    assert "not_met:exactly_one_valve_implanted" in (found.because or "").split(";")


def test_an_open_case_is_pending() -> None:
    found = rows(*GOOD)[("technical_success", None)]
    assert found.answer == "pending"
    assert found.because == "not_recorded:no_unplanned_surgery_or_intervention"


def test_a_rescue_stent_breaks_technical_success_and_a_planned_one_does_not() -> None:
    rescued = rows(*GOOD, "obstructed", "a rescue", "stented")
    planned = rows(*GOOD, "obstructed", "as planned", "stented", protected=("left",))
    assert rescued[("technical_success", None)].answer == "no"
    assert rescued[("rescue_stent", "left")].answer == "yes"
    assert planned[("technical_success", None)].answer == "pending"
    assert planned[("rescue_stent", "left")].answer == "pending"
    assert planned[("planned_stent", "left")].answer == "yes"
    definition = rescued[("technical_success", None)].definition
    assert definition == "varc_3_planned_stent_is_no_failure"


def test_a_card_that_was_opened_and_needed_no_treatment_is_no_intervention() -> None:
    found = rows(*GOOD, "obstructed", "no treatment")
    assert found[("technical_success", None)].answer == "pending"
    assert found[("coronary_obstruction_in_room", "left")].answer == "pending"


def test_death_in_the_room_is_certain_and_survival_to_thirty_days_is_not() -> None:
    assert rows("died")[("procedural_death", None)].answer == "yes"
    alive = rows("alive")
    assert alive[("death_in_room", None)].answer == "no"
    assert alive[("procedural_death", None)].answer == "pending"


@pytest.mark.parametrize(
    "name",
    ["device_success", "early_safety", "acute_kidney_injury", "haemoglobin_drop", "permanent_pacemaker"],
)
def test_what_is_judged_later_is_pending_in_every_case(name: str) -> None:
    for case, _ in rehearsals():
        framed = frame(case, profile="hospital", case_id="C-K7Q2-M4", subject_id=None)
        (found,) = [r for r in endpoint_rows(framed) if r.endpoint == name]
        assert found.answer == "pending"
        assert found.because


def test_the_rehearsals_come_to_what_their_stories_tell() -> None:
    answers = {}
    for case, _ in rehearsals():
        framed = frame(case, profile="hospital", case_id="C-K7Q2-M4", subject_id=None)
        key = "".join(cusp[0] for cusp in case.order)
        answers.setdefault(key, {(r.endpoint, r.cusp or r.ostium): r.answer for r in endpoint_rows(framed)})
    left, both = answers["l"], answers["rl"]
    assert left[("technical_success", None)] == "yes"
    assert left[("leaflet_modified", "left")] == "yes"
    assert left[("coronary_obstruction_in_room", "left")] == "no"
    assert both[("technical_success", None)] == "no"
    assert (both[("leaflet_modified", "right")], both[("leaflet_modified", "left")]) == ("yes", "no")
    assert both[("rescue_stent", "left")] == "yes"


def test_a_local_checklist_with_other_ids_gets_pending_and_no_guess() -> None:
    case, _ = told(head() + TOLD)
    framed = frame(case, profile="hospital", case_id="C-K7Q2-M4", subject_id=None)
    found = {(r.endpoint, r.cusp or r.ostium): r.answer for r in endpoint_rows(framed)}
    assert found[("technical_success", None)] == "no"
    assert found[("death_in_room", None)] == "pending"
    assert found[("leaflet_modified", "left")] == "no"


def test_every_endpoint_is_explained_in_the_dictionary() -> None:
    found = set()
    for case, _ in rehearsals():
        framed = frame(case, profile="hospital", case_id="C-K7Q2-M4", subject_id=None)
        found |= {r.endpoint for r in endpoint_rows(framed)}
    assert found == set(ENDPOINTS)
