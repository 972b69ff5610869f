"""Five hundred cases made by chance, through every gate; seeds, so that a failing one can be looked at again."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from labcheck.caselog.case import Case
from labcheck.registry.batching import export_batch
from labcheck.registry.cells import unguarded
from labcheck.registry.checking.files import check_file
from labcheck.registry.contract import description_files
from labcheck.registry.exporting import Choices, export_case
from labcheck.registry.profiles import text_columns
from labcheck.registry.pseudonyms import Pseudonyms
from labcheck.registry.stored import StoredCase
from labcheck.registry.tables import ROWS
from tests.registry import dicom_gates, fhir_gates
from tests.registry.generating import generated
from tests.registry.test_csv_package import errors, rows, spreadsheet
from tests.registry.test_xes import read_back

SEEDS = range(500)
EACH = 100
KEY = Pseudonyms(bytes(range(32)))
pytestmark = pytest.mark.slow


def some(first: int) -> Iterator[tuple[int, Case, StoredCase]]:
    for seed in range(first, first + EACH):
        yield (seed, *generated(seed))


@pytest.mark.parametrize("first", range(0, len(SEEDS), EACH))
def test_generated_cases_pass_every_fhir_reader(first: int, tmp_path: Path) -> None:
    bundles: list[dict[str, Any]] = []
    for seed, case, stored in some(first):
        profile = ("hospital", "registry", "shifted")[seed % 3]
        (path,) = export_case(case, stored, ["fhir"], tmp_path / f"{seed}", profile=profile, pseudonyms=KEY)
        bundles.append(json.loads(path.read_bytes()))
        assert check_file(path) == ("fhir", []), seed
    report = fhir_gates.complaints(bundles, tmp_path)
    assert {first + n: said for n, said in enumerate(report) if any(said.values())} == {}


@pytest.mark.parametrize("first", range(0, len(SEEDS), EACH))
def test_generated_cases_pass_every_dicom_reader(first: int, tmp_path: Path) -> None:
    wrong = {}
    for seed, case, stored in some(first):
        profile = ("hospital", "shifted")[seed % 2]
        (path,) = export_case(case, stored, ["dicom"], tmp_path / f"{seed}", profile=profile, pseudonyms=KEY)
        said = dicom_gates.complaints(path)
        own = [str(finding) for finding in check_file(path)[1]]
        if any(said.values()) or own:
            wrong[seed] = (said, own)
    assert wrong == {}


@pytest.mark.parametrize("first", range(0, len(SEEDS), EACH))
def test_generated_cases_read_back_from_xes_with_every_time(first: int, tmp_path: Path) -> None:
    for seed, case, stored in some(first):
        (path,) = export_case(case, stored, ["xes"], tmp_path / f"{seed}", profile="hospital")
        assert check_file(path) == ("xes", []), seed
        assert len(read_back(path)) == len(case.log)


def _documents(folder: Path, first: int) -> list[Path]:
    return [export_case(c, s, ["json"], folder / f"{seed}", profile="hospital")[0] for seed, c, s in some(first)]


@pytest.mark.parametrize("first", range(0, len(SEEDS), EACH))
def test_generated_documents_pass_an_independent_validator(first: int, tmp_path: Path) -> None:
    schema = tmp_path / "schema.json"
    schema.write_bytes(description_files()["labcheck-case.schema.json"])
    paths = _documents(tmp_path, first)
    command = [sys.executable, "-m", "check_jsonschema", "--schemafile", str(schema), *map(str, paths)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout[-2000:]
    assert [(p.parent.name, check_file(p)[1]) for p in paths if check_file(p)[1]] == []


@pytest.mark.parametrize("profile", ["hospital", "registry", "shifted"])
def test_generated_cases_make_one_package_that_frictionless_accepts(profile: Any, tmp_path: Path) -> None:
    choices = Choices(profile=profile, pseudonyms=KEY if profile != "hospital" else None)
    keys, ledger = _ledger(range(100))
    export_batch(ledger, keys, ["csv"], tmp_path, choices)
    folder = tmp_path / "batch-0001-csv"
    assert errors(folder / "datapackage.json") == []
    assert check_file(folder) == ("csv", [])


def test_a_spreadsheet_takes_no_generated_text_for_anything_else(tmp_path: Path) -> None:
    keys, ledger = _ledger(range(100))
    export_batch(ledger, keys, ["csv"], tmp_path, Choices("hospital"))
    folder = tmp_path / "batch-0001-csv"
    for name in ("cases", "events", "readings", "steps", "bailouts"):
        written, opened = rows(folder / f"{name}.csv"), spreadsheet(folder / f"{name}.csv")
        words = text_columns(ROWS[name], "hospital")
        assert [[r[c] for c in sorted(words)] for r in opened] == [
            [unguarded(r[c]) for c in sorted(words)] for r in written
        ]


class _Kept:
    """Cases of one real kind, under different keys, as a ledger would give them."""

    def __init__(self) -> None:
        self.cases: dict[str, StoredCase] = {}

    def records(self, case: str) -> Any:
        return self.cases[case].records

    def checklist_text(self, digest: str) -> bytes:
        return next(iter(self.cases.values())).checklist_text


def _ledger(seeds: range) -> tuple[list[str], Any]:
    ledger = _Kept()
    for seed in seeds:
        case, stored = generated(seed)
        if not case.rehearsal:
            ledger.cases[case.key] = stored
    return list(ledger.cases), ledger
