"""The CSV data package: judged by frictionless, opened by a real spreadsheet engine, read back exactly."""

from __future__ import annotations

import csv
import hashlib
import json
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

import frictionless
import pytest
from frictionless import system
from hypothesis import given
from hypothesis import strategies as st

from labcheck.caselog.case import Case
from labcheck.registry.cells import cell, escaped, guarded, inert, unguarded
from labcheck.registry.exporting import export_case
from labcheck.registry.profiles import text_columns
from labcheck.registry.stored import StoredCase
from labcheck.registry.tables import ROWS
from labcheck.registry.times import read_rfc3339

PAYLOADS = ["=1+1", "+1+1", "-1+1", "@SUM(1)", "\t=1+1", '=HYPERLINK("x")', "0007", "1e5", "03/04", "2031-03-04",
            "TRUE", "Mar 4", "'already quoted", "1,5", "12:30", "..."]  # fmt: skip


def package(case: tuple[Case, StoredCase], folder: Path, *, excel: bool = False) -> Path:
    return export_case(*case, ["csv"], folder, excel=excel, profile="hospital")[0].parent


@pytest.fixture(scope="module")
def folder(everything_case: tuple[Case, StoredCase], tmp_path_factory: pytest.TempPathFactory) -> Path:
    return package(everything_case, tmp_path_factory.mktemp("csv"))


def rows(path: Path, encoding: str = "utf-8") -> list[dict[str, str]]:
    with path.open(encoding=encoding, newline="") as file:
        return list(csv.DictReader(file))


def errors(descriptor: Path) -> list[str]:
    with system.use_context(trusted=True):
        report = frictionless.validate(str(descriptor))
    return [str(code) for (code,) in report.flatten(["type"])]


def test_frictionless_finds_nothing_wrong(folder: Path) -> None:
    assert errors(folder / "datapackage.json") == []


def test_frictionless_finds_nothing_wrong_with_the_spreadsheet_variant(
    everything_case: tuple[Case, StoredCase], tmp_path: Path
) -> None:
    excel = package(everything_case, tmp_path, excel=True)
    assert (excel / "events.csv").read_bytes().startswith(b"\xef\xbb\xbf")
    assert errors(excel / "datapackage.json") == []


def _replace(old: str, new: str, table: str = "events.csv") -> Callable[[Path], None]:
    def change(folder: Path) -> None:
        path = folder / table
        text = path.read_bytes().decode()
        assert old in text
        path.write_bytes(text.replace(old, new, 1).encode())

    return change


def _forget_digests(descriptor: Path) -> None:
    # Frictionless stops at a wrong size or digest, before it looks at any cell.
    content = json.loads(descriptor.read_bytes())
    for resource in content["resources"]:
        del resource["bytes"], resource["hash"]
    descriptor.write_text(json.dumps(content), encoding="utf-8")


BROKEN: dict[str, tuple[Callable[[Path], None], str]] = {
    "a time without its offset": (_replace(".000+01:00,2", ".000,2"), "constraint-error"),
    "a mode that is none": (_replace(",live,", ",guessed,"), "constraint-error"),
    "a decimal comma": (_replace(",751.5,", ',"751,5",'), "type-error"),
    "an entry twice": (_replace(",5,reading.taken,", ",4,reading.taken,"), "primary-key"),
    "a case that is not listed": (_replace("C-K7Q2-M4,", "C-XXXX-XX,"), "foreign-key"),
    "a row with a cell too many": (_replace(",N1,hospital\r\n", ",N1,hospital,x\r\n"), "extra-cell"),
    "a changed byte": (_replace("imaging", "imagine"), "hash-count"),
}


@pytest.mark.parametrize("name", BROKEN)
def test_frictionless_finds(name: str, everything_case: tuple[Case, StoredCase], tmp_path: Path) -> None:
    folder = package(everything_case, tmp_path)
    change, code = BROKEN[name]
    change(folder)
    if code != "hash-count":
        _forget_digests(folder / "datapackage.json")
    assert code in errors(folder / "datapackage.json")


