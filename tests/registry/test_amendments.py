"""A correction in the table of the log: which field of which entry, before and after, and what of it may leave."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from labcheck.caselog.case import Case
from labcheck.caselog.corrections import AMENDABLE, TIMED_ONLY
from labcheck.caselog.events import Event, EventAmended, EventVoided
from labcheck.caselog.folding import fold
from labcheck.registry.columns import Profile
from labcheck.registry.deriving.frame import frame
from labcheck.registry.deriving.log import event_rows
from labcheck.registry.exporting import export_case
from labcheck.registry.profiles import values
from labcheck.registry.pseudonyms import WEEK_US, Pseudonyms
from labcheck.registry.stored import StoredCase
from labcheck.registry.tables import Tables, tables
from labcheck.registry.times import read_rfc3339
from tests.registry.telling import SMALL, TOLD, head, stored_of, told

KEY = Pseudonyms(bytes(range(32)))
SHIFT_US = -3 * WEEK_US
TYPED = "mueller"
"""What a person may type anywhere: it has the form of an id."""

ALSO = """
[[entry]]
at = "09:30:00"
do = "device.use"
device = "snare"
action = "opened"
[[entry]]
at = "09:30:10"
do = "fault.note"
fault = "generator"
"""
CORRECTED = """
[[entry]]
at = "09:40:00"
do = "event.amend"
target = 5
field = "happened"
value = "1930377840123456"
reason = "read off the strip"
[[entry]]
at = "09:41:00"
do = "event.amend"
target = 10
field = "reason"
value = "haemodynamic"
reason = "wrong key"
[[entry]]
at = "09:42:00"
do = "event.amend"
target = 5
field = "note"
value = "seen by mueller"
reason = "added"
"""


@cache
def corrected() -> tuple[Case, StoredCase]:
    """A case whose ACT was amended in its value, its time and its note, and a decision in its reason."""
    return told(head() + TOLD + ALSO + CORRECTED)


def told_as(case: tuple[Case, StoredCase], profile: Profile) -> Tables:
    """The tables under a profile, under a name of its own."""
    shift = SHIFT_US if profile == "shifted" else 0
    return tables(
        frame(case[0], profile=profile, case_id="P-X", subject_id=None, shift_us=shift), case[1].head
    )


def events(case: tuple[Case, StoredCase], profile: Profile = "hospital") -> list[dict[str, Any]]:
    return [values(row, profile) for row in told_as(case, profile).rows["events"]]


def amending(rows: list[dict[str, Any]], target: int, field: str) -> dict[str, Any]:
    (found,) = [
        r for r in rows if r["kind"] == "event.amended" and (r["refers_to"], r["code"]) == (target, field)
    ]
    return found


def test_a_corrected_number_shows_what_it_was_and_what_it_is() -> None:
    row = amending(events(corrected(), "registry"), 5, "value")
    assert (row["before_value"], row["before_unit"], row["value"], row["unit"]) == (274, "s", 275, "s")


def test_a_corrected_time_is_a_clock_time_in_the_hospital_and_seconds_everywhere() -> None:
    row = amending(events(corrected()), 5, "happened")
    assert row["before_at"] == "2031-03-04T09:04:30.000+01:00"
    assert row["value_at"] == "2031-03-04T09:04:00.123+01:00"
    assert (row["before_value"], row["value"], row["unit"]) == (270, 240.123, "s")
    assert (row["value_text"], row["before_text"]) == (None, None)
    under = amending(events(corrected(), "registry"), 5, "happened")
    assert (under["before_value"], under["value"]) == (270, 240.123)
    assert not {"value_at", "before_at", "stands_at", "occurred_at"} & set(under)


def test_a_corrected_time_is_shifted_like_every_other() -> None:
    true, moved = (amending(events(corrected(), p), 5, "happened") for p in ("hospital", "shifted"))
    names = ("occurred_at", "stands_at", "value_at", "before_at")
    gaps = {read_rfc3339(moved[name]) - read_rfc3339(f"{true[name][:-6]}+00:00") for name in names}
    assert gaps == {timedelta(microseconds=SHIFT_US)}


def test_an_entry_stands_at_its_corrected_time_and_keeps_the_first_one() -> None:
    row = events(corrected())[4]
    assert (row["t_rel_s"], row["stands_rel_s"]) == (270, 240.123)
    assert row["stands_at"] == "2031-03-04T09:04:00.123+01:00"
    assert all(r["stands_rel_s"] == r["t_rel_s"] for r in events(corrected()) if not r["amended"])


def test_a_correction_that_was_taken_back_moves_nothing() -> None:
    case, stored = corrected()
    amended = next(e for e in case.log if isinstance(e.what, EventAmended) and e.what.field == "happened")
    again = fold(case, _next(case, EventVoided(target=amended.seq, reason="no")))
    row = events((again, stored))[4]
    assert (row["t_rel_s"], row["stands_rel_s"]) == (270, 270)


def test_a_reason_of_the_checklist_leaves_as_its_id_and_a_typed_text_does_not() -> None:
    row = amending(events(corrected()), 10, "reason")
    assert (row["choice"], row["before_choice"], row["before_text"]) == (
        "haemodynamic",
        None,
        "0007 said =cmd",
    )
    under = amending(events(corrected(), "registry"), 10, "reason")
    assert under["choice"] == "haemodynamic"
    assert "before_text" not in under


@pytest.mark.parametrize("profile", ["registry", "shifted"])
def test_no_typed_text_and_no_true_time_of_a_correction_leaves_in_any_format(
    profile: str, tmp_path: Path
) -> None:
    formats = ["json", "csv", "fhir"] if profile == "registry" else ["json", "csv", "fhir", "xes"]
    paths = export_case(*corrected(), formats, tmp_path, profile=profile, pseudonyms=KEY)
    text = "\n".join(path.read_text(encoding="utf-8") for path in paths)
    secrets = ["mueller", "strip", "wrong key", "0007 said", "1930377840", "2031-03-04"]
    secrets += ["09:04:00"] if profile == "registry" else []
    assert [secret for secret in secrets if secret in text] == []
    assert "240.123" in text


def _next(case: Case, what: Any) -> Event:
    last = case.log[-1]
    return last.model_copy(
        update={"seq": last.seq + 1, "id": f"{'f' * 32}-01", "press": "f" * 32, "what": what}
    )


def anything_typed() -> Iterator[tuple[str, str, Case]]:
    """For every field that may be amended, a case in which somebody typed a name there, before and after."""
    case, _ = corrected()
    for kind, fields in AMENDABLE.items():
        target = next((e.seq for e in case.log if e.kind == kind), None)
        for field in sorted(fields | {"outside"}):
            if target is not None:
                what = EventAmended(target=target, field=field, value=TYPED, before=TYPED, reason=TYPED)
                yield kind, field, fold(case, _next(case, what))


def test_a_name_typed_into_any_field_of_any_entry_stays_in_the_hospital() -> None:
    text = SMALL.read_bytes()
    tried, held_back = set(), 0
    for number, (kind, field, case) in enumerate(anything_typed()):
        tried.add(kind)
        pair = case, stored_of(case, text)
        profile: Profile = "shifted" if number % 3 == 0 else "registry"
        for name, rows in told_as(pair, profile).rows.items():
            for row in rows:
                assert TYPED not in values(row, profile).values(), (kind, field, name, profile)
        inside = list(event_rows(frame(case, profile="hospital", case_id="C-X", subject_id=None)))[-1]
        held_back += TYPED in (inside.value_text, inside.unit)
    assert set(AMENDABLE) - tried == {"hold.passed"}
    assert held_back > 25


def test_every_entry_whose_time_may_be_corrected_shows_both_times() -> None:
    case, _ = corrected()
    text = SMALL.read_bytes()
    for kind in sorted(set(AMENDABLE) | TIMED_ONLY):
        target = next((e for e in case.log if e.kind == kind), None)
        if target is None:
            continue
        us = str(target.happened.wall_us)
        what = EventAmended(target=target.seq, field="happened", value=us, before=us, reason="r")
        again = fold(case, _next(case, what))
        row = events((again, stored_of(again, text)))[-1]
        assert row["value_at"] == row["before_at"] == events(corrected())[target.seq - 1]["occurred_at"], kind
