"""The data dictionary says what the code does: fields, fixed words, what is counted, what a profile lets out."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import timedelta
from typing import Any, Literal, get_args, get_origin

import pytest
from pydantic import BaseModel

from labcheck.caselog.case import Case
from labcheck.caselog.corrections import AMENDABLE, TIMED_ONLY
from labcheck.caselog.deviations import Kind, deviations
from labcheck.caselog.events import AddendumAdded, Event, Payload
from labcheck.caselog.stamps import Mode
from labcheck.checklist.model import Bailout
from labcheck.registry.deriving.frame import frame
from labcheck.registry.deriving.log import event_rows
from labcheck.registry.deriving.outcome import case_row
from labcheck.registry.describing.findings import DEVIATIONS, RESCUES
from labcheck.registry.describing.introduction import PROFILES
from labcheck.registry.describing.kinds import FIXED, STANDS_IN, place
from labcheck.registry.dictionary import data_dictionary
from labcheck.registry.measures import UCUM
from labcheck.registry.pseudonyms import Pseudonyms
from labcheck.registry.rows.log import EventRow
from labcheck.registry.stored import StoredCase
from labcheck.registry.tables import ROWS
from labcheck.registry.times import read_rfc3339
from tests.registry.generating import generated
from tests.registry.telling import everything, rehearsals

MODELS: tuple[type[BaseModel], ...] = get_args(get_args(Payload)[0])
OWN_WORDS = frozenset({"kind", "cusp", "ostium"})
"""Fields whose words stand elsewhere: at the column itself."""


@pytest.fixture(scope="module")
def cases() -> list[Case]:
    made = [generated(seed)[0] for seed in range(20)]
    return [everything()[0], *(case for case, _ in rehearsals()), *made]


def literals(annotation: Any) -> Iterator[str]:
    """Every word of a fixed list anywhere in an annotation."""
    if get_origin(annotation) is Literal:
        yield from (word for word in get_args(annotation) if isinstance(word, str))
    for inner in get_args(annotation):
        if not isinstance(inner, str):
            yield from literals(inner)


def test_every_word_of_a_fixed_list_is_explained() -> None:
    found: dict[str, set[str]] = {"mode": set(get_args(Mode))}
    for model in MODELS:
        for name, info in model.model_fields.items():
            words = set(literals(info.annotation))
            if words and name not in OWN_WORDS and name not in ("fact", "plan", "targets"):
                found[name] = found.get(name, set()) | words
    assert found == {name: set(words) for name, words in FIXED.items()}


def test_every_deviation_and_every_meaning_of_a_rescue_is_explained() -> None:
    assert set(DEVIATIONS) == set(get_args(Kind))
    assert set(RESCUES) == set(literals(Bailout.model_fields["endpoint"].annotation))


def test_what_can_be_amended_has_a_kind_that_can_be() -> None:
    assert set(STANDS_IN) <= set(AMENDABLE) | TIMED_ONLY
    for table in STANDS_IN.values():
        assert table.split("`")[1] in ROWS


def test_a_field_stands_in_the_column_that_the_dictionary_names(cases: list[Case]) -> None:
    looked_at = set()
    for case in cases:
        rows = event_rows(frame(case, profile="hospital", case_id="C-K7Q2-M4", subject_id=None))
        for event, row in zip(case.log, rows, strict=True):
            for field, where, value in said(event):
                assert getattr(row, where) == value, (event.kind, field, event.seq)
                looked_at.add((event.kind, where))
    assert len({kind for kind, _ in looked_at}) > 25
    assert {"code", "choice", "refers_to", "attempt", "text", "leads_to"} <= {where for _, where in looked_at}


def said(event: Event) -> Iterator[tuple[str, str, Any]]:
    """Field, column and value of what an entry says, for columns that take it as it is."""
    if isinstance(event.what, AddendumAdded):
        return
    for field, value in event.what:
        where = place(event.kind, field) or field
        if field == "answer" and value == "value":
            continue  # the option, the device or the number stands there instead
        if value is not None and where in EventRow.model_fields and where not in ("value", "kind"):
            yield field, where, value


def presses(events: Iterator[Event]) -> set[str]:
    return {event.press for event in events}


def test_deviations_are_counted_as_the_dictionary_says(cases: list[Case]) -> None:
    """Late entries and corrections by key press, holds one by one, rework by stage and cusp."""
    together = dict.fromkeys(("late_entry", "correction", "hold_passed", "rework"), 0)
    for case in cases:
        counting = [e for e in case.log if e.seq not in case.voided]
        visited = [visit.slot for visit in case.visits]
        expected = {
            "late_entry": len(presses(e for e in counting if e.mode == "late"))
            + any(e.mode == "transcribed" for e in counting),
            "correction": len(presses(e for e in case.log if e.kind in ("event.voided", "event.amended"))),
            "hold_passed": len([e for e in counting if e.kind == "hold.passed"]),
            "rework": len({slot for slot in visited if visited.count(slot) > 1}),
        }
        found = [deviation.kind for deviation in deviations(case)]
        assert {kind: found.count(kind) for kind in expected} == expected  # type: ignore[arg-type]
        together = {kind: together[kind] + expected[kind] for kind in expected}
    assert all(together.values()), together


def test_every_unit_is_in_the_dictionary_with_its_code() -> None:
    section = data_dictionary().split("\n## Units\n")[1]
    for unit, code in UCUM.items():
        assert (f"| `{unit}` | `{code}` |" if unit != code else f"`{unit}`") in section


def test_every_list_that_a_column_points_to_is_there() -> None:
    dictionary = data_dictionary()
    for title in ("Endpoints", "What a rescue means", "Deviations", "Kinds of entry", "Ids and the codebook"):
        assert len(re.findall(f"^## {title}$", dictionary, re.MULTILINE)) == 1


def test_the_shifted_profile_keeps_and_gives_away_what_the_dictionary_says(
    everything_case: tuple[Case, StoredCase],
) -> None:
    """Not a wish: whoever changes what leaves must say so there."""
    case, stored = everything_case
    key = Pseudonyms(b"0123456789abcdef0123456789abcdef")
    names = {"case_id": key.case_id(case), "subject_id": key.subject_id(case)}
    true = frame(case, profile="hospital", case_id="C-K7Q2-M4", subject_id=None)
    year = frame(case, profile="registry", **names)  # type: ignore[arg-type]
    moved = frame(case, profile="shifted", shift_us=key.shift_us(case), **names)  # type: ignore[arg-type]
    for real, named, shifted in zip(event_rows(true), event_rows(year), event_rows(moved), strict=True):
        back = read_rfc3339(f"{real.occurred_at[:-6]}+00:00") - read_rfc3339(shifted.occurred_at)
        assert back % timedelta(weeks=1) == timedelta(0)
        assert timedelta(weeks=1) <= back <= timedelta(weeks=260)
        assert (real.utc_offset, shifted.utc_offset) == ("+01:00", "+00:00")
        assert shifted.occurred_at[-6:] == "+00:00"
        assert (shifted.event_id, shifted.t_rel_s) == (named.event_id, named.t_rel_s)
    rows = [case_row(one, stored.head) for one in (true, year, moved)]
    assert [row.year for row in rows] == [2031, 2031, None]
    for promise in ("one to 260 weeks", "carry **no zone**", "same pseudonyms"):
        assert promise in PROFILES
