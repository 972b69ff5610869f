"""The DICOM procedure log, judged by DCMTK and dicom3tools, and by our checker for what they let pass."""

from __future__ import annotations

import copy
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from pydicom import dcmread
from pydicom.dataset import Dataset
from pydicom.sequence import Sequence as Items

from labcheck.caselog.case import Case
from labcheck.registry.checking.dicom import check_log, date_time
from labcheck.registry.concepts import CONCEPTS
from labcheck.registry.errors import ExportError
from labcheck.registry.exporting import export_case
from labcheck.registry.identifiers import Identifiers
from labcheck.registry.pseudonyms import Pseudonyms
from labcheck.registry.stored import StoredCase
from labcheck.registry.times import read_rfc3339
from tests.registry.dicom_gates import complaints, send, store
from tests.registry.telling import TOLD, everything, head, rehearsals, told

KEY = Pseudonyms(bytes(range(32)))
OFTEN = "patient status"


def exported(case: tuple[Case, StoredCase], folder: Path, profile: str = "hospital", **words: Any) -> Path:
    (path,) = export_case(*case, ["dicom"], folder, profile=profile, pseudonyms=KEY, **words)
    return path


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return exported(everything(), tmp_path_factory.mktemp("dicom"))


def test_every_reader_accepts_every_rehearsal(path: Path, tmp_path: Path) -> None:
    paths = [path]
    for case in rehearsals():
        paths += [exported(case, tmp_path / "h"), exported(case, tmp_path / "s", "shifted")]
    said = {str(p): complaints(p) for p in paths}
    assert {name: found for name, found in said.items() if any(found.values())} == {}
    assert [(p.name, str(finding)) for p in paths for finding in check_log(p)] == []


def entries(data: Dataset) -> list[Dataset]:
    return [item for item in data.ContentSequence if item.RelationshipType == "CONTAINS"]


def _swap(data: Dataset) -> None:
    one, two = entries(data)[3:5]
    one.ObservationDateTime, two.ObservationDateTime = two.ObservationDateTime, one.ObservationDateTime


def _same(data: Dataset) -> None:
    one, two = entries(data)[3:5]
    two.ObservationDateTime = one.ObservationDateTime


def _time(value: str) -> Callable[[Dataset], None]:
    def change(data: Dataset) -> None:
        entries(data)[3].ObservationDateTime = value

    return change


def _no_observer(data: Dataset) -> None:
    data.ContentSequence = Items([i for i in data.ContentSequence if i.RelationshipType != "HAS OBS CONTEXT"])


def _wrong_title(data: Dataset) -> None:
    data.ConceptNameCodeSequence[0].CodeValue = "121123"


def _wrong_phase(data: Dataset) -> None:
    first = next(i for i in entries(data) if i.ValueType == "CODE")
    first.ConceptCodeSequence[0].CodeValue = "999999"


def _nested(data: Dataset) -> None:
    inner = Dataset()
    inner.RelationshipType, inner.ValueType, inner.ContinuityOfContent = "CONTAINS", "CONTAINER", "SEPARATE"
    inner.ConceptNameCodeSequence = copy.deepcopy(data.ConceptNameCodeSequence)
    inner.ObservationDateTime = "20310304235959.000000+0100"
    data.ContentSequence.append(inner)


def _property_of_root(data: Dataset) -> None:
    entries(data)[3].RelationshipType = "HAS PROPERTIES"


def _no_value(data: Dataset) -> None:
    first = next(i for i in entries(data) if i.ValueType == "CODE")
    del first.ConceptCodeSequence


def _no_concept(data: Dataset) -> None:
    del entries(data)[3].ConceptNameCodeSequence


def _empty_text(data: Dataset) -> None:
    next(i for i in entries(data) if i.ValueType == "TEXT").TextValue = ""


def _coordinates(data: Dataset) -> None:
    item = next(i for i in entries(data) if i.ValueType == "TEXT")
    del item.TextValue
    item.ValueType, item.GraphicType, item.GraphicData = "SCOORD", "POINT", [1.0, 1.0]


