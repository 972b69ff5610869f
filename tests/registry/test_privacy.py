"""What leaves under which profile: nothing that could be joined back without the key."""

from __future__ import annotations

import csv
import json
import subprocess
import sys
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from labcheck.caselog.case import Case
from labcheck.registry.contract import description_files
from labcheck.registry.errors import ExportError
from labcheck.registry.exporting import NEED_CLOCK_TIMES, WRITERS, export_case
from labcheck.registry.identifiers import Identifiers, read_identifiers
from labcheck.registry.pseudonyms import LEAST_BYTES, Pseudonyms, make_key, read_key
from labcheck.registry.stored import StoredCase
from labcheck.registry.tables import ROWS
from labcheck.registry.times import read_rfc3339
from tests.registry.telling import everything

KEY = Pseudonyms(bytes(range(32)))
OTHER_KEY = Pseudonyms(bytes(range(1, 33)))


def export(case: tuple[Case, StoredCase], folder: Path, profile: str, key: Pseudonyms = KEY) -> list[Path]:
    formats = [name for name in WRITERS if profile != "registry" or name not in NEED_CLOCK_TIMES]
    return export_case(*case, formats, folder, profile=profile, pseudonyms=key)


def secrets(case: Case, stored: StoredCase) -> Iterator[str]:
    """Everything by which somebody could find the case again in the hospital."""
    yield case.key
    assert case.plan is not None
    yield str(case.plan.study_number) + '"'
    yield stored.head.hash_hex
    yield stored.head.short
    for record in stored.records:
        event = record.event()
        yield from (event.id, event.press, record.hash.hex(), str(event.happened.wall_us))
        for name in ("note", "text", "reason"):
            typed = getattr(event.what, name, None)
            if isinstance(typed, str) and " " in typed:
                yield typed
    yield from ("2031-03-04", "20310304", "03-04T", "balloon-expandable", "09:12")


@pytest.mark.parametrize("profile", ["registry", "shifted"])
def test_nothing_that_leaves_can_be_found_again_in_the_ledger(
    profile: str, everything_case: tuple[Case, StoredCase], tmp_path: Path
) -> None:
    found = []
    for path in export(everything_case, tmp_path, profile):
        text = path.name + path.read_bytes().decode("utf-8", "replace")
        found += [
            (path.name, secret)
            for secret in secrets(*everything_case)
            if secret in text and not (profile == "shifted" and secret == "09:12")
        ]
    assert found == []


def test_the_hospital_profile_does_hold_what_was_looked_for(
    everything_case: tuple[Case, StoredCase], tmp_path: Path
) -> None:
    (path,) = export_case(*everything_case, ["json"], tmp_path, profile="hospital")
    text = path.read_text(encoding="utf-8")
    missing = [
        s
        for s in set(secrets(*everything_case))
        if s not in text and json.dumps(s, ensure_ascii=False)[1:-1] not in text
    ]
    assert missing == ["20310304"]


