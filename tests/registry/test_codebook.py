"""The codebook: every id that a checklist puts into exports, with its words and what it counts as."""

from __future__ import annotations

import csv
import io
from decimal import Decimal
from pathlib import Path

import frictionless
import pytest

from labcheck.caselog.intervals import interval_rows
from labcheck.checklist import finding
from labcheck.checklist.conditions import Point
from labcheck.checklist.reading import digest, read_checklist
from labcheck.registry.cells import unguarded
from labcheck.registry.codebook import COLUMNS, KINDS, codebook, codebook_schema
from labcheck.registry.deriving.frame import Frame, frame
from labcheck.registry.deriving.log import event_rows
from labcheck.registry.deriving.stages import attempt_rows
from labcheck.registry.deriving.values import reading_rows, step_rows
from labcheck.registry.describing.introduction import IDS
from labcheck.registry.moments import moment_words
from tests.registry.telling import CHECKLISTS, rehearsals

Key = tuple[str, str, str, str]


@pytest.fixture(scope="module")
def book() -> bytes:
    texts = [(path.name, path.read_bytes()) for path in sorted(CHECKLISTS.glob("*.toml"))]
    return codebook((read_checklist(text, name), digest(text)) for name, text in texts)


@pytest.fixture(scope="module")
def lines(book: bytes) -> dict[Key, dict[str, str]]:
    """Every line by its key, apostrophes taken away."""
    found = {}
    for row in csv.DictReader(io.StringIO(book.decode())):
        line = {name: unguarded(cell) for name, cell in row.items()}
        found[line["checklist_id"], line["kind"], line["within"], line["id"]] = line
    return found


@pytest.fixture(scope="module")
def frames() -> list[Frame]:
    cases = [case for case, _ in rehearsals()]
    return [frame(case, profile="hospital", case_id="C-K7Q2-M4", subject_id=None) for case in cases]


def test_the_codebook_fits_its_schema(book: bytes, tmp_path: Path) -> None:
    (tmp_path / "codebook.csv").write_bytes(book)
    schema = frictionless.Schema.from_descriptor(codebook_schema())
    with frictionless.system.use_context(trusted=True):
        report = frictionless.Resource(path=str(tmp_path / "codebook.csv"), schema=schema).validate()
    assert report.valid, report.flatten(["rowNumber", "fieldName", "message"])[:5]


def test_every_kind_and_every_column_of_the_codebook_is_in_use(lines: dict[Key, dict[str, str]]) -> None:
    assert {line["kind"] for line in lines.values()} == set(KINDS)
    assert all(any(line[name] for line in lines.values()) for name in COLUMNS)


def test_a_line_names_the_exact_text_of_its_checklist(lines: dict[Key, dict[str, str]]) -> None:
    for path in CHECKLISTS.glob("*.toml"):
        named = {line["checklist_digest"] for line in lines.values() if line["checklist_id"] == path.stem}
        assert named == {f"sha256:{digest(path.read_bytes())}"}


def test_every_option_is_found_by_the_rule_of_the_dictionary(
    lines: dict[Key, dict[str, str]], frames: list[Frame]
) -> None:
    """Where a step records something its option is that one's, else its own."""
    ways = set()
    for framed in frames:
        checklist = framed.case.checklist.id
        for row in step_rows(framed):
            step = lines[checklist, "step", row.stage, row.step]
            if row.option is None:
                continue
            kind, _, recorded = step["records"].partition(".")
            ways.add(kind)
            if step["asks"] == "device":
                key = (checklist, "device", "", row.option)
            elif step["records"]:
                key = (checklist, "choice", recorded, row.option)
            else:
                key = (checklist, "option", f"{row.stage}.{row.step}", row.option)
            assert key in lines, row
    assert {"", "reading", "decision"} <= ways


def test_a_number_is_in_the_unit_asked_for_or_in_another_that_its_reading_takes(
    lines: dict[Key, dict[str, str]], frames: list[Frame]
) -> None:
    as_asked = 0
    for framed in frames:
        checklist = framed.case.checklist
        for row in step_rows(framed):
            line = lines[checklist.id, "step", row.stage, row.step]
            if row.value is None or row.unit == (line["unit"] or None):
                as_asked += row.value is not None
                continue
            reading = finding.reading(checklist, line["records"].partition(".")[2])
            assert reading is not None, row
            assert row.unit in reading.units, row
    assert as_asked > len(frames)