def _by_reference(data: Dataset) -> None:
    pointer = Dataset()
    pointer.RelationshipType = "HAS PROPERTIES"
    pointer.ReferencedContentItemIdentifier = [1, 1]
    last = entries(data)[-1]
    last.ContentSequence = Items([*last.get("ContentSequence", []), pointer])


def _no_synchronization(data: Dataset) -> None:
    del data.SynchronizationFrameOfReferenceUID, data.SynchronizationTrigger, data.AcquisitionTimeSynchronized


def _unpaired(data: Dataset) -> None:
    ending = next(i for i in entries(data) if i.ConceptNameCodeSequence[0].CodeValue == "121131")
    ending.ContentSequence[0].TextValue = "another"


BROKEN: dict[str, tuple[Callable[[Dataset], None], set[str]]] = {
    "no observation time": (lambda d: entries(d)[3].__delattr__("ObservationDateTime"), {"own"}),
    "two entries swapped": (_swap, {"own"}),
    "two entries at one time": (_same, {"own"}),
    "a day only": (_time("20310304"), {"own"}),
    "a time without offset": (_time("20310304090430.000000"), {"own"}),
    "no observer": (_no_observer, {"own"}),
    "another title": (_wrong_title, {"own"}),
    "a code that is not in its group": (_wrong_phase, {"own"}),
    "a container below the root": (_nested, {"dsrdump", "dsr2xml", "own"}),
    "an entry that is a property of the root": (_property_of_root, {"dsrdump", "dsr2xml"}),
    "a code without its value": (_no_value, {"dsrdump", "dsr2xml", "dciodvfy", "own"}),
    "an entry without a concept": (_no_concept, {"dsrdump", "dsr2xml", "dciodvfy", "own"}),
    "an empty text": (_empty_text, {"dsrdump", "dsr2xml", "dciodvfy", "own"}),
    "coordinates": (_coordinates, {"dsrdump", "dsr2xml", "dciodvfy", "own"}),
    "an item by reference": (_by_reference, {"own"}),
    "no synchronization": (_no_synchronization, {"dciodvfy", "own"}),
    "an end without its start": (_unpaired, {"own"}),
}
"""Fault, and the readers that notice it (``own`` is our checker)."""


def test_every_fault_is_noticed_by_the_readers_that_are_known_to_notice_it(
    path: Path, tmp_path: Path
) -> None:
    found = {}
    for number, (name, (spoil, _)) in enumerate(BROKEN.items()):
        data = dcmread(path)
        spoil(data)
        broken = tmp_path / f"{number}.dcm"
        data.save_as(broken)
        said = complaints(broken)
        own = {"own"} if list(check_log(broken)) else set()
        found[name] = {reader for reader in said if said[reader]} | own
    assert found == {name: readers for name, (_, readers) in BROKEN.items()}


def test_an_archive_takes_the_log(path: Path, tmp_path: Path) -> None:
    with store(tmp_path) as port:
        done = send(port, path)
    assert done.returncode == 0, done.stderr.decode()
    (kept,) = tmp_path.iterdir()
    assert dcmread(kept).SOPInstanceUID == dcmread(path).SOPInstanceUID


def named(data: Dataset, meaning: str) -> list[Dataset]:
    return [i for i in entries(data) if i.ConceptNameCodeSequence[0].CodeMeaning == meaning]


def below(item: Dataset) -> dict[str, Any]:
    values = {}
    for inner in item.get("ContentSequence", []):
        name = inner.ConceptNameCodeSequence[0].CodeMeaning
        if inner.ValueType == "NUM":
            values[name] = float(inner.MeasuredValueSequence[0].NumericValue)
        elif inner.ValueType == "CODE":
            values[name] = inner.ConceptCodeSequence[0].CodeMeaning
        else:
            values[name] = inner.get("TextValue") or inner.get("DateTime")
    return values