def test_every_time_reads_back_with_its_calendar(folder: Path) -> None:
    times = [
        value
        for name in ROWS
        for row in rows(folder / f"{name}.csv")
        for column, value in row.items()
        if column.endswith("_at") and value
    ]
    assert len(times) > 100
    assert {read_rfc3339(value).year for value in times} == {2031}


def test_the_package_says_how_many_rows_and_which_bytes(folder: Path) -> None:
    descriptor = json.loads((folder / "datapackage.json").read_bytes())
    for resource in descriptor["resources"]:
        data = (folder / resource["path"]).read_bytes()
        assert resource["bytes"] == len(data)
        assert resource["hash"] == "sha256:" + hashlib.sha256(data).hexdigest()
        assert descriptor["labcheck"]["rows"][resource["name"]] == len(rows(folder / resource["path"]))


def test_text_comes_back_exactly_once_the_apostrophe_is_taken_away(
    everything_case: tuple[Case, StoredCase], folder: Path
) -> None:
    case, _ = everything_case
    written = [e.what.text for e in case.log if e.kind == "note.written"]  # type: ignore[union-attr]
    read = [unguarded(r["text"]) for r in rows(folder / "events.csv") if r["kind"] == "note.written"]
    assert read == written
    assert "'quoted from the start" in read


@given(st.text())
def test_every_text_comes_back_from_its_cell(text: str) -> None:
    assert unguarded(guarded(text)) == inert(text)


STEERING = "\x7f\x9b\u202e\u2066\u200b\u2028\ufeff\U000e0041"


@given(st.text(st.sampled_from("aµ≥-" + STEERING)))
def test_signs_that_steer_a_terminal_leave_json_as_escapes_and_come_back(text: str) -> None:
    written = escaped(json.dumps([text], ensure_ascii=False))
    assert json.loads(written) == [text]
    assert not set(STEERING) & set(written)
    assert written.count("µ") == text.count("µ")


@pytest.mark.parametrize("payload", PAYLOADS)
def test_a_text_that_a_spreadsheet_mistakes_is_guarded(payload: str) -> None:
    assert cell(payload, text=True) == "'" + payload


@pytest.mark.parametrize("value", [-480.25, 0.0, 274.0, 1e-06, 123456789.123])
def test_a_number_is_never_guarded_and_keeps_its_sign(value: float) -> None:
    written = cell(value, text=True)
    assert float(written) == value
    assert "e" not in written
    assert not written.startswith("'")


def spreadsheet(path: Path) -> list[dict[str, str]]:
    """The table after a spreadsheet has opened it and saved it again; it takes the guards away by itself."""
    if shutil.which("ssconvert") is None:
        pytest.skip("gnumeric is not installed: apt-get install gnumeric")
    saved = path.with_name("saved.csv")
    done = subprocess.run(
        ["ssconvert", "--import-encoding=UTF-8", str(path), str(saved)],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return rows(saved)


@pytest.mark.parametrize("excel", [False, True])
def test_a_spreadsheet_fires_no_formula_and_loses_no_leading_zero(
    everything_case: tuple[Case, StoredCase], tmp_path: Path, *, excel: bool
) -> None:
    folder = package(everything_case, tmp_path, excel=excel)
    case = spreadsheet(folder / "cases.csv")[0]
    assert case["subject_id"] == "S-0007"
    assert case["access"] == "=1+1"
    assert case["opened_at"] == "2031-03-04T09:00:00.000+01:00"
    events = spreadsheet(folder / "events.csv")
    original = rows(folder / "events.csv", "utf-8-sig")
    words = text_columns(ROWS["events"], "hospital")
    for opened, written in zip(events, original, strict=True):
        for name in words | {"occurred_at", "case_id", "event_id"}:
            assert opened[name] == unguarded(written[name])
        for name in ("t_rel_s", "value", "lag_s"):
            assert (opened[name] or None) == (written[name] or None)


def test_without_the_guard_the_spreadsheet_would_have_fired(tmp_path: Path) -> None:
    path = tmp_path / "bare.csv"
    path.write_text("study,text\n0007,=1+1\n", encoding="utf-8")
    assert spreadsheet(path)[0] == {"study": "7", "text": "2"}
