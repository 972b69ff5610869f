"""The lossless document: judged by a validator that is not ours, and rebuilt into the log it came from."""

from __future__ import annotations

import copy
import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from labcheck.caselog.case import Case
from labcheck.caselog.events import Event
from labcheck.caselog.folding import begin, refold
from labcheck.checklist.reading import digest, read_checklist
from labcheck.ledger import canonical, chain
from labcheck.registry.contract import description_files
from labcheck.registry.exporting import export_case
from labcheck.registry.stored import StoredCase
from tests.registry.telling import everything


def validator_says(*documents: Path, folder: Path) -> tuple[int, str]:
    """check-jsonschema, an independent program, on the shipped schema: its status, and its report as JSON."""
    schema = folder / "schema.json"
    schema.write_bytes(description_files()["labcheck-case.schema.json"])
    command = [
        sys.executable,
        "-m",
        "check_jsonschema",
        "--output-format",
        "json",
        "--schemafile",
        str(schema),
    ]
    done = subprocess.run([*command, *map(str, documents)], capture_output=True, text=True, check=False)
    return done.returncode, done.stdout + done.stderr


@pytest.fixture(scope="module")
def document(everything_case: tuple[Case, StoredCase], tmp_path_factory: pytest.TempPathFactory) -> Path:
    return export_case(*everything_case, ["json"], tmp_path_factory.mktemp("json"), profile="hospital")[0]


@pytest.fixture
def content(document: Path) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(document.read_bytes())
    return found


def test_an_independent_validator_accepts_the_document(document: Path, tmp_path: Path) -> None:
    code, said = validator_says(document, folder=tmp_path)
    assert code == 0, said


MUTATIONS: dict[str, Any] = {
    "a time without its offset": lambda d: d["events"][3].update(occurred_at="2031-03-04T09:14:05.123"),
    "a time without milliseconds": lambda d: d["events"][3].update(occurred_at="2031-03-04T09:14:05+01:00"),
    "an hour that is none": lambda d: d["events"][3].update(occurred_at="2031-03-04T24:14:05.123+01:00"),
    "an unknown key": lambda d: d.update(patient_name="x"),
    "a missing head": lambda d: d.pop("head"),
    "a number as text": lambda d: d["events"][3].update(seq="4"),
    "an unknown kind": lambda d: d["events"][3]["stored"]["what"].update(kind="stage.opened.twice"),
    "an unknown state": lambda d: d["tables"]["stages"][0].update(state="finished"),
    "a short digest": lambda d: d["events"][3].update(sha256="abc"),
    "a case key of another shape": lambda d: d.update(case_key="Doe, Jane"),
}


def test_the_validator_refuses_every_fault(content: dict[str, Any], tmp_path: Path) -> None:
    paths = {tmp_path / f"{number}.json": name for number, name in enumerate(MUTATIONS)}
    for path, name in paths.items():
        broken = copy.deepcopy(content)
        MUTATIONS[name](broken)
        path.write_text(json.dumps(broken), encoding="utf-8")
    code, said = validator_says(*paths, folder=tmp_path)
    assert code == 1, said
    refused = {error["filename"] for error in json.loads(said)["errors"]}
    assert [name for path, name in paths.items() if str(path) not in refused] == []


def test_the_stored_entries_give_the_same_case_and_the_same_head(
    everything_case: tuple[Case, StoredCase], content: dict[str, Any]
) -> None:
    case, stored = everything_case
    prev, events = chain.FIRST_PREV, []
    for entry in content["events"]:
        body = canonical.encode(entry["stored"])
        assert entry["stored"].pop("prev") == prev.hex()
        events.append(Event.model_validate_json(json.dumps(entry["stored"])))
        assert chain.link(events[-1], prev).body == body
        prev = chain.digest(body)
        assert entry["sha256"] == prev.hex()
    assert prev.hex() == content["head"]["sha256"] == stored.head.hash_hex
    text = content["checklist"]["text"]
    assert digest(text) == content["checklist"]["digest"]
    assert refold(begin(content["case_key"], read_checklist(text, "exported")), events) == case


def test_the_same_case_gives_the_same_bytes(document: Path, tmp_path: Path) -> None:
    again = export_case(*everything(), ["json"], tmp_path, profile="hospital")[0]
    assert again.read_bytes() == document.read_bytes()


def test_every_entry_is_there_the_voided_one_too(
    everything_case: tuple[Case, StoredCase], content: dict[str, Any]
) -> None:
    case, _ = everything_case
    assert [e["seq"] for e in content["events"]] == list(range(1, len(case.log) + 1))
    voided = [e for e in content["events"] if e["voided"]]
    assert [e["text"] for e in voided] == ["taken back"]
    assert content["events"][voided[0]["voided_by"] - 1]["kind"] == "event.voided"


def test_an_amended_reading_stands_corrected_in_the_table_and_uncorrected_in_the_log(
    content: dict[str, Any],
) -> None:
    first = next(e for e in content["events"] if e["kind"] == "reading.taken")
    assert (first["value"], first["amended"]) == (274, True)
    stands = content["tables"]["readings"][0]
    assert (stands["value"], stands["amended"], stands["sampled_rel_s"]) == (275, True, 120)


def test_a_rehearsal_cannot_pass_for_a_real_case(tmp_path: Path) -> None:
    paths = export_case(*everything(real=False), ["json", "csv"], tmp_path, profile="hospital")
    assert all(str(p.relative_to(tmp_path)).startswith("REHEARSAL-") for p in paths)
    content = json.loads(paths[0].read_bytes())
    assert content["rehearsal"] is True
    assert content["case"]["rehearsal"] is True
    package = json.loads(paths[1].read_bytes())
    assert package["labcheck"]["rehearsal"] is True