def test_every_visit_and_attempt_is_a_pair_with_one_action_id(path: Path) -> None:
    case, _ = everything()
    data = dcmread(path)
    starts = [below(i)["Procedure Action Item ID"] for i in named(data, "Start Procedure Action")]
    ends = [below(i)["Procedure Action Item ID"] for i in named(data, "End Procedure Action")]
    assert sorted(starts) == sorted(
        [f"stage {v.seq}" for v in case.visits]
        + [f"attempt {a.seq}" for a in case.attempts]
        + [f"bailout {b.seq}" for b in case.bailouts]
    )
    assert set(starts) - set(ends) == {f"stage {case.visits[-1].seq}"}


def test_a_late_entry_says_that_it_is_estimated_and_when_it_was_recorded(path: Path) -> None:
    late = [i for i in entries(dcmread(path)) if "DateTime of Recording of Log Entry" in below(i)]
    assert len(late) == 2
    for item in late:
        assert below(item)["Observation DateTime Qualifier"] == "DateTime Estimated"
        recorded = date_time(str(below(item)["DateTime of Recording of Log Entry"]))
        assert recorded - date_time(str(item.ObservationDateTime)) >= timedelta(seconds=59)


def test_a_paper_record_is_unsynchronized(tmp_path: Path) -> None:
    quality = {e["time_quality"] for e in _events(_paper(), tmp_path)}
    assert quality >= {"unsynchronized"}
    data = dcmread(exported(_paper(), tmp_path))
    said = {below(i).get("Observation DateTime Qualifier") for i in entries(data)}
    assert "DateTime Unsynchronized" in said


def _paper() -> tuple[Case, StoredCase]:
    from tests.registry.telling import transcribed_everything

    return transcribed_everything()


def _events(case: tuple[Case, StoredCase], folder: Path) -> list[dict[str, Any]]:
    import json

    (path,) = export_case(*case, ["json"], folder, profile="hospital")
    found: list[dict[str, Any]] = json.loads(path.read_bytes())["events"]
    return found


def test_the_clock_is_not_said_to_be_synchronized_and_its_offset_is_there(path: Path) -> None:
    data = dcmread(path)
    assert (data.SynchronizationTrigger, data.AcquisitionTimeSynchronized) == ("NO TRIGGER", "N")
    assert data.SynchronizationFrameOfReferenceUID != "1.2.840.10008.15.1.1"
    context = [
        i for i in data.ContentSequence if i.RelationshipType == "HAS ACQ CONTEXT" and i.ValueType == "NUM"
    ]
    assert [float(i.MeasuredValueSequence[0].NumericValue) for i in context] == [31]
    assert [str(i.ObservationDateTime) for i in context] == ["20310304090110.000000+0100"]
    assert [below(i)["Uncertainty, either way"] for i in context] == [1]


def test_a_log_sealed_with_a_stage_nobody_ended_is_not_said_to_be_complete(tmp_path: Path) -> None:
    visit = told(head() + TOLD)[0].visit
    assert visit is not None
    settled = f"""
[[entry]]
at = "09:29:30"
do = "signout.settle"
item = "visit:{visit.seq}"
reason = "nobody heard the call"
"""
    closing = settled + CLOSING[CLOSING.rindex("[[entry]]") :]
    path = exported(told(head() + TOLD + closing), tmp_path)
    assert dcmread(path).CompletionFlag == "PARTIAL"
    assert list(check_log(path)) == []


def test_a_correction_after_the_seal_is_a_new_instance_that_names_the_old_one(tmp_path: Path) -> None:
    sealed = told(head() + TOLD + CLOSING)
    corrected = told(head() + TOLD + CLOSING + AFTERWARDS)
    before = dcmread(exported(sealed, tmp_path / "a"))
    after = dcmread(exported(corrected, tmp_path / "b"))
    assert before.CompletionFlag == after.CompletionFlag == "COMPLETE"
    assert "PredecessorDocumentsSequence" not in before
    named_there = after.PredecessorDocumentsSequence[0].ReferencedSeriesSequence[0].ReferencedSOPSequence[0]
    assert named_there.ReferencedSOPInstanceUID == before.SOPInstanceUID != after.SOPInstanceUID
    assert complaints(tmp_path / "b" / "K7Q2-M4.dcm")["dsrdump"] == []


