"""Five hundred cases made by chance, through every gate; seeds, so that a failing one can be looked at again."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Iterator
from functools import cache
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
from labcheck.registry.times import rfc3339
from tests.registry import dicom_gates, fhir_gates, xes_gate
from tests.registry.generating import generated
from tests.registry.test_csv_package import errors, rows, spreadsheet

SEEDS = range(500)
EACH = 100
"""Seeds that go through a gate together: a gate is started once for all of them."""

KEY = Pseudonyms(bytes(range(32)))
pytestmark = pytest.mark.slow
blocks = pytest.mark.parametrize("first", range(0, len(SEEDS), EACH))
made = cache(generated)


def some(first: int) -> Iterator[tuple[int, Case, StoredCase]]:
    for seed in range(first, first + EACH):
        yield (seed, *made(seed))


@blocks
def test_generated_cases_pass_every_fhir_reader(first: int, tmp_path: Path) -> None:
    bundles: list[dict[str, Any]] = []
    for seed, case, stored in some(first):
        profile = ("hospital", "registry", "shifted")[seed % 3]
        (path,) = export_case(case, stored, ["fhir"], tmp_path / f"{seed}", profile=profile, pseudonyms=KEY)
        bundles.append(json.loads(path.read_bytes()))
        assert check_file(path) == ("fhir", []), seed
    report = fhir_gates.complaints(bundles, tmp_path)
    assert len(report) == EACH
    assert {first + n: said for n, said in enumerate(report) if any(said.values())} == {}


@blocks
def test_generated_cases_pass_every_dicom_reader_and_are_stored(first: int, tmp_path: Path) -> None:
    paths = []
    for seed, case, stored in some(first):
        profile = ("hospital", "shifted")[seed % 2]
        folder = tmp_path / f"{seed}"
        paths += export_case(case, stored, ["dicom"], folder, profile=profile, pseudonyms=KEY)
    assert [(p.parent.name, found) for p in paths if (found := check_file(p)[1])] == []
    assert dicom_gates.all_complaints(paths) == {}
    archive = tmp_path / "archive"
    archive.mkdir()
    with dicom_gates.store(archive) as port:
        done = dicom_gates.send(port, *paths)
    assert done.returncode == 0, done.stderr[-2000:]
    assert len(list(archive.iterdir())) == EACH


@blocks
def test_generated_cases_read_back_from_xes_with_every_time(first: int, tmp_path: Path) -> None:
    for seed, case, stored in some(first):
        (path,) = export_case(case, stored, ["xes"], tmp_path / f"{seed}", profile="hospital")
        assert check_file(path) == ("xes", []), seed
        (trace,) = xes_gate.read(path)
        read = {e["labcheck:seq"]: e["time:timestamp"].isoformat(timespec="milliseconds") for e in trace}
        assert read == {e.seq: rfc3339(e.happened) for e in case.log}, seed


def validated(paths: list[Path], schema: str, folder: Path) -> None:
    (folder / schema).write_bytes(description_files()[schema])
    command = [sys.executable, "-m", "check_jsonschema", "--schemafile", str(folder / schema)]
    done = subprocess.run([*command, *map(str, paths)], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout[-2000:]


@blocks
def test_generated_documents_pass_an_independent_validator(first: int, tmp_path: Path) -> None:
    paths = [
        path
        for seed, case, stored in some(first)
        for path in export_case(case, stored, ["json"], tmp_path / f"{seed}", profile="hospital")
    ]
    assert len(paths) == EACH
    validated(paths, "labcheck-case.schema.json", tmp_path)
    assert [(p.parent.name, found) for p in paths if (found := check_file(p)[1])] == []


@pytest.mark.parametrize("profile", ["registry", "shifted"])
def test_generated_documents_for_a_registry_pass_an_independent_validator(
    profile: str, tmp_path: Path
) -> None:
    paths = [
        path
        for seed in SEEDS[::5]
        for path in export_case(*made(seed), ["json"], tmp_path / f"{seed}", profile=profile, pseudonyms=KEY)
    ]
    ending = "-shifted" if profile == "shifted" else ""
    validated(paths, f"labcheck-registry-case{ending}.schema.json", tmp_path)
    assert [(p.parent.name, found) for p in paths if (found := check_file(p)[1])] == []


@pytest.mark.parametrize("profile", ["hospital", "registry", "shifted"])
def test_generated_cases_make_packages_that_frictionless_accepts(profile: Any, tmp_path: Path) -> None:
    for folder in packages(Choices(profile, pseudonyms=KEY), tmp_path):
        assert errors(folder / "datapackage.json") == []
        assert check_file(folder) == ("csv", [])


def test_a_spreadsheet_takes_no_generated_text_for_anything_else(tmp_path: Path) -> None:
    for folder in packages(Choices("hospital"), tmp_path):
        for name in ROWS:
            words = text_columns(ROWS[name], "hospital")
            written, opened = rows(folder / f"{name}.csv"), spreadsheet(folder / f"{name}.csv")
            assert [[r[c] for c in sorted(words)] for r in opened] == [
                [unguarded(r[c]) for c in sorted(words)] for r in written
            ], name


def packages(choices: Choices, folder: Path) -> list[Path]:
    """All five hundred as one package of real cases and one of rehearsals."""
    ledger = _Kept()
    count = 0
    for rehearsals in (False, True):
        report = export_batch(ledger, list(ledger.cases), ["csv"], folder, choices, rehearsals=rehearsals)  # type: ignore[arg-type]
        assert report.failed == {}
        count += len(report.exported)
    assert count == len(SEEDS)
    return sorted(folder.glob("*-csv"))


class _Kept:
    """The cases as a ledger would give them."""

    def __init__(self) -> None:
        self.cases: dict[str, StoredCase] = {}
        for seed in SEEDS:
            case, stored = made(seed)
            self.cases[case.key] = stored

    def records(self, case: str) -> Any:
        return self.cases[case].records

    def checklist_text(self, digest: str) -> bytes:
        return next(iter(self.cases.values())).checklist_text
