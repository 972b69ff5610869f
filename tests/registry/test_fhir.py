"""The FHIR bundle, judged by four readers that are not ours, and by our checker for what they let pass."""

from __future__ import annotations

import copy
import csv
import io
import json
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from labcheck.caselog.case import Case
from labcheck.registry.checking.fhir import check_bundle
from labcheck.registry.codebook import codebook
from labcheck.registry.deriving.frame import frame
from labcheck.registry.exporting import export_case
from labcheck.registry.fhir.elements import Maker
from labcheck.registry.fhir.extensions import EXTENSIONS, definition
from labcheck.registry.identifiers import NO_IDENTIFIERS, Identifiers
from labcheck.registry.pseudonyms import Pseudonyms
from labcheck.registry.stored import StoredCase
from labcheck.registry.tables import tables
from labcheck.registry.times import read_rfc3339
from tests.registry.fhir_gates import NAMES, complaints
from tests.registry.fhir_mutations import MUTATIONS, first
from tests.registry.telling import TOLD, everything, head, rehearsals, told

KEY = Pseudonyms(bytes(range(32)))
PLAYED = cache(rehearsals)
Bundle = dict[str, Any]


def bundle(case: tuple[Case, StoredCase], folder: Path, profile: str = "hospital", **words: Any) -> Bundle:
    (path,) = export_case(*case, ["fhir"], folder, profile=profile, pseudonyms=KEY, **words)
    found: Bundle = json.loads(path.read_bytes())
    return found


def of(found: Bundle, type_: str) -> list[dict[str, Any]]:
    return [e["resource"] for e in found["entry"] if e["resource"]["resourceType"] == type_]


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Bundle:
    return bundle(everything(), tmp_path_factory.mktemp("fhir"))


def test_every_reader_accepts_every_rehearsal_under_every_profile(tmp_path: Path, whole: Bundle) -> None:
    bundles = [whole, bundle(everything(), tmp_path, snomed=True)]
    for case in PLAYED():
        bundles += [bundle(case, tmp_path, profile) for profile in ("hospital", "registry", "shifted")]
    report = complaints(bundles, tmp_path)
    assert [said for said in report if any(said.values())] == []
    assert [str(f) for b in bundles for f in check_bundle(b)] == []


def test_every_reader_accepts_our_extensions_and_every_extension_used_is_defined(
    whole: Bundle, tmp_path: Path
) -> None:
    definitions = [definition(one) for one in EXTENSIONS]
    entries = [{"fullUrl": d["url"], "resource": d} for d in definitions]
    (report,) = complaints([{"resourceType": "Bundle", "type": "collection", "entry": entries}], tmp_path)
    assert not any(report.values()), report
    used = set(re.findall(r"urn:labcheck:fhir:[a-z-]+", json.dumps(whole)))
    assert used <= {d["url"] for d in definitions}
    assert "urn:labcheck:fhir:clock-offset" in used


def test_every_fault_is_noticed_by_the_gates_that_are_known_to_notice_it(
    whole: Bundle, tmp_path: Path
) -> None:
    spoiled = []
    for mutate, _ in MUTATIONS.values():
        copied = copy.deepcopy(whole)
        mutate(copied)
        spoiled.append(copied)
    report = complaints(spoiled, tmp_path)
    found = {
        name: {gate for gate in NAMES if said[gate]} | ({"own"} if list(check_bundle(broken)) else set())
        for name, said, broken in zip(MUTATIONS, report, spoiled, strict=True)
    }
    assert found == {name: gates for name, (_, gates) in MUTATIONS.items()}


def test_stages_are_procedures_that_are_part_of_the_case(whole: Bundle) -> None:
    procedures = of(whole, "Procedure")
    parent = next(p for p in procedures if "partOf" not in p)
    urn = {"reference": f"urn:uuid:{parent['id']}"}
    codes = {p["id"]: p["code"].get("coding", [{"code": ""}])[0]["code"] for p in procedures}
    stages = [p for p in procedures if codes[p["id"]].startswith("stage.")]
    assert [p["partOf"] for p in stages] == [[urn]] * len(stages)
    assert {p["status"] for p in stages} == {"completed", "in-progress", "not-done"}
    skipped = next(p for p in stages if p["code"]["text"] == "Filters")
    assert skipped["status"] == "not-done"
    assert skipped["statusReason"]["text"].startswith("skipped by decision: Cerebral protection")


