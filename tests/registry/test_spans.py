"""How far the ends of visits, attempts, bursts, runs, rescues and intervals can be trusted, and energy nobody keyed."""

from __future__ import annotations

from functools import cache
from typing import Any

import pytest

from labcheck.caselog.case import Case
from labcheck.caselog.deciding import Decided, decide
from labcheck.caselog.events import EventAmended, EventVoided
from labcheck.caselog.folding import begin, fold, fold_all
from labcheck.caselog.intents import INTENT_MODELS
from labcheck.caselog.stamps import Stamp
from labcheck.checklist.plan import Plan
from labcheck.checklist.reading import digest, read_checklist
from labcheck.registry.columns import Profile
from labcheck.registry.deriving.frame import frame
from labcheck.registry.profiles import values
from labcheck.registry.stored import StoredCase
from labcheck.registry.tables import tables
from tests.registry.generating import generated
from tests.registry.telling import (
    SMALL,
    everything,
    head,
    rehearsals,
    stored_of,
    told,
    transcribed_everything,
)
from tests.registry.test_amendments import _next

SPANS = ("stages", "attempts", "bursts", "runs", "bailouts", "intervals")
LATE = """
[[entry]]
at = "09:00:00"
do = "stage.open"
stage = "access"
[[entry]]
at = "09:10:00"
do = "stage.close"
ago = "2:00"
late_reason = "haemodynamic"
[[entry]]
at = "09:11:00"
do = "stage.open"
stage = "position"
cusp = "right"
[[entry]]
at = "09:12:00"
do = "stage.open"
stage = "cross"
cusp = "right"
reason = "haemodynamic"
[[entry]]
at = "09:13:00"
do = "attempt.close"
outcome = "failed"
[[entry]]
at = "09:15:00"
do = "attempt.close"
outcome = "crossed"
ago = "1:00"
late_reason = "somebody was busy"
[[entry]]
at = "09:16:00"
do = "mark.set"
[[entry]]
at = "09:17:00"
do = "run.start"
run = "pacing"
rate = 180
"""
"""A visit with a late end, a try that was keyed without energy, and one that was told a minute later."""

TWICE = """
[[entry]]
at = "09:20:00"
do = "stage.open"
stage = "flow"
reason = "haemodynamic"
[[entry]]
at = "09:22:00"
do = "stage.close"
ago = "1:00"
[[entry]]
at = "09:23:00"
do = "stage.open"
stage = "flow"
reason = "haemodynamic"
[[entry]]
at = "09:24:00"
do = "stage.close"
"""
"""Two visits to one stage, the first with a late end."""

RowsOf = dict[str, list[dict[str, Any]]]


def rows_of(case: tuple[Case, StoredCase], profile: Profile = "registry") -> RowsOf:
    """Every table under a profile as plain values."""
    found = tables(frame(case[0], profile=profile, case_id="P-X", subject_id=None), case[1].head)
    return {name: [values(row, profile) for row in rows] for name, rows in found.rows.items()}


@cache
def late() -> RowsOf:
    return rows_of(told(head() + LATE))


@cache
def all_rehearsals() -> tuple[RowsOf, ...]:
    return tuple(rows_of(case) for case in rehearsals())


def interval(rows: RowsOf, name: str) -> dict[str, Any]:
    (found,) = [row for row in rows["intervals"] if row["interval"] == name]
    return found


def test_a_span_is_as_good_as_the_worse_of_its_ends() -> None:
    visit = late()["stages"][0]
    assert (visit["stage"], visit["late"], visit["time_quality"]) == ("access", False, "estimated")
    assert visit["duration_basis"] == "boot"
    for name in ("visit:access:1", "stage:access", "attempt:cross:right:2"):
        assert interval(late(), name)["time_quality"] == "estimated", name
    for name in ("visit:position:right:1", "stage:position:right", "attempt:cross:right:1"):
        assert interval(late(), name)["time_quality"] == "measured", name


def test_a_stage_of_several_visits_is_as_good_as_its_worst_visit() -> None:
    rows = rows_of(told(head() + TWICE))
    assert interval(rows, "visit:flow:2")["time_quality"] == "measured"
    assert interval(rows, "stage:flow")["time_quality"] == "estimated"


def test_a_span_without_an_end_is_as_good_as_its_start_and_one_without_times_says_nothing() -> None:
    (run,) = late()["runs"]
    assert (run["duration_s"], run["time_quality"]) == (None, "measured")
    unstable = interval(late(), "unstable")
    assert (unstable["state"], unstable["time_quality"]) == ("missing", None)
    assert {row["time_quality"] for row in late()["stages"] if row["start_rel_s"] is None} <= {None}


def test_a_span_from_paper_is_not_from_this_console() -> None:
    rows = rows_of(transcribed_everything())
    found = {row["time_quality"] for name in SPANS for row in rows[name] if row["duration_s"] is not None}
    assert found == {"unsynchronized"}


