"""The page about FHIR, XES and DICOM says what the program writes."""

from __future__ import annotations

import csv
import json
import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from pydicom import dcmread
from pydicom.dataset import Dataset

from labcheck.caselog.case import Case
from labcheck.caselog.events import KINDS
from labcheck.registry.checking.dicom import date_time
from labcheck.registry.dicom.notes import NOTED
from labcheck.registry.errors import ExportError
from labcheck.registry.exporting import export_case
from labcheck.registry.fhir.extensions import EXTENSIONS
from labcheck.registry.fhir.procedures import STATUS
from labcheck.registry.pseudonyms import Pseudonyms
from labcheck.registry.stored import StoredCase
from labcheck.registry.xes import STARTS
from tests.registry.telling import everything, rehearsals

EXPORTS = Path(__file__).parents[2] / "exports"
PAGE = (EXPORTS / "other-formats.md").read_text(encoding="utf-8")
EXAMPLES = re.findall(r"^```(json|xml|text) (\S+)\n(.*?)^```$", PAGE, re.MULTILINE | re.DOTALL)
XES = "{http://www.xes-standard.org/}"
Json = dict[str, Any]


@cache
def cases() -> tuple[tuple[Case, StoredCase], ...]:
    return (everything(), *rehearsals())


@pytest.fixture(scope="module")
def bundles(tmp_path_factory: pytest.TempPathFactory) -> list[Json]:
    folder = tmp_path_factory.mktemp("page")
    paths = [path for case in cases() for path in export_case(*case, ["fhir"], folder, profile="hospital")]
    return [json.loads(path.read_bytes()) for path in paths]


def within(part: Any, whole: Any) -> bool:
    """Whether everything of ``part`` is in ``whole``, at the same place; lists in the same order."""
    if isinstance(part, dict):
        return isinstance(whole, dict) and all(k in whole and within(v, whole[k]) for k, v in part.items())
    if isinstance(part, list):
        rest = iter(whole if isinstance(whole, list) else [])
        return all(any(within(one, other) for other in rest) for one in part)
    return bool(part == whole)


def nodes(value: Any) -> Iterator[Any]:
    yield value
    for inner in value.values() if isinstance(value, dict) else value if isinstance(value, list) else ():
        yield from nodes(inner)


def shown(item: Dataset) -> str:
    """One entry as the page shows it."""
    at = date_time(str(item.ObservationDateTime)).strftime("%H:%M:%S.%f")
    below = "".join(f" [{_title(i)}={_said(i)}]" for i in item.get("ContentSequence", []))
    return f"{at} {_title(item)}: {_said(item)}{below}"


def _title(item: Dataset) -> str:
    return str(item.ConceptNameCodeSequence[0].CodeMeaning)


def _said(item: Dataset) -> str:
    if item.ValueType == "NUM":
        return f"{float(item.MeasuredValueSequence[0].NumericValue):g}"
    if item.ValueType == "CODE":
        return str(item.ConceptCodeSequence[0].CodeMeaning)
    return str(item.get("TextValue") or item.get("DateTime"))


@pytest.mark.parametrize(("language", "name", "text"), EXAMPLES)
def test_an_example_is_cut_out_of_the_file_it_names(language: str, name: str, text: str) -> None:
    path = EXPORTS / name
    if language == "json":
        assert any(within(json.loads(text), node) for node in nodes(json.loads(path.read_bytes())))
    elif language == "xml":
        wanted = [(e.tag, dict(e.attrib)) for e in ET.fromstring(text)]
        events = ET.parse(path).getroot().iter(f"{XES}event")
        assert any(
            all(one in [(e.tag.removeprefix(XES), dict(e.attrib)) for e in event] for one in wanted)
            for event in events
        )
    else:
        there = {shown(item) for item in dcmread(path).ContentSequence if "ObservationDateTime" in item}
        assert [line for line in text.splitlines() if line not in there] == []


def test_there_are_examples_of_every_format() -> None:
    assert {language for language, _, _ in EXAMPLES} == {"json", "xml", "text"}
    assert {name.split("/")[0] for _, name, _ in EXAMPLES} == {"example", "example-registry"}


def section(heading: str) -> str:
    """What stands below a heading, up to the next one."""
    return re.split(r"^#+ ", PAGE.split(f"# {heading}\n")[1], flags=re.MULTILINE)[0]


def table(text: str) -> list[list[str]]:
    """The rows of the tables of a text, without their headings."""
    rows = [
        [cell.strip() for cell in line.strip("|").split("|")] for line in text.splitlines() if line[:1] == "|"
    ]
    return [row for row in rows[2:] if not set(row[0]) <= {"-"}]


def test_every_identifier_path_is_on_the_page(bundles: list[Json]) -> None:
    told = {(cells[0].split("/")[1].strip("`"), cells[1].split(",")[0].split(" ")[0].rstrip(":"))
            for cells in table(section("Names"))}  # fmt: skip
    found = set()
    for bundle in bundles:
        for node in nodes(bundle):
            marks = node.get("identifier", []) if isinstance(node, dict) else []
            for mark in marks if isinstance(marks, list) else [marks]:
                if mark["system"] == "urn:labcheck:record" and "/" in mark["value"]:
                    found.add((mark["value"].split("/")[1], node.get("resourceType", "none")))
    assert found == told