def test_an_outcome_counts_as_what_the_attempts_say(
    lines: dict[Key, dict[str, str]], frames: list[Frame]
) -> None:
    found = set()
    for framed in frames:
        for row in attempt_rows(framed):
            if row.outcome is not None:
                line = lines[framed.case.checklist.id, "outcome", row.stage, row.outcome]
                assert line["counts_as"] == row.result
                found.add(row.result)
    assert {"success", "fault", "failed"} <= found


CODES = {
    "bailout.opened": "bailout", "decision.made": "decision", "device.used": "device", "dose.given": "drug",
    "fault.noted": "fault", "hold.passed": "hold", "reading.taken": "reading", "run.started": "run",
    "sample.sent": "reading", "signout.settled": "item", "step.answered": "step",
}  # fmt: skip
"""What the column code names, by kind of entry."""


def test_every_id_in_the_log_is_in_the_codebook(
    lines: dict[Key, dict[str, str]], frames: list[Frame]
) -> None:
    asked = set()
    for framed in frames:
        checklist = framed.case.checklist.id
        known = {(kind, id_) for named, kind, _, id_ in lines if named == checklist}
        for event in event_rows(framed):
            if event.kind in CODES:
                way, colon, name = (event.code or "").rpartition(":")
                if event.kind == "signout.settled" and way != "signout":
                    assert f"`{way}{colon}`" in IDS or f"`{event.code}`" in IDS, event
                    continue
                assert (CODES[event.kind], name) in known, event
                asked.add(event.kind)
            for reason in (event.reason_code, event.late_reason_code):
                assert reason is None or ("reason", reason) in known, event
        for reading in reading_rows(framed):
            assert reading.judged_by is None or ("judged_by", reading.judged_by) in known, reading
            assert reading.judge is None or ("role", reading.judge) in known, reading
    assert asked >= set(CODES) - {"fault.noted"}, set(CODES) - asked


def test_every_interval_says_between_which_moments_it_lies(
    lines: dict[Key, dict[str, str]], frames: list[Frame]
) -> None:
    for framed in frames:
        for row in interval_rows(framed.case, None):
            line = lines[framed.case.checklist.id, "interval", "", row.id]
            assert line["starts"]
            assert line["ends"]
    unstable = lines["mechanical_splitter", "interval", "", "unstable"]
    assert unstable["starts"].startswith("last effect of an attempt in ")
    assert unstable["starts"] != lines["electrosurgical", "interval", "", "unstable"]["starts"]


MOMENTS = (
    (Point(event="stage.opened", stage="access"), "first opening of Access"),
    (Point(event="stage.closed", stage="deploy", which="last"), "last closing of Valve deployment as done"),
    (Point(event="attempt.opened", stage="traverse"), "first start of an attempt in Crossing the leaflet"),
    (Point(event="attempt", stage="traverse", outcome=("crossed",)),
     "first effect of an attempt in Crossing the leaflet with the outcome crossed (end of its last energy burst, else "
     "the entry of its result)"),
    (Point(event="reading", reading="act", at_least=Decimal(250)), "first reading of ACT of 250 s or more"),
    (Point(event="sample", reading="act"), "first sample sent for ACT"),
    (Point(event="dose", drug="heparin"), "first dose of Heparin"),
    (Point(event="run.started", run="pacing"), "first start of Rapid pacing"),
    (Point(event="run.stopped", run="pacing"), "first stop of Rapid pacing"),
    (Point(event="step", step="protection.filters"),
     "first answer, done or with a value, to the step Filters open, seen on angiography"),
    (Point(event="bailout.opened", bailout="coronary"), "first opening of the rescue Coronary obstruction"),
    (Point(event="bailout.opened"), "first opening of any rescue"),
    (Point(event="case.opened"), "first opening of the case"),
    (Point(event="case.sealed"), "first closing of the case"),
)  # fmt: skip


@pytest.mark.parametrize(("point", "words"), MOMENTS, ids=[f"{p.event}-{p.bailout}" for p, _ in MOMENTS])
def test_a_moment_is_said_in_the_words_that_people_saw(point: Point, words: str) -> None:
    path = CHECKLISTS / "electrosurgical.toml"
    assert moment_words(read_checklist(path.read_bytes(), path.name), point) == words
