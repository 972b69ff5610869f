"""What leaves comes back: the ledger from the JSON document, and every instant from every format."""

from __future__ import annotations

import csv
import json
import re
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from pydicom import dcmread

from labcheck.caselog.case import Case
from labcheck.caselog.deciding import Decided, decide
from labcheck.caselog.events import Event
from labcheck.caselog.folding import begin, fold_all
from labcheck.caselog.intents import INTENT_MODELS
from labcheck.caselog.stamps import Stamp
from labcheck.checklist.plan import Plan
from labcheck.checklist.reading import digest, read_checklist
from labcheck.ledger.contract import Ledger
from labcheck.ledger.memory import MemoryLedger
from labcheck.ledger.store import open_ledger
from labcheck.registry.checking.dicom import date_time
from labcheck.registry.exporting import export_case
from labcheck.registry.pseudonyms import Pseudonyms
from labcheck.registry.stored import StoredCase, load
from labcheck.registry.times import EPOCH, read_rfc3339
from tests.registry.telling import KEY, SMALL, everything, rehearsals, stored_of
from tests.registry.test_xes import read_back


def presses(document: dict[str, Any]) -> Iterator[list[Event]]:
    """The stored entries of a document, press by press."""
    press: list[Event] = []
    for entry in document["events"]:
        stored = {key: value for key, value in entry["stored"].items() if key != "prev"}
        event = Event.model_validate_json(json.dumps(stored))
        if press and press[0].press != event.press:
            yield press
            press = []
        press.append(event)
    yield press


def rebuilt(path: Path, ledger: Ledger) -> tuple[Case, StoredCase]:
    """The case, put into a ledger from nothing but its document."""
    document = json.loads(path.read_bytes())
    ledger.keep_checklist(document["checklist"]["text"].encode())
    for press in presses(document):
        ledger.append(press)
    return load(ledger, document["case_key"])


@pytest.mark.parametrize("kind", ["memory", "file"])
def test_a_ledger_rebuilt_from_the_document_holds_the_same_case_and_the_same_head(
    kind: str, tmp_path: Path
) -> None:
    for number, (case, stored) in enumerate([everything(), *rehearsals()]):
        (path,) = export_case(case, stored, ["json"], tmp_path / f"{number}", profile="hospital")
        ledger: Ledger = MemoryLedger() if kind == "memory" else open_ledger(tmp_path / f"ledger {number}")
        try:
            again, kept = rebuilt(path, ledger)
            assert kept.head == stored.head
            assert kept == stored
            assert again == case
        finally:
            ledger.close()


def at(*parts: int) -> int:
    return int(datetime(*parts, tzinfo=EPOCH.tzinfo).timestamp()) * 1_000_000  # type: ignore[arg-type,misc]


CLOCKS: dict[str, list[tuple[int, int]]] = {
    "half an hour east": [(at(2031, 3, 4, 4, 0) + n * 60_000_000, 19800) for n in range(6)],
    "half an hour west": [(at(2031, 3, 4, 12, 0) + n * 60_000_000, -12600) for n in range(6)],
    "across midnight": [(at(2031, 3, 4, 22, 57) + n * 60_000_000, 3600) for n in range(6)],
    "into summer time": [
        (at(2031, 3, 30, 0, 57) + n * 60_000_000, 3600 if n < 3 else 7200) for n in range(6)
    ],
    "out of summer time": [
        (at(2031, 10, 26, 0, 57) + n * 60_000_000, 7200 if n < 3 else 3600) for n in range(6)
    ],
}
"""Wall time (UTC microseconds) and offset (seconds east) at each press."""


def timed(clock: list[tuple[int, int]]) -> tuple[Case, StoredCase]:
    """A case with an ACT at every press but the first."""
    text = SMALL.read_bytes()
    case = begin(KEY, read_checklist(text, "small.toml"))
    plan = Plan(technique="small", substrate="native", targets=("left",))
    for number, (wall_us, off_s) in enumerate(clock):
        boot = 600_000_000 + wall_us - clock[0][0]
        stamp = Stamp(wall_us=wall_us, off_s=off_s, tz="", boot_us=boot, mono_us=boot, boot_id="b")
        fields: dict[str, Any] = {"reading": "act", "value": 250 + number}
        do = "reading.take"
        if number < 2:
            do = ("case.open", "stage.open")[number]
            fields = [{"plan": plan, "checklist_digest": digest(text)}, {"stage": "access"}][number]
        outcome = decide(case, INTENT_MODELS[do](press=f"{number:032x}", **fields), stamp)
        assert isinstance(outcome, Decided), outcome
        case = fold_all(case, outcome.events)
    return case, stored_of(case, text)


