"""Endpoints at exit from the room: what a log can know, and pending for the rest."""

from __future__ import annotations

import pytest

from labcheck.caselog.case import Case
from labcheck.registry.deriving.endpoints import endpoint_rows
from labcheck.registry.deriving.frame import frame
from labcheck.registry.dictionary import data_dictionary
from labcheck.registry.rows.endpoint_words import ENDPOINTS, as_because, reasons
from labcheck.registry.rows.endpoints import EndpointRow
from tests.registry.generating import generated
from tests.registry.telling import CHECKLISTS, SMALL, TOLD, head, rehearsals, told

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
def test_what_is_judged_later_is_pending_in_every_case(
    name: str, all_rows: list[tuple[Case, EndpointRow]]
) -> None:
    found = [row for _, row in all_rows if row.endpoint == name]
    assert found
    assert all(row.answer == "pending" and row.because for row in found)


def test_the_rehearsals_come_to_what_their_stories_tell() -> None:
    answers: dict[str, dict[tuple[str, str | None], str]] = {}
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


BY_CARD = {"second_valve": "in_place", "conversion": "surgery", "stroke": "deficit"}


@pytest.fixture(scope="module")
def all_rows() -> list[tuple[Case, EndpointRow]]:
    """The endpoints of every shipped rehearsal, of cases made by chance, and of one in which everything went wrong."""
    cards = {name: f'do = "bailout.open"\nbailout = "{name}"' for name in BY_CARD}
    ends = {name: f'do = "bailout.close"\noutcome = "{outcome}"' for name, outcome in BY_CARD.items()}
    script = HEAD.format(protected=[])
    entries = [ENTRIES["died"], *(said for name in BY_CARD for said in (cards[name], ends[name]))]
    for minute, entry in enumerate(entries):
        script += f'\n[[entry]]\nat = "10:{minute:02d}:00"\n{entry}\n'
    cases = [told(script, checklist=CHECKLISTS / "electrosurgical.toml")[0], *(c for c, _ in rehearsals())]
    cases += [
        generated(seed, checklist=checklist)[0]
        for seed in range(6)
        for checklist in (SMALL, CHECKLISTS / "electrosurgical.toml", CHECKLISTS / "coronary_protection.toml")
    ]
    return [
        (case, row)
        for case in cases
        for row in endpoint_rows(frame(case, profile="hospital", case_id="C-K7Q2-M4", subject_id=None))
    ]


def test_every_answer_that_the_dictionary_names_is_given_and_no_other(
    all_rows: list[tuple[Case, EndpointRow]],
) -> None:
    given = {(row.endpoint, row.answer) for _, row in all_rows}
    named = {
        (name, answer)
        for name, words in ENDPOINTS.items()
        for answer in ("yes", "no", "pending")
        if getattr(words, answer)
    }
    assert given == named


def test_every_definition_that_the_dictionary_names_is_given_and_no_other(
    all_rows: list[tuple[Case, EndpointRow]],
) -> None:
    given = {(row.endpoint, row.definition) for _, row in all_rows}
    assert given == {(name, one) for name, words in ENDPOINTS.items() for one in words.definitions}


def test_every_reason_and_value_is_one_that_the_dictionary_names(
    all_rows: list[tuple[Case, EndpointRow]],
) -> None:
    for case, row in all_rows:
        known = {as_because(text) for text in reasons(row.endpoint)}
        assert set((row.because or "").split(";")) - {""} <= known, row
        assert (row.because is None) == (not known), row
        words = ENDPOINTS[row.endpoint]
        assert row.value is None or words.value, row
        stages = [s.attempts for s in case.checklist.stage if s.per_cusp and s.attempts is not None]
        outcomes = {o.id for attempts in stages[-1:] for o in attempts.outcomes} | {"abandoned"}
        findings = {o.id for r in case.checklist.reading if r.per == "ostium" for o in r.options}
        assert row.value is None or row.value in (outcomes if row.cusp else findings), row


def test_a_cut_in_part_is_a_modified_leaflet_and_stays_one_after_a_failed_try() -> None:
    """As the dictionary says: the first success counts, not the last attempt."""
    opened = 'do = "stage.open"\nstage = "lacerate"\ncusp = "left"\nreason = "test"'
    tries = [f'do = "attempt.close"\noutcome = "{outcome}"' for outcome in ("partial", "none")]
    script = HEAD.format(protected=[])
    for minute, entry in enumerate((opened, *tries)):
        script += f'\n[[entry]]\nat = "10:{minute:02d}:00"\n{entry}\n'
    case, _ = told(script, checklist=CHECKLISTS / "electrosurgical.toml")
    framed = frame(case, profile="hospital", case_id="C-K7Q2-M4", subject_id=None)
    (found,) = [r for r in endpoint_rows(framed) if r.endpoint == "leaflet_modified"]
    assert (found.answer, found.value) == ("yes", "partial")


def test_every_endpoint_has_its_place_in_the_dictionary() -> None:
    dictionary = data_dictionary()
    for name, words in ENDPOINTS.items():
        section = dictionary.split(f"\n### `{name}`\n")[1].split("\n#")[0]
        assert words.means in section
        for text in reasons(name):
            assert f"`{as_because(text)}`" in section