def test_a_stage_nobody_ended_is_unknown_once_the_case_is_closed(tmp_path: Path) -> None:
    visit = everything()[0].visit
    assert visit is not None
    closing = f"""
[[entry]]
at = "09:29:30"
do = "signout.settle"
item = "visit:{visit.seq}"
reason = "nobody heard the call"
[[entry]]
at = "09:30:00"
do = "case.seal"
"""
    found = bundle(told(head() + TOLD + closing), tmp_path)
    parent, last = (
        of(found, "Procedure")[0],
        [p for p in of(found, "Procedure") if p["code"]["text"] == "Coronary check"],
    )
    assert (parent["status"], last[0]["status"]) == ("completed", "unknown")
    assert list(check_bundle(found)) == []


def test_a_corrected_reading_says_so_and_who_corrected_it(whole: Bundle) -> None:
    act = next(o for o in of(whole, "Observation") if o["code"]["text"] == "ACT")
    assert (act["status"], act["valueQuantity"]["value"]) == ("corrected", 275)
    assert read_rfc3339(act["issued"]) > read_rfc3339(act["effectiveDateTime"])
    about = [p for p in of(whole, "Provenance") if p["target"][0].get("reference", "").endswith(act["id"])]
    assert [p["activity"]["coding"][0]["code"] for p in about] == ["UPDATE"]
    assert about[0]["reason"] == [{"text": "misread"}]


def test_a_finding_says_where_by_what_and_who_judged_it(whole: Bundle) -> None:
    flow = next(o for o in of(whole, "Observation") if o["code"]["text"] == "Coronary flow")
    assert flow["bodySite"]["text"] == "left coronary ostium"
    assert flow["method"]["text"] == "angiography"
    assert flow["performer"] == [{"display": "scrub"}]
    assert flow["valueCodeableConcept"]["text"] == "normal"


def known(element: dict[str, Any]) -> dict[str, Any]:
    """The extensions of a time by their names."""
    return {
        e["url"].rsplit(":", 1)[-1].rsplit("/", 1)[-1]: next(v for k, v in e.items() if k != "url")
        for e in element["extension"]
    }


def by_mark(found: Bundle, ending: str) -> dict[str, Any]:
    """The one resource whose business identifier ends so."""
    found_there: list[dict[str, Any]] = [
        e["resource"]
        for e in found["entry"]
        if json.dumps(e["resource"].get("identifier", "")).endswith((f'{ending}"}}', f'{ending}"}}]'))
    ]
    (resource,) = found_there
    return resource


def test_a_late_entry_keeps_both_times(whole: Bundle) -> None:
    late = next(p for p in of(whole, "Provenance") if p["activity"]["coding"][0]["code"] == "CREATE")
    assert late["occurredDateTime"] == "2031-03-04T09:19:00.000+01:00"
    assert late["recorded"] == "2031-03-04T09:20:00.000+01:00"
    assert known(late["_occurredDateTime"])["time-quality"] == "estimated"
    assert known(late["_occurredDateTime"])["entered-after"] == 60


def test_every_entry_made_late_has_its_provenance_and_both_its_ends_say_so(tmp_path: Path) -> None:
    case = next(c for c in PLAYED() if sum(e.mode == "late" for e in c[0].log) > 1)
    found = bundle(case, tmp_path)
    created = [p for p in of(found, "Provenance") if p["activity"]["coding"][0]["code"] == "CREATE"]
    late = [e for e in case[0].log if e.mode == "late" and e.seq not in case[0].voided]
    assert [p["extension"][0]["valuePositiveInt"] for p in created] == [e.seq for e in late]
    assert [p["entity"][0]["what"]["display"] for p in created] == [f"entry {e.seq}, {e.kind}" for e in late]
    for attempt in (a for a in case[0].attempts if any(e.seq == a.seq for e in late)):
        period = by_mark(found, f"/attempt/{attempt.seq}")["performedPeriod"]
        assert known(period["_start"])["time-quality"] == known(period["_end"])["time-quality"] == "estimated"