@pytest.mark.parametrize("name", CLOCKS)
def test_every_reading_comes_back_to_the_same_instant_from_every_format(name: str, tmp_path: Path) -> None:
    clock = CLOCKS[name]
    case = timed(clock)
    paths = export_case(*case, ["json", "csv", "fhir", "dicom", "xes"], tmp_path, profile="hospital")
    by_ending = {p.name.removeprefix(KEY): p for p in paths}
    wanted = [EPOCH + timedelta(microseconds=us) for us, _ in clock[2:]]
    offsets = [timedelta(seconds=off_s) for _, off_s in clock[2:]]

    document = json.loads(by_ending[".json"].read_bytes())
    found = {"json": [read_rfc3339(r["taken_at"]) for r in document["tables"]["readings"]]}
    folder = next(p.parent for p in paths if p.suffix == ".csv")
    with (folder / "readings.csv").open(encoding="utf-8", newline="") as file:
        found["csv"] = [read_rfc3339(row["taken_at"]) for row in csv.DictReader(file)]
    bundle = json.loads(by_ending[".fhir.json"].read_bytes())
    found["fhir"] = [
        read_rfc3339(e["resource"]["effectiveDateTime"])
        for e in bundle["entry"]
        if e["resource"].get("code", {}).get("text") == "ACT"
    ]
    found["dicom"] = [
        date_time(str(i.ObservationDateTime))
        for i in dcmread(by_ending[".dcm"]).ContentSequence
        if str(i.get("TextValue", "")).startswith("ACT: ")
    ]
    readings = {r.seq for r in case[0].readings}
    found["xes"] = [moment for seq, moment in read_back(by_ending[".xes"]) if seq in readings]
    assert {form: times == wanted for form, times in found.items()} == dict.fromkeys(found, True)
    assert {form: [t.utcoffset() for t in times] for form, times in found.items()} == dict.fromkeys(
        found, offsets
    )


def test_seconds_since_access_run_on_through_a_change_of_clocks(tmp_path: Path) -> None:
    for name in ("into summer time", "out of summer time"):
        (path,) = export_case(*timed(CLOCKS[name]), ["json"], tmp_path, profile="hospital")
        readings = json.loads(path.read_bytes())["tables"]["readings"]
        assert [r["taken_rel_s"] for r in readings] == [60, 120, 180, 240]


@pytest.mark.parametrize("name", CLOCKS)
def test_a_shifted_time_tells_no_zone_and_keeps_lengths_and_the_time_of_day(name: str, tmp_path: Path) -> None:
    clock = CLOCKS[name]
    case, stored = timed(clock)
    paths = export_case(
        case, stored, ["csv", "json", "fhir", "dicom", "xes"], tmp_path, profile="shifted",
        pseudonyms=Pseudonyms(bytes(range(32))),
    )  # fmt: skip
    folder = next(p.parent for p in paths if p.suffix == ".csv")
    with (folder / "events.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert {row["utc_offset"] for row in rows} == {"+00:00"}
    shifted = [read_rfc3339(row["occurred_at"]) for row in rows]
    true = [EPOCH + timedelta(microseconds=event.happened.wall_us) for event in case.log]
    assert [at - shifted[0] for at in shifted] == [at - true[0] for at in true]
    local = true[0] + timedelta(seconds=clock[0][1])
    assert (local - shifted[0]) % timedelta(weeks=1) == timedelta(0)
    for path in paths:
        text = path.read_bytes().decode("utf-8", "replace")
        assert not re.search(r"\d{2}:\d{2}:\d{2}(\.\d+)?(\+0[1-9]|\+1|-\d)", text), path.name
