"""Many cases at once: none twice, none lost, and a bad one told."""

from __future__ import annotations

import csv
import hashlib
import json
from pathlib import Path
from typing import Any

import pytest

from labcheck.ledger.chain import Record
from labcheck.ledger.memory import MemoryLedger
from labcheck.registry import batching
from labcheck.registry.batching import export_batch
from labcheck.registry.checking.files import check_file
from labcheck.registry.errors import ExportError
from labcheck.registry.exporting import Choices, export_case
from labcheck.registry.pseudonyms import Pseudonyms
from tests.registry.telling import SMALL, TOLD, everything, head, told

KEYS = ["BBBB-22", "CCCC-33", "DDDD-44"]
NOTE = '\n[[entry]]\nat = "09:40:00"\ndo = "note.write"\ntext = "one more"\n'


def ledger_of(*keys: str, script: str = head() + TOLD) -> MemoryLedger:
    ledger = MemoryLedger()
    ledger.keep_checklist(SMALL.read_bytes())
    for key in keys:
        add(ledger, key, script)
    return ledger


def add(ledger: MemoryLedger, key: str, script: str) -> None:
    """Append what the ledger does not have of this case yet, press by press."""
    case, _ = told(script, key=key)
    press: list[Any] = []
    for event in case.log[ledger.head(key).seq :]:
        if press and press[0].press != event.press:
            ledger.append(press)
            press = []
        press.append(event)
    if press:
        ledger.append(press)


def rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def contents(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def test_all_cases_stand_in_one_package_and_the_manifest_counts_them(tmp_path: Path) -> None:
    ledger = ledger_of(*KEYS)
    report = export_batch(ledger, KEYS, ["csv", "jsonl", "json"], tmp_path, Choices("hospital"))
    assert report.exported == KEYS
    package = tmp_path / "batch-0001-csv"
    assert [r["case_id"] for r in rows(package / "cases.csv")] == [f"C-{key}" for key in KEYS]
    assert check_file(package) == ("csv", [])
    assert check_file(tmp_path / "batch-0001.jsonl") == ("jsonl", [])
    manifest = json.loads((tmp_path / "manifest-0001.json").read_bytes())
    assert manifest["counts"] == {"exported": 3, "unchanged": 0, "failed": 0}
    named = [*manifest["files"], *(f for case in manifest["cases"] for f in case["files"])]
    assert {f["path"] for f in named} == set(contents(tmp_path)) - {"manifest-0001.json"}
    for file in named:
        data = (tmp_path / file["path"]).read_bytes()
        assert (file["bytes"], file["sha256"]) == (len(data), hashlib.sha256(data).hexdigest())


def test_a_case_in_a_batch_is_the_case_on_its_own(tmp_path: Path) -> None:
    export_batch(ledger_of(*KEYS), KEYS, ["json"], tmp_path / "batch", Choices("hospital"))
    (alone,) = export_case(
        *told(head() + TOLD, key=KEYS[1]), ["json"], tmp_path / "alone", profile="hospital"
    )
    assert (tmp_path / "batch" / alone.name).read_bytes() == alone.read_bytes()


def test_the_next_batch_holds_only_what_is_new(tmp_path: Path) -> None:
    ledger = ledger_of(*KEYS[:2])
    export_batch(ledger, KEYS[:2], ["csv"], tmp_path, Choices("hospital"), only_new=True)
    add(ledger, KEYS[0], head() + TOLD + NOTE)
    add(ledger, KEYS[2], head() + TOLD)
    report = export_batch(ledger, KEYS, ["csv"], tmp_path, Choices("hospital"), only_new=True)
    assert report.number == 2
    assert report.unchanged == [KEYS[1]]
    assert [r["case_id"] for r in rows(tmp_path / "batch-0002-csv" / "cases.csv")] == [
        "C-BBBB-22",
        "C-DDDD-44",
    ]


def test_loading_both_batches_by_key_gives_every_entry_once(tmp_path: Path) -> None:
    ledger = ledger_of(*KEYS[:2])
    export_batch(ledger, KEYS[:2], ["csv"], tmp_path, Choices("hospital"))
    add(ledger, KEYS[0], head() + TOLD + NOTE)
    export_batch(ledger, KEYS[:2], ["csv"], tmp_path, Choices("hospital"), only_new=True)
    loaded = {}
    for number in (1, 2, 2):
        for row in rows(tmp_path / f"batch-{number:04d}-csv" / "events.csv"):
            loaded[row["event_id"]] = (row["case_id"], row["seq"])
    assert len(loaded) == sum(len(ledger.records(key)) for key in KEYS[:2])
    assert len(set(loaded.values())) == len(loaded)


class Spoiled(MemoryLedger):
    """A ledger in which one case cannot be read back."""

    def records(self, case: str) -> tuple[Record, ...]:
        found = super().records(case)
        return found if case != KEYS[1] else found[1:]


def test_a_bad_case_is_told_and_the_rest_leave(tmp_path: Path) -> None:
    ledger = Spoiled()
    ledger.keep_checklist(SMALL.read_bytes())
    for key in KEYS:
        add(ledger, key, head() + TOLD)
    told_lines: list[str] = []
    keys = [*KEYS, "NONE-00"]
    report = export_batch(
        ledger,
        keys,
        ["csv", "fhir"],
        tmp_path,
        Choices("hospital"),
        progress=lambda *line: told_lines.append(line[2]),
    )
    assert report.exported == [KEYS[0], KEYS[2]]
    assert set(report.failed) == {KEYS[1], "NONE-00"}
    assert len(told_lines) == 4
    assert not any("\n" in line for line in told_lines)
    assert check_file(tmp_path / "batch-0001-csv") == ("csv", [])


def test_real_cases_and_rehearsals_never_share_a_batch(tmp_path: Path) -> None:
    ledger = ledger_of(KEYS[0])
    add(ledger, KEYS[1], head(real=False) + TOLD)
    real = export_batch(ledger, KEYS[:2], ["csv"], tmp_path / "real", Choices("hospital"))
    rehearsed = export_batch(
        ledger, KEYS[:2], ["csv"], tmp_path / "not", Choices("hospital"), rehearsals=True
    )
    assert (real.exported, rehearsed.exported) == ([KEYS[0]], [KEYS[1]])
    assert (tmp_path / "not" / "REHEARSAL-batch-0001-csv").is_dir()


def test_an_interrupted_batch_leaves_no_half_package_and_its_repeat_gives_the_same_bytes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    ledger, choices = ledger_of(*KEYS), Choices("hospital")
    export_batch(ledger, KEYS, ["csv", "json"], tmp_path / "whole", choices)
    real = batching.outgoing

    def stopped(case: Any, *rest: Any) -> Any:
        if case.key == KEYS[2]:
            raise KeyboardInterrupt
        return real(case, *rest)

    monkeypatch.setattr(batching, "outgoing", stopped)
    with pytest.raises(KeyboardInterrupt):
        export_batch(ledger, KEYS, ["csv", "json"], tmp_path / "cut", choices)
    assert set(contents(tmp_path / "cut")) == {"BBBB-22.json", "CCCC-33.json"}
    monkeypatch.undo()
    export_batch(ledger, KEYS, ["csv", "json"], tmp_path / "cut", choices, only_new=True)
    assert contents(tmp_path / "cut") == contents(tmp_path / "whole")


def test_a_registry_batch_says_nothing_that_the_profile_forbids(tmp_path: Path) -> None:
    key = Pseudonyms(bytes(range(32)))
    choices = Choices(profile="registry", pseudonyms=key)
    export_batch(ledger_of(*KEYS), KEYS, ["csv", "jsonl", "fhir"], tmp_path, choices)
    everything_written = b"".join(contents(tmp_path).values()).decode() + " ".join(contents(tmp_path))
    assert not [k for k in KEYS if k in everything_written]
    assert "2031-03-04" not in everything_written
    report = export_batch(ledger_of(*KEYS), KEYS, ["csv"], tmp_path, choices, only_new=True)
    assert report.unchanged == KEYS


def test_a_foreign_file_named_like_a_manifest_stops_the_batch_with_one_line(tmp_path: Path) -> None:
    (tmp_path / "manifest-0001.json").write_text("[]")
    with pytest.raises(ExportError, match="not a manifest"):
        export_batch(ledger_of(KEYS[0]), KEYS[:1], ["csv"], tmp_path, Choices("hospital"), only_new=True)


def test_the_ledger_gives_back_the_case_that_was_put_in() -> None:
    case, stored = everything()
    from labcheck.registry.stored import load

    again, kept = load(ledger_of(case.key), case.key)
    assert again == case
    assert kept == stored