def test_a_void_names_the_entry_it_takes_out_and_nullifies_no_resource(whole: Bundle) -> None:
    (void,) = [p for p in of(whole, "Provenance") if p["activity"]["coding"][0]["code"] == "NULLIFY"]
    (taken_back,) = everything()[0].voided
    named = {"system": "urn:labcheck:record", "value": f"C-K7Q2-M4/entry/{taken_back}"}
    assert void["target"] == [{"identifier": named, "display": f"entry {taken_back}, note.written"}]
    assert void["entity"] == [{"role": "removal", "what": void["target"][0]}]


def test_a_corrected_time_is_a_persons_word_and_stands_everywhere(tmp_path: Path) -> None:
    case, _ = everything()
    closed = next(e for e in case.log if e.kind == "attempt.closed")
    moved = closed.happened.wall_us - 4_000_000
    note = next(e.seq for e in case.log if getattr(e.what, "text", "") == "0042")
    more = AMENDED.format(target=closed.seq, value=moved, note=note)
    found = bundle(told(head() + TOLD + more), tmp_path)
    period = by_mark(found, f"/attempt/{case.attempts[0].seq}")["performedPeriod"]
    assert period["end"] == "2031-03-04T09:12:36.000+01:00"
    assert known(period["_end"])["time-quality"] == "estimated"
    assert [n["text"] for n in of(found, "Procedure")[0]["note"]][1] == "0043"
    assert list(check_bundle(found)) == []


AMENDED = """
[[entry]]
at = "09:29:00"
do = "event.amend"
target = {target}
field = "happened"
value = "{value}"
reason = "heard late"
[[entry]]
at = "09:29:10"
do = "event.amend"
target = {note}
field = "text"
value = "0043"
reason = "misread"
"""


def test_the_specimen_and_its_result_keep_their_own_times_under_every_profile(
    whole: Bundle, tmp_path: Path
) -> None:
    for found in (whole, bundle(everything(), tmp_path, "registry")):
        act = next(o for o in of(found, "Observation") if o["code"]["coding"][0]["code"] == "reading.act")
        assert known(act["_effectiveDateTime"])["seconds-since-access"] == 120
        assert known(act["_issued"])["seconds-since-access"] == 270


def test_an_end_before_its_start_is_told_beside_the_period_and_never_in_it() -> None:
    case, stored = everything()
    rows = tables(frame(case, profile="hospital", case_id="C-1", subject_id=None), stored.head)
    late = next(e.seq for e in case.log if e.mode == "late")
    row = {"started_at": "2031-03-04T09:20:00.000+01:00", "ended_at": "2031-03-04T09:19:00.000+01:00",
           "start_rel_s": 1200.0, "end_rel_s": 1203.0, "duration_s": 3.0}  # fmt: skip
    period = Maker(rows, NO_IDENTIFIERS, snomed=False).period(row, 1, late)
    assert "end" not in period
    assert known(period["_end"]) == {
        "seconds-since-access": 1203,
        "time-quality": "estimated",
        "entered-after": 60,
    }
    assert known(period)["end-by-set-clock"] == "2031-03-04T09:19:00.000+01:00"


def codings(value: Any) -> Iterator[dict[str, Any]]:
    """Every code of our own, wherever it stands."""
    if isinstance(value, list):
        for item in value:
            yield from codings(item)
    elif isinstance(value, dict):
        if value.get("system") == "urn:labcheck:code":
            yield value
        for inner in value.values():
            yield from codings(inner)


@pytest.mark.parametrize("profile", ["hospital", "registry"])
def test_every_code_of_ours_has_its_kind_and_words_and_stands_in_the_codebook(
    profile: str, tmp_path: Path
) -> None:
    for case in PLAYED()[:3]:
        book = codebook([(case[0].checklist, case[0].checklist_digest)]).decode()
        lines = list(csv.DictReader(io.StringIO(book)))
        kinds = {line["kind"] for line in lines}
        there = {".".join(filter(None, (line["kind"], line["within"], line["id"]))) for line in lines}
        found = list(codings(bundle(case, tmp_path, profile)))
        assert all("." in one["code"] and one["display"] for one in found)
        ours = {one["code"] for one in found if one["code"].split(".")[0] in kinds}
        assert {code for code in ours - there if not code.endswith(".abandoned")} == set()
        assert len(ours) > 40


