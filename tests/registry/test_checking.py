"""The checker of exported files: what it finds in tables and documents, and that it never falls over."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from labcheck.registry.batching import export_batch
from labcheck.registry.checking.files import check_file
from labcheck.registry.errors import ExportError
from labcheck.registry.exporting import WRITERS, Choices, export_case
from labcheck.registry.pseudonyms import Pseudonyms
from tests.registry.telling import everything, rehearsals
from tests.registry.test_batch import KEYS, contents, ledger_of

KEY = Pseudonyms(bytes(range(32)))


@pytest.fixture(scope="module")
def exported(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("exported")
    export_case(*everything(), list(WRITERS), folder, profile="hospital")
    return folder


def test_nothing_is_wrong_with_what_leaves(exported: Path, tmp_path: Path) -> None:
    for case in rehearsals():
        export_case(*case, list(WRITERS), tmp_path / case[0].key, profile="hospital")
    files = [
        p for folder in (exported, tmp_path) for p in folder.rglob("*") if p.is_file() and p.suffix != ".csv"
    ]
    assert len(files) > 20
    assert [(str(p), str(finding)) for p in files for finding in check_file(p)[1]] == []


def _edit(table: str, old: str, new: str) -> Callable[[Path], None]:
    def change(folder: Path) -> None:
        path = folder / f"{table}.csv"
        text = path.read_text(encoding="utf-8")
        assert old in text, old
        path.write_text(text.replace(old, new, 1), encoding="utf-8", newline="")

    return change


TABLES: dict[str, tuple[Callable[[Path], None], str]] = {
    "a time without offset": (_edit("readings", "T09:04:30.000+01:00", "T09:04:30.000"), "offset"),
    "a day that does not exist": (_edit("readings", "2031-03-04T09:04", "2031-02-30T09:04"), "calendar"),
    "an entry missing": (_edit("events", ",4,sample.sent,", ",44,sample.sent,"), "does not follow"),
    "an entry twice": (_edit("events", ",4,sample.sent,", ",3,sample.sent,"), "twice"),
    "a number that is none": (_edit("bursts", ",1.5,boot", ",NaN,boot"), "counted with"),
    "a decimal comma": (_edit("bursts", ",1.5,boot", ',"1,5",boot'), "not a number"),
    "a case that is not there": (_edit("doses", "C-K7Q2-M4", "C-XXXX-XX"), "not in cases.csv"),
    "an offset that does not fit": (_edit("events", ",+01:00,0,boot", ",+02:00,0,boot"), "not at the offset"),
    "a reference forwards": (_edit("events", ",E58,4,", ",E58,44,"), "wrong way"),
    "a word outside the list": (_edit("stages", ",done,", ",finished,"), "not one of"),
    "an answer neither true nor false": (_edit("cases", ",false,2031", ",no,2031"), "neither true nor false"),
    "a trust that is none": (_edit("stages", ",boot,measured,", ",boot,exact,"), "not one of"),
    "a span without its trust": (_edit("intervals", ",boot,measured,", ",boot,,"), "can be trusted"),
    "energy without a burst": (_edit("attempts", ",1,1.5,false,", ",0,1.5,false,"), "without a burst"),
    "a value before where nothing is amended": (
        _edit("events", ",31,s,,,,,,,,", ",31,s,,,,,5,,,"),
        "amends nothing",
    ),
    "an amendment of nothing": (
        _edit("events", ",5,access,1,,,,,value,", ",,access,1,,,,,value,"),
        "names no entry",
    ),
    "a time that moved by itself": (
        _edit(
            "events",
            ",300,boot,2031-03-04T09:05:00.000+01:00,300,",
            ",300,boot,2031-03-04T09:05:00.000+01:00,240,",
        ),
        "stands at",
    ),
    "a changed byte": (_edit("cases", "surgical", "Surgical"), "SHA-256"),
    "a file missing": (lambda folder: (folder / "runs.csv").unlink(), "not there"),
}


@pytest.mark.parametrize("name", TABLES)
def test_a_fault_in_the_tables_is_found_and_placed(name: str, exported: Path, tmp_path: Path) -> None:
    folder = tmp_path / "csv"
    shutil.copytree(exported / "K7Q2-M4-csv", folder)
    change, text = TABLES[name]
    change(folder)
    _, findings = check_file(folder)
    assert any(text in str(finding) for finding in findings), [str(f) for f in findings]


def _at(*path: str | int, value: Any) -> Callable[[Any], None]:
    def change(document: Any) -> None:
        for step in path[:-1]:
            document = document[step]
        document[path[-1]] = value

    return change


DOCUMENTS: dict[str, tuple[Callable[[Any], None], str]] = {
    "an amount changed": (_at("events", 7, "stored", "what", "amount", value="9000"), "entry 8"),
    "a time changed": (_at("events", 7, "stored", "happened", "wall_us", value=1_930_000_000_000_000), "entry 8"),
    "a column that tells otherwise": (_at("events", 7, "recorder", value="N9"), "entry 8"),
    "the last entry cut off": (lambda d: d["events"].pop(), "head"),
    "two entries swapped": (lambda d: d["events"].insert(3, d["events"].pop(4)), "out of order"),
    "another checklist": (_at("checklist", "text", value="x = 1"), "digest"),
    "an unknown key": (_at("patient", value="x"), "patient"),
}  # fmt: skip


@pytest.mark.parametrize("name", DOCUMENTS)
def test_a_document_that_was_tampered_with_is_found_out(name: str, exported: Path, tmp_path: Path) -> None:
    document = json.loads((exported / "K7Q2-M4.json").read_bytes())
    change, where = DOCUMENTS[name]
    change(document)
    path = tmp_path / "changed.json"
    path.write_text(json.dumps(document), encoding="utf-8")
    _, findings = check_file(path)
    assert any(where in str(finding) for finding in findings), [str(f) for f in findings]


def test_a_registry_document_with_a_column_too_many_is_found_out(tmp_path: Path) -> None:
    (path,) = export_case(*everything(), ["json"], tmp_path, profile="registry", pseudonyms=KEY)
    document = json.loads(path.read_bytes())
    document["tables"]["events"][0]["recorder"] = "N1"
    path.write_text(json.dumps(document), encoding="utf-8")
    assert [f.where for f in check_file(path)[1]] == ["tables.events row 1.recorder"]


def test_a_batch_whose_file_was_changed_is_found_by_its_manifest(tmp_path: Path) -> None:
    export_batch(ledger_of(*KEYS), KEYS, ["csv", "json"], tmp_path, Choices("hospital"))
    assert check_file(tmp_path / "manifest-0001.json") == ("manifest", [])
    (tmp_path / f"{KEYS[0]}.json").write_text("{}")
    (tmp_path / f"{KEYS[1]}.json").unlink()
    findings = check_file(tmp_path / "manifest-0001.json")[1]
    assert sorted(f.where for f in findings) == [f"{KEYS[0]}.json", f"{KEYS[1]}.json"]


@pytest.mark.parametrize(
    "data", [b"", b"\x00" * 300, b"[]", b"{}", b"nonsense", b"[" * 100_000, b"1" * 10_000]
)
def test_a_file_of_another_kind_is_refused_in_one_line(data: bytes, tmp_path: Path) -> None:
    path = tmp_path / "thing.json"
    path.write_bytes(data)
    with pytest.raises(ExportError) as caught:
        check_file(path)
    assert "\n" not in str(caught.value)


def test_a_missing_file_is_refused_in_one_line(tmp_path: Path) -> None:
    with pytest.raises(ExportError, match="cannot be read"):
        check_file(tmp_path / "nothing.json")


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_the_checker_says_what_is_wrong_and_never_falls_over(
    data: st.DataObject, exported: Path, tmp_path: Path
) -> None:
    names = sorted(contents(exported))
    name = data.draw(st.sampled_from(names))
    content = bytearray((exported / name).read_bytes())
    for _ in range(data.draw(st.integers(1, 8))):
        content[data.draw(st.integers(0, len(content) - 1))] = data.draw(st.integers(0, 255))
    cut = data.draw(st.integers(0, len(content)))
    if data.draw(st.booleans()):
        del content[cut:]
    place = tmp_path / "spoiled"
    shutil.rmtree(place, ignore_errors=True)
    shutil.copytree(exported, place)
    path = place / name
    path.write_bytes(bytes(content))
    path = path.parent if path.suffix == ".csv" else path
    assert all("\n" not in line for line in _said(path))


def _said(path: Path) -> list[str]:
    try:
        return [str(finding) for finding in check_file(path)[1]]
    except ExportError as fault:
        return [str(fault)]