CLOSING = """
[[entry]]
at = "09:29:00"
do = "stage.close"
[[entry]]
at = "09:30:00"
do = "case.seal"
"""
AFTERWARDS = """
[[entry]]
at = "09:40:00"
do = "event.amend"
target = 8
field = "amount"
value = "6000"
reason = "misread"
"""


def test_study_and_patient_ids_come_from_outside_and_the_name_never_does(tmp_path: Path) -> None:
    case = everything()
    known = {case[0].key: Identifiers(patient_id="H-1", accession="A-7", study_uid="1.2.3.4")}
    data = dcmread(exported(case, tmp_path, identifiers=known))
    assert (data.PatientID, data.AccessionNumber, data.StudyInstanceUID) == ("H-1", "A-7", "1.2.3.4")
    assert data.PatientName == ""
    assert data.PatientBirthDate == ""


def test_the_registry_profile_is_refused_because_it_has_no_times(tmp_path: Path) -> None:
    with pytest.raises(ExportError, match="shifted"):
        exported(everything(), tmp_path, "registry")


def test_a_shifted_log_says_that_its_times_were_changed(tmp_path: Path) -> None:
    data = dcmread(exported(everything(), tmp_path, "shifted"))
    assert data.LongitudinalTemporalInformationModified == "MODIFIED"
    assert data.PatientIdentityRemoved == "YES"
    assert data.PatientID.startswith("Q-")


def test_a_note_in_another_language_comes_back_intact(path: Path) -> None:
    notes = [i.TextValue for i in named(dcmread(path), "Nursing Note")]
    assert '=HYPERLINK("x") with a "quote" and ünïcode' in notes


def test_meanings_are_ascii_because_a_reader_garbles_the_rest(path: Path) -> None:
    def meanings(item: Dataset) -> list[str]:
        found = [
            c.CodeMeaning for k in ("ConceptNameCodeSequence", "ConceptCodeSequence") for c in item.get(k, [])
        ]
        return found + [m for inner in item.get("ContentSequence", []) for m in meanings(inner)]

    assert all(m.isascii() for m in meanings(dcmread(path)))


def test_every_code_of_the_table_is_in_the_dicom_dictionary_with_that_meaning() -> None:
    from pydicom.sr._concepts_dict import concepts

    dictionary: Any = concepts
    for name, concept in CONCEPTS.items():
        if concept.checked == "dicom":
            meanings = [
                meaning
                for codes in dictionary[concept.scheme].values()
                for code, (meaning, _) in codes.items()
                if code == concept.code
            ]
            assert concept.meaning in meanings, name


def test_a_late_entry_at_greenwich_passes_a_reader_that_refuses_plus_zero(tmp_path: Path) -> None:
    written = exported(everything(offset="+00:00"), tmp_path)
    data = dcmread(written)
    recorded = {below(i).get("DateTime of Recording of Log Entry") for i in entries(data)} - {None}
    assert {str(value) for value in recorded} == {"20310304092000.000000"}
    assert data.TimezoneOffsetFromUTC == "+0000"
    assert complaints(written)["dsrdump"] == []


def test_times_come_back_to_the_same_instants(tmp_path: Path) -> None:
    for offset in ("+05:30", "-03:30"):
        case = everything(offset=offset)
        data = dcmread(exported(case, tmp_path))
        assert data.TimezoneOffsetFromUTC == offset.replace(":", "")
        heparin = named(data, "Drug administered")[0]
        assert date_time(str(heparin.ObservationDateTime)) - read_rfc3339(
            f"2031-03-04T09:05:30.000{offset}"
        ) < timedelta(milliseconds=1)