def test_a_time_that_was_corrected_by_hand_is_an_estimate_until_the_correction_is_taken_back() -> None:
    case, stored = everything()
    opened = case.visits[1]
    what = EventAmended(
        target=opened.seq,
        field="happened",
        value=str(opened.start.wall_us + 1_000_000),
        before=None,
        reason="r",
    )
    amended = fold(case, _next(case, what))
    back = fold(amended, _next(amended, EventVoided(target=amended.log[-1].seq, reason="r")))
    said = [rows_of((one, stored))["stages"][1]["time_quality"] for one in (case, amended, back)]
    assert said == ["measured", "estimated", "measured"]


MOVED = """
[[entry]]
at = "09:18:00"
do = "cusp.move"
cusp = "left"
target = {target}
"""


def test_what_was_moved_to_another_leaflet_is_no_better_known_than_before() -> None:
    case, _ = told(head() + LATE)
    late_try, keyed = case.attempts[1], case.attempts[0]
    moved = rows_of(told(head() + LATE + MOVED.format(target=late_try.seq)))
    assert [(a["cusp"], a["time_quality"]) for a in moved["attempts"]] == [
        ("right", "measured"),
        ("left", "estimated"),
    ]
    event = moved["events"][moved["attempts"][1]["seq"] - 1]
    assert event["time_quality"] == "estimated"
    moved = rows_of(told(head() + LATE + MOVED.format(target=keyed.seq)))
    assert {a["cusp"]: a["time_quality"] for a in moved["attempts"]} == {
        "right": "estimated",
        "left": "measured",
    }


def test_a_try_whose_energy_nobody_recorded_does_not_read_as_no_energy() -> None:
    keyed, told_later = late()["attempts"]
    assert (keyed["late"], keyed["bursts"], keyed["energy_s"]) == (False, 0, None)
    assert (told_later["late"], told_later["bursts"], told_later["energy_s"]) == (True, None, None)
    assert late()["cases"][0]["energy_s"] is None
    recorded = rows_of(everything())
    assert [(row["bursts"], row["energy_s"]) for row in recorded["attempts"]] == [
        (1, 1.5),
        (1, 2.25),
        (None, None),
        (1, 2.0),
    ]
    assert recorded["cases"][0]["energy_s"] == 5.75


@pytest.mark.parametrize("seed", range(6))
def test_wherever_there_is_a_duration_its_trust_is_said(seed: int) -> None:
    case = generated(seed)
    estimated = {event.seq for event in case[0].log if event.mode != "live" and event.precision_s}
    rows = rows_of(case)
    for name in SPANS:
        for row in rows[name]:
            assert (row["time_quality"] is not None) or row["duration_s"] is None, (name, row)
            if row.get("start_seq", row.get("seq")) in estimated:
                assert row["time_quality"] != "measured", (name, row)


def set_back() -> tuple[Case, StoredCase]:
    """A visit with a try and a burst in it, over a restart after which the wall clock stands two minutes earlier."""
    text = SMALL.read_bytes()
    case = begin("K7Q2-M4", read_checklist(text, SMALL.name))
    plan = Plan(technique="small", substrate="native", targets=("left",))
    presses: list[tuple[str, dict[str, Any]]] = [
        ("case.open", {"plan": plan, "checklist_digest": digest(text)}),
        ("stage.open", {"stage": "cross", "cusp": "left", "reason": "haemodynamic"}),
        ("energy.on", {}),
        ("energy.off", {}),
        ("attempt.close", {"outcome": "crossed"}),
        ("stage.close", {}),
    ]
    for number, (do, fields) in enumerate(presses):
        boot = f"boot-{number // 3}"
        wall = 1_930_377_600_000_000 + (number * 10 - number // 3 * 120) * 1_000_000
        stamp = Stamp(wall_us=wall, off_s=0, tz="", boot_us=wall // 1000, mono_us=wall // 1000, boot_id=boot)
        outcome = decide(case, INTENT_MODELS[do](press=f"{number:032x}", **fields), stamp)
        assert isinstance(outcome, Decided), outcome
        case = fold_all(case, outcome.events)
    return case, stored_of(case, text)


def test_a_length_over_a_restart_with_the_clock_set_back_is_known_in_no_table() -> None:
    rows = rows_of(set_back())
    spans = [
        row for name in ("stages", "attempts", "bursts", "intervals") for row in rows[name] if row.get("seq")
    ]
    assert len(spans) == 3
    for row in [*spans, *rows["intervals"]]:
        assert (row["duration_s"], row["duration_basis"]) == (None, None), row
    assert [(row["bursts"], row["energy_s"]) for row in rows["attempts"]] == [(1, None)]
    assert rows["cases"][0]["energy_s"] is None


def test_rehearsed_late_entries_make_their_spans_estimates() -> None:
    for rows in all_rehearsals():
        told_late = {e["seq"] for e in rows["events"] if e["mode"] == "late" and e["precision_s"]}
        for row in rows["intervals"]:
            if row["of"] != "stage" and {row["start_seq"], row["end_seq"]} & told_late:
                assert row["time_quality"] == "estimated", row
