"""The checker on files as people bring them: one table by itself, packed, cut off, foreign, or no file at all."""

from __future__ import annotations

import gzip
import json
import os
import shutil
import zipfile
from pathlib import Path
from typing import Any, get_args

import pytest

from labcheck.cli import main
from labcheck.registry.checking.dicom_ends import ends_whole
from labcheck.registry.checking.files import MOST, check_file
from labcheck.registry.columns import Profile
from labcheck.registry.exporting import NEED_CLOCK_TIMES, WRITERS, export_case
from labcheck.registry.pseudonyms import Pseudonyms
from labcheck.registry.tables import ROWS
from tests.registry.telling import everything

KEY = Pseudonyms(bytes(range(32)))


@pytest.fixture(scope="module")
def exported(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("exported")
    export_case(*everything(), list(WRITERS), folder, profile="hospital")
    return folder


def said(path: Path) -> list[str]:
    return [str(finding) for finding in check_file(path)[1]]


@pytest.mark.parametrize("profile", get_args(Profile))
def test_every_table_is_known_by_itself_under_every_profile(profile: str, tmp_path: Path) -> None:
    paths = export_case(*everything(), ["csv"], tmp_path, profile=profile, pseudonyms=KEY)
    tables = [path for path in paths if path.suffix == ".csv"]
    assert len(tables) == len(ROWS)
    for path in tables:
        assert check_file(path) == ("csv, described by the datapackage.json beside it", [])
        lone = tmp_path / "alone" / path.name
        lone.parent.mkdir(exist_ok=True)
        shutil.copy(path, lone)
        kind, findings = check_file(lone)
        assert (kind, findings) == (f"csv, table {path.stem}", [])
        lone.unlink()


LONE = {
    "a time without offset": (
        ("T09:04:30.000+01:00", "T09:04:30.000"),
        ['readings.csv, row 2, column taken_at: "2031-03-04T09:04:30.000" is not a date and time with an offset; '
         "write times like 2031-03-04T09:14:05.123+01:00"],
    ),
    "a decimal comma": (
        (",275,s,", ',"2,75",s,'),
        ['readings.csv, row 2, column value: "2,75" is not a number; write a decimal point'],
    ),
    "another header": (
        ("taken_rel_s", "taken_s"),
        ["readings.csv, row 1: is not the header that the columns ask for: it lacks taken_rel_s and has taken_s "
         "too many"],
    ),
    "a row cut off": (
        (",275,s,", "\r\n"),
        ["readings.csv, row 2: has 9 cells where the header has 20; is the file cut off, or a line empty?",
         "readings.csv, row 3: has 9 cells where the header has 20; is the file cut off, or a line empty?"],
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", LONE)
def test_a_fault_in_one_table_names_file_row_column_and_what_to_do(
    name: str, exported: Path, tmp_path: Path
) -> None:
    (old, new), wanted = LONE[name]
    text = (exported / "K7Q2-M4-csv" / "readings.csv").read_text(encoding="utf-8")
    assert old in text
    path = tmp_path / "readings.csv"
    path.write_text(text.replace(old, new, 1), encoding="utf-8", newline="")
    assert said(path) == wanted


def test_a_table_beside_its_package_is_held_against_its_digest_and_its_cases(
    exported: Path, tmp_path: Path
) -> None:
    folder = tmp_path / "csv"
    shutil.copytree(exported / "K7Q2-M4-csv", folder)
    path = folder / "doses.csv"
    path.write_text(path.read_text(encoding="utf-8").replace("C-K7Q2-M4", "C-XXXX-XX"), encoding="utf-8")
    found = said(path)
    assert any("SHA-256 differs" in line for line in found)
    assert any("case C-XXXX-XX is not in cases.csv" in line for line in found)


FOREIGN: dict[str, tuple[bytes, str | None]] = {
    "nothing wrong": (b"a,b\n1,x\n", None),
    "another parting sign": (b"a;b\n1;x\n", "not by commas"),
    "two columns of one name": (b"a,a\n1,2\n", "names 2 columns"),
    "a column without a name": (b"a,\n1,2\n", "has no name"),
    "a formula": (b"a\n=1+1\n", "formula"),
    "a negative number": (b"a\n-1.5\n", None),
    "a time without offset": (b"a\n2031-03-04 10:00\n", "row 2, column a"),
    "not UTF-8": (b"a\n\xe9\n", "byte 0xe9 is not UTF-8"),
    "a quotation mark that is never closed": (b'a\n"x\n1\n', "quotation mark"),
    "a cell too many": (b"a\n1,2\n", "row 2: has 2 cells"),
    "no header": (b"\n\n", "no header"),
}


@pytest.mark.parametrize("name", FOREIGN)
def test_anybodys_table_is_looked_at_too(name: str, tmp_path: Path) -> None:
    data, wanted = FOREIGN[name]
    path = tmp_path / "theirs.csv"
    path.write_bytes(data)
    found = said(path)
    assert (found == []) if wanted is None else any(wanted in line for line in found)


PACKAGES: dict[str, tuple[Any, str | None]] = {
    "theirs, with types of its own": (
        {"name": "t", "path": "t.csv", "schema": {"fields": [{"name": "a", "type": "integer"}, {"name": "b"}]}}, None
    ),
    "no schema": ({"name": "t", "path": "t.csv"}, "schema.fields"),
    "a file outside": ({"name": "t", "path": "../t.csv", "schema": {"fields": []}}, "outside the package"),
    "a pattern that is none": (
        {"name": "t", "path": "t.csv",
         "schema": {"fields": [{"name": "a", "constraints": {"pattern": "("}}, {"name": "b"}]}}, "pattern"
    ),
    "a number too small": (
        {"name": "t", "path": "t.csv",
         "schema": {"fields": [{"name": "a", "type": "number", "constraints": {"minimum": 5}}, {"name": "b"}]}},
        "t.csv, row 2, column a: 1 is below the least",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", PACKAGES)
def test_anybodys_package_is_looked_at_too(name: str, tmp_path: Path) -> None:
    resource, wanted = PACKAGES[name]
    (tmp_path / "t.csv").write_bytes(b"a,b\n1,x\n")
    (tmp_path / "datapackage.json").write_text(json.dumps({"resources": [resource]}), encoding="utf-8")
    found = said(tmp_path)
    assert (found == []) if wanted is None else any(wanted in line for line in found)


def packed(folder: Path, path: Path, within: str = "") -> Path:
    with zipfile.ZipFile(path, "w") as file:
        for one in sorted(folder.iterdir()):
            file.write(one, within + one.name)
    return path


@pytest.mark.parametrize("within", ["", "a/folder/"])
def test_a_packed_package_is_looked_into(within: str, exported: Path, tmp_path: Path) -> None:
    path = packed(exported / "K7Q2-M4-csv", tmp_path / "package.zip", within)
    assert check_file(path) == ("csv, packed", [])
    path.write_bytes(path.read_bytes()[:5000])
    assert "pack or copy it again" in said(path)[0]


def test_a_packed_package_with_a_damaged_stream_is_said_to_be(exported: Path, tmp_path: Path) -> None:
    path = tmp_path / "package.zip"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as file:
        for one in sorted((exported / "K7Q2-M4-csv").iterdir()):
            file.write(one, one.name)
    whole, told = path.read_bytes(), set()
    for at in range(60, 2000, 97):
        path.write_bytes(whole[:at] + bytes([whole[at] ^ 0x3C]) + whole[at + 1 :])
        told.update("pack or copy it again" in line for line in said(path))
    assert True in told


@pytest.mark.parametrize("ending", [".dcm", ".xes", ".json", ".jsonl", ".fhir.json"])
@pytest.mark.parametrize("share", [0.5, 0.999])
def test_a_file_that_was_cut_off_is_said_to_be(
    ending: str, share: float, exported: Path, tmp_path: Path
) -> None:
    whole = (exported / f"K7Q2-M4{ending}").read_bytes()
    path = tmp_path / f"cut{ending}"
    path.write_bytes(whole[: int(len(whole) * share)])
    assert any("cut off" in line for line in said(path))


def test_the_ends_of_a_dicom_file_are_seen_wherever_it_is_cut(exported: Path) -> None:
    data = (exported / "K7Q2-M4.dcm").read_bytes()
    assert ends_whole(data)
    whole = [n for n in range(200, len(data), 7) if ends_whole(data[:n])]
    # Between two elements at the top a cut leaves a shorter dataset, which its missing modules give away.
    assert len(whole) < len(range(200, len(data), 7)) / 20


def test_a_file_with_a_thousand_faults_is_told_the_first_of_them(tmp_path: Path) -> None:
    path = tmp_path / "theirs.csv"
    path.write_text("a\n" + "=1\n" * 1 + "=x\n" * 1000, encoding="utf-8")
    found = said(path)
    assert len(found) == MOST + 1
    assert "more faults" in found[-1]


def test_every_file_is_judged_whatever_the_others_are(
    exported: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    files = {
        "empty.csv": b"", "noise.bin": bytes(range(256)), "packed.json.gz": gzip.compress(b"{}"),
        "wide.csv": b"\xff\xfea",
        "patient.json": b'{"resourceType": "Patient"}',
    }  # fmt: skip
    for name, data in files.items():
        (tmp_path / name).write_bytes(data)
    (tmp_path / "folder").mkdir()
    os.mkfifo(tmp_path / "pipe")
    unreadable = [*files, "folder", "pipe", "missing"]
    good = str(exported / "K7Q2-M4.xes")
    assert main(["export", "--check", *(str(tmp_path / name) for name in unreadable), good]) == 2
    out, err = capsys.readouterr()
    assert out == f"{good}: xes, nothing wrong found\n"
    lines = err.splitlines()
    assert [line.split(": ")[1] for line in lines] == [str(tmp_path / name) for name in unreadable]
    assert all(line.startswith("labcheck: ") for line in lines)


def test_the_registry_formats_pass_the_checker_by_themselves(tmp_path: Path) -> None:
    formats = [name for name in WRITERS if name not in NEED_CLOCK_TIMES]
    for path in export_case(*everything(), formats, tmp_path, profile="registry", pseudonyms=KEY):
        assert said(path) == []