def test_everything_that_has_a_code_has_one_of_ours(whole: Bundle) -> None:
    for entry in whole["entry"]:
        resource = entry["resource"]
        for name in (
            "code",
            "medicationCodeableConcept",
            "event",
            "category",
            "outcome",
            "bodySite",
            "method",
        ):
            for concept in (
                [resource[name]] if isinstance(resource.get(name), dict) else resource.get(name, [])
            ):
                systems = [coding["system"] for coding in concept["coding"]]
                assert systems[0] == "urn:labcheck:code" or name == "category"


@pytest.mark.parametrize("profile", ["hospital", "registry"])
def test_an_answer_carries_its_value_with_its_unit(profile: str, tmp_path: Path) -> None:
    (script,) = [c for c in PLAYED() if c[0].checklist.id == "electrosurgical"][:1]
    (answers,) = of(bundle(script, tmp_path, profile), "QuestionnaireResponse")
    given = {i["linkId"]: i["answer"][0] for i in answers["item"]}
    steps = {(a.what.stage, a.what.step): a.what for a in script[0].answers.values()}
    amounts = [i for i in given.values() if "valueQuantity" in i]
    assert len(amounts) > 5
    assert given["access.heparin"]["valueQuantity"]["value"] == int(steps["access", "heparin"].value or 0)
    assert given["access.heparin"]["valueQuantity"]["code"] == "[iU]"
    assert all(one.get("valueCoding", {}).get("code") != "answer.value" for one in amounts)


def test_what_a_log_cannot_know_is_pending_and_never_no(whole: Bundle) -> None:
    endpoints = {
        o["code"]["text"]: o["valueCodeableConcept"]["text"]
        for o in of(whole, "Observation")
        if o["code"].get("coding", [{}])[0].get("code", "").startswith("endpoint.")
    }
    assert endpoints["device success"] == "pending"
    assert endpoints["acute kidney injury"] == "pending"


def test_snomed_codes_leave_only_when_asked_for(whole: Bundle, tmp_path: Path) -> None:
    assert "snomed" not in json.dumps(whole)
    assert "http://snomed.info/sct" in json.dumps(bundle(everything(), tmp_path, snomed=True))


def test_a_rehearsal_is_marked_as_test_data_in_every_resource(tmp_path: Path) -> None:
    found = bundle(everything(real=False), tmp_path)
    marks = [e["resource"]["meta"]["security"][0]["code"] for e in found["entry"]]
    assert marks == ["HTEST"] * len(found["entry"])


def test_identifiers_of_the_hospital_are_in_the_bundle_and_nowhere_in_the_log(tmp_path: Path) -> None:
    case = everything()
    known = {case[0].key: Identifiers(patient_id="H-0012345", patient_id_issuer="Ward system")}
    found = bundle(case, tmp_path, identifiers=known)
    assert first(found, "Patient")["identifier"][-1]["value"] == "H-0012345"
    assert b"H-0012345" not in b"".join(r.body for r in case[1].records)


def test_loading_twice_changes_nothing_because_ids_come_from_the_record(
    whole: Bundle, tmp_path: Path
) -> None:
    assert bundle(everything(), tmp_path) == whole
    ids = [e["resource"]["id"] for e in whole["entry"]]
    assert len(set(ids)) == len(ids)


def test_the_registry_gets_the_year_and_seconds_since_access(tmp_path: Path) -> None:
    found = bundle(everything(), tmp_path, "registry")
    act = next(o for o in of(found, "Observation") if o["code"]["text"] == "act")
    assert act["effectiveDateTime"] == "2031"
    assert act["_effectiveDateTime"]["extension"][0]["valueDecimal"] == 120
    assert "issued" not in act
    assert of(found, "Provenance") == []