def rows(folder: Path, name: str) -> list[dict[str, str]]:
    with (folder / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.mark.parametrize("profile", ["registry", "shifted"])
def test_only_the_columns_of_the_profile_are_there(
    profile: Any, everything_case: tuple[Case, StoredCase], tmp_path: Path
) -> None:
    folder = next(p.parent for p in export(everything_case, tmp_path, profile) if p.suffix == ".csv")
    for name, row in ROWS.items():
        for line in rows(folder, name):
            assert tuple(line) == (*row.columns(profile), *(() if name == "cases" else ("profile",)))
            assert line["profile"] == profile
            assert not {"text", "note", "reason", "recorder", "value_text", "head"} & set(line)


@pytest.mark.parametrize("profile", ["hospital", "registry", "shifted"])
def test_every_file_that_leaves_names_its_profile(
    profile: str, everything_case: tuple[Case, StoredCase], tmp_path: Path
) -> None:
    paths = export(everything_case, tmp_path, profile)
    assert {path.suffix for path in paths} >= {".csv", ".json", ".jsonl"}
    for path in paths:
        lines = path.read_bytes().splitlines()
        # A table of which this case has no row says it in its package alone.
        assert any(profile.encode() in line for line in lines) or (path.suffix == ".csv" and len(lines) == 1), path.name


def test_a_word_that_is_no_id_of_the_checklist_leaves_as_other(tmp_path: Path) -> None:
    case, stored = everything()
    paths = export_case(case, stored, ["json"], tmp_path, profile="registry", pseudonyms=KEY)
    content = json.loads(paths[0].read_bytes())
    assert {r["unit"] for r in content["tables"]["readings"]} == {"s", None}
    assert {r["bailout"] for r in content["tables"]["bailouts"]} == {"coronary"}
    assert "other" not in json.dumps(content["tables"]["events"])


@pytest.mark.parametrize("profile", ["registry", "shifted"])
def test_an_independent_validator_accepts_the_registry_document(
    profile: str, everything_case: tuple[Case, StoredCase], tmp_path: Path
) -> None:
    paths = export_case(*everything_case, ["json"], tmp_path, profile=profile, pseudonyms=KEY)
    name = "labcheck-registry-case" + ("-shifted" if profile == "shifted" else "") + ".schema.json"
    (tmp_path / name).write_bytes(description_files()[name])
    command = [sys.executable, "-m", "check_jsonschema", "--schemafile", str(tmp_path / name), str(paths[0])]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout


def test_the_same_key_gives_the_same_names_and_another_key_others() -> None:
    case, _ = everything()
    again = Pseudonyms(bytes(range(32)))
    assert KEY.case_id(case) == again.case_id(case) != OTHER_KEY.case_id(case)
    assert KEY.subject_id(case) == again.subject_id(case) != OTHER_KEY.subject_id(case)
    assert KEY.case_id(case)[2:] != (KEY.subject_id(case) or "")[2:]


def test_two_cases_of_one_patient_keep_one_name_and_one_shift(tmp_path: Path) -> None:
    first, _ = everything()
    second, _ = everything(day="2031-04-01")
    stranger, _ = everything(study="0008")
    assert KEY.subject_id(first) == KEY.subject_id(second) != KEY.subject_id(stranger)
    assert KEY.shift_us(first) == KEY.shift_us(second)


def test_a_shift_moves_every_time_by_the_same_whole_weeks(
    everything_case: tuple[Case, StoredCase], tmp_path: Path
) -> None:
    (true,) = export_case(*everything_case, ["json"], tmp_path, profile="hospital")
    (moved,) = export_case(*everything_case, ["json"], tmp_path, profile="shifted", pseudonyms=KEY)
    before, after = json.loads(true.read_bytes()), json.loads(moved.read_bytes())
    gaps = {
        read_rfc3339(a["occurred_at"]) - read_rfc3339(b["occurred_at"][:-6] + "+00:00")
        for a, b in zip(after["tables"]["events"], before["events"], strict=True)
    }
    (gap,) = gaps
    assert gap < timedelta(0)
    assert gap % timedelta(weeks=1) == timedelta(0)
    assert after["case"]["year"] is None
    assert str(abs(gap.days)) not in json.dumps(after["case"])


def test_the_registry_profile_needs_a_key(everything_case: tuple[Case, StoredCase], tmp_path: Path) -> None:
    with pytest.raises(ExportError, match="key"):
        export_case(*everything_case, ["json"], tmp_path, profile="registry")
    assert list(tmp_path.iterdir()) == []


def test_the_registry_profile_refuses_the_hospitals_identifiers(
    everything_case: tuple[Case, StoredCase], tmp_path: Path
) -> None:
    known = {everything_case[0].key: Identifiers(patient_id="H-1")}
    with pytest.raises(ExportError, match="identifiers"):
        export_case(
            *everything_case, ["json"], tmp_path, profile="registry", pseudonyms=KEY, identifiers=known
        )


def test_a_format_that_needs_clock_times_is_refused_before_anything_is_written(
    everything_case: tuple[Case, StoredCase], tmp_path: Path
) -> None:
    with pytest.raises(ExportError, match="shifted"):
        export_case(*everything_case, ["json", "xes"], tmp_path, profile="registry", pseudonyms=KEY)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("profile", ["Registry", "anonymous", ""])
def test_an_unknown_profile_is_refused(
    profile: str, everything_case: tuple[Case, StoredCase], tmp_path: Path
) -> None:
    with pytest.raises(ExportError, match="hospital, registry, shifted"):
        export_case(*everything_case, ["json"], tmp_path, profile=profile, pseudonyms=KEY)


def test_a_key_is_made_once_and_for_the_owner_only(tmp_path: Path) -> None:
    path = make_key(tmp_path / "site.key")
    assert path.stat().st_mode & 0o777 == 0o600
    assert len(path.read_bytes()) == LEAST_BYTES
    with pytest.raises(ExportError, match="never replaced"):
        make_key(path)
    assert read_key(path).case_id(everything()[0]).startswith("P-")


def test_a_key_that_others_can_read_or_that_lies_in_the_ledger_is_refused(tmp_path: Path) -> None:
    path = make_key(tmp_path / "site.key")
    with pytest.raises(ExportError, match="elsewhere"):
        read_key(path, tmp_path)
    path.chmod(0o640)
    with pytest.raises(ExportError, match="chmod 600"):
        read_key(path)
    with pytest.raises(ExportError, match="32"):
        Pseudonyms(b"short")


@pytest.mark.parametrize(
    "text",
    [
        b'["K7Q2-M4"]\npatient_name = "x"',
        b'["K7Q2-M4"]\nstudy_uid = "1..2"',
        b"patient_id = 3",
        b"\xff",
        b'["K7Q2-M4"]\naccession = "12345678901234567"',
    ],
)
def test_a_wrong_file_of_identifiers_is_refused_in_one_line(text: bytes) -> None:
    with pytest.raises(ExportError) as caught:
        read_identifiers(text, "ids.toml")
    assert str(caught.value).startswith("ids.toml")
    assert "\n" not in str(caught.value)


def test_identifiers_are_read_by_case() -> None:
    found = read_identifiers(b'["K7Q2-M4"]\npatient_id = "H-1"\nstudy_uid = "1.2.3"', "ids.toml")
    assert found == {"K7Q2-M4": Identifiers(patient_id="H-1", study_uid="1.2.3")}
