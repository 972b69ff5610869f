"""``exports/`` says what the code does."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest

from labcheck.caselog.events import KINDS
from labcheck.registry.columns import Row, column
from labcheck.registry.contract import contract_files, description_files, main
from labcheck.registry.tables import ROWS
from tests.registry.fhir_mutations import MUTATIONS
from tests.registry.test_dicom import BROKEN

TOP = Path(__file__).parents[2]
EXPORTS = TOP / "exports"
MEND = "run at the top of the repository: python -m labcheck.registry.contract"


@pytest.fixture(scope="module")
def generated() -> dict[str, bytes]:
    return contract_files(TOP)


def test_the_shipped_files_are_what_the_code_writes(generated: dict[str, bytes]) -> None:
    drifted = [
        name
        for name, data in generated.items()
        if not (EXPORTS / name).exists() or (EXPORTS / name).read_bytes() != data
    ]
    assert drifted == [], MEND


def test_nothing_generated_is_left_over_from_older_code(generated: dict[str, bytes]) -> None:
    shipped = {str(p.relative_to(EXPORTS)) for p in EXPORTS.rglob("*") if p.is_file()}
    ours = {name for name in shipped if "/" in name or name.endswith(".schema.json")}
    assert ours - set(generated) == set()


def test_the_contract_can_be_written_by_its_command(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], generated: dict[str, bytes]
) -> None:
    (tmp_path / "checklists").symlink_to(TOP / "checklists")
    assert main([str(tmp_path)]) == 0
    assert len(capsys.readouterr().out.splitlines()) == len(generated)


@pytest.mark.parametrize("row", ROWS.values(), ids=ROWS)
def test_every_column_says_what_it_means(row: type[Row]) -> None:
    dictionary = description_files()["data-dictionary.md"].decode()
    for name, info in row.model_fields.items():
        says = column(info).says
        assert says.endswith("."), name
        assert f"| `{name}` |" in dictionary
        assert says in dictionary


@pytest.mark.parametrize(
    ("known", "readers"),
    [
        (MUTATIONS, ("resources", "fhir", "schema", "invariants", "own")),
        (BROKEN, ("dsrdump", "dsr2xml", "dciodvfy", "own")),
    ],
    ids=["fhir", "dicom"],
)
def test_the_table_of_the_readers_is_that_of_the_tests(
    known: Mapping[str, tuple[Any, set[str]]], readers: tuple[str, ...]
) -> None:
    told = (EXPORTS / "gates.md").read_text(encoding="utf-8").splitlines()
    for fault, (_, noticed) in known.items():
        marks = " | ".join("x" if reader in noticed else "-" for reader in readers)
        assert f"| {fault} | {marks} |" in told


def test_every_kind_of_entry_is_in_the_dictionary() -> None:
    dictionary = description_files()["data-dictionary.md"].decode()
    assert [kind for kind in KINDS if f"| `{kind}` |" not in dictionary] == []


def test_every_id_of_the_example_is_in_the_codebook(generated: dict[str, bytes]) -> None:
    book = list(csv.DictReader(io.StringIO(generated["codebook.csv"].decode())))
    known = {(line["kind"], line["id"]) for line in book if line["checklist_id"] == "electrosurgical"}
    tables = next(
        name for name in generated if re.fullmatch(r"example/.*-csv/datapackage.json", name)
    ).rsplit("/", 1)[0]
    wanted = {("stages", "stage"), ("readings", "reading"), ("doses", "drug"), ("decisions", "decision"),
              ("steps", "step"), ("runs", "run"), ("totals", "total"), ("attempts", "outcome")}  # fmt: skip
    for table, column_ in wanted:
        rows = list(csv.DictReader(io.StringIO(generated[f"{tables}/{table}.csv"].decode())))
        assert rows, table
        assert {(column_, row[column_]) for row in rows} <= known, table


def test_the_batch_example_shows_corrections_a_rescue_and_what_was_added(generated: dict[str, bytes]) -> None:
    name = next(name for name in generated if re.fullmatch(r"example-batch/.*-csv/events.csv", name))
    events = list(csv.DictReader(io.StringIO(generated[name].decode())))
    kinds = {row["kind"] for row in events}
    assert kinds >= {
        "event.amended", "event.voided", "bailout.opened", "bailout.closed", "stage.skipped", "cusp.abandoned",
        "addendum.added", "attempt.closed", "reading.taken",
    }  # fmt: skip
    amended = {row["seq"] for row in events if row["amended"] == "true"}
    assert len(amended) == sum(row["kind"] == "event.amended" for row in events) == 3
    assert any(name.startswith("example-batch/manifest-") for name in generated)


def test_seconds_are_named_so() -> None:
    for row in ROWS.values():
        for name, info in row.model_fields.items():
            if re.search(r"_s$", name):
                assert column(info).unit == "s", name