def test_every_kind_of_code_is_in_the_codebook_or_on_the_page(bundles: list[Json]) -> None:
    codes = (node.get("code") for bundle in bundles for node in nodes(bundle)
             if isinstance(node, dict) and node.get("system") == "urn:labcheck:code")  # fmt: skip
    kinds = {str(code).split(".")[0] for code in codes}
    with (EXPORTS / "codebook.csv").open(encoding="utf-8", newline="") as file:
        book = {line["kind"] for line in csv.DictReader(file)}
    told = {word for cells in table(section("Codes")) for word in re.findall(r"`(\w+)`", cells[0])}
    assert kinds - book == told
    assert not told & book


def test_the_status_of_every_visit_is_as_told() -> None:
    told = {}
    for resource, says, status in table(section("Status")):
        for state in says.split(":")[0].split(", "):
            if resource == "Procedure, visit":
                told[state] = status.strip("`")
    assert told == STATUS


def test_a_failed_attempt_is_completed_and_a_pending_endpoint_preliminary(bundles: list[Json]) -> None:
    seen = set()
    for bundle in bundles:
        for resource in (entry["resource"] for entry in bundle["entry"]):
            code = resource.get("code", {}).get("coding", [{"code": ""}])[0]["code"]
            if code.startswith("attempt.") and "outcome" in resource:
                seen.add(("attempt", resource["outcome"]["text"] == "abandoned", resource["status"]))
            if code.startswith("endpoint."):
                pending = resource["valueCodeableConcept"]["text"] == "pending"
                seen.add(("endpoint", pending, resource["status"]))
    assert seen >= {
        ("attempt", False, "completed"),
        ("endpoint", True, "preliminary"),
        ("endpoint", False, "final"),
    }
    assert seen <= {("attempt", False, "completed"), ("attempt", True, "stopped"),
                    ("endpoint", True, "preliminary"), ("endpoint", False, "final")}  # fmt: skip


def test_a_link_id_says_stage_leaflet_and_step_and_in_a_rescue_which_rescue(bundles: list[Json]) -> None:
    rescues = set()
    for (case, _), bundle in zip(cases(), bundles, strict=True):
        ids = [node["linkId"] for node in nodes(bundle) if isinstance(node, dict) and "linkId" in node]
        assert len(set(ids)) == len(ids)
        wanted = set()
        for answer in case.answers.values():
            what = answer.what
            rescues_of: list[int] = [b.seq for b in case.bailouts if f"bailout:{b.what.bailout}" == what.stage]
            for seq in rescues_of or (None,):
                wanted.add(".".join(str(p) for p in (what.stage, seq, what.cusp, what.step) if p is not None))
        assert {one for one in ids if not one.endswith(".reason")} <= wanted
        rescues |= {one for one in ids if one.startswith("bailout:")}
    assert rescues


def test_every_extension_on_the_page_is_defined() -> None:
    told = {word for cells in table(section("Times")) for word in re.findall(r"`([a-z-]+)`", cells[0])}
    assert told == {"seconds-since-access", "time-quality", "entered-after"}
    assert told <= {one.name for one in EXTENSIONS}


def test_the_kinds_that_start_a_stretch_are_as_told() -> None:
    (told,) = re.findall(r"is `start` for (.*?), else `complete`", PAGE, re.DOTALL)
    assert re.findall(r"`([a-z.]+)`", told) == list(STARTS)


def test_the_kinds_to_filter_are_kinds() -> None:
    (told,) = re.findall(r"not about the\s+procedure: (.*?)\. Without", PAGE, re.DOTALL)
    assert set(re.findall(r"`([a-z.]+)`", told)) <= set(KINDS)


def test_the_kinds_without_an_entry_in_dicom_are_as_told(tmp_path: Path) -> None:
    (told,) = re.findall(r"have no entry of their own: (.*?)\. Endpoints", PAGE, re.DOTALL)
    left_out = set(re.findall(r"`([a-z.]+)`", told))
    pairs = {
        "stage.closed",
        "attempt.opened",
        "attempt.closed",
        "bailout.closed",
        "energy.stopped",
        "run.stopped",
    }
    others = {"step.answered", "reading.taken", "dose.given", "note.written", "fault.noted", "addendum.added"}
    assert left_out | set(NOTED) | set(STARTS) | pairs | others == set(KINDS)
    assert not left_out & (set(NOTED) | set(STARTS) | pairs | others)


def test_the_formats_and_profiles_are_as_told(tmp_path: Path) -> None:
    key = Pseudonyms(bytes(range(32)))
    told = table(PAGE.split("## One moment")[0])[0]
    for name, said in zip(("fhir", "xes", "dicom"), told[1:], strict=True):
        written = []
        for profile in ("hospital", "registry", "shifted"):
            try:
                written += export_case(
                    *cases()[0], [name], tmp_path / profile, profile=profile, pseudonyms=key
                )
            except ExportError:
                continue
        assert [path.parent.name for path in written] == said.split(", ")
