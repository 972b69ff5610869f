"""The whole instance: the modules around the content, and the file."""

from __future__ import annotations

import io
import uuid
from collections import Counter
from collections.abc import Sequence
from datetime import datetime

from pydicom.dataset import Dataset, FileDataset, FileMetaDataset
from pydicom.sequence import Sequence as Items
from pydicom.uid import UID, ExplicitVRLittleEndian

from labcheck import __version__
from labcheck.registry.concepts import CONCEPTS, LOCAL, local
from labcheck.registry.dicom import items
from labcheck.registry.dicom.entries import entries
from labcheck.registry.dicom.source import Entry, Row, Source, observers, source
from labcheck.registry.identifiers import Identifiers
from labcheck.registry.tables import Tables
from labcheck.registry.times import read_rfc3339

PROCEDURE_LOG = UID("1.2.840.10008.5.1.4.1.1.88.40")
NAMESPACE = uuid.UUID("6f0d3a52-3a55-5f5b-8a3e-2f8c2f9f2c11")
"""Our own namespace: the same state of the same case has the same unique identifier in every export."""


def uid(*names: object) -> UID:
    """A unique identifier made from names (UUID-derived, PS3.5 B.2)."""
    return UID(f"2.25.{uuid.uuid5(NAMESPACE, '/'.join(map(str, names))).int}")


def case_instance(tables: Tables, identifiers: Identifiers) -> bytes:
    """The procedure log as a DICOM file. The profile must carry clock times."""
    src = source(tables)
    case = src.rows["cases"][0]
    last = read_rfc3339(src.rows["events"][-1]["recorded_at"])
    opened = read_rfc3339(case["opened_at"])
    data = Dataset()
    data.SpecificCharacterSet = "ISO_IR 192"
    data.SOPClassUID = PROCEDURE_LOG
    data.SOPInstanceUID = uid(case["case_id"], "state", len(src.rows["events"]), case["profile"])
    data.TimezoneOffsetFromUTC = opened.strftime("%z")[:5]
    _patient(data, src, identifiers)
    _study_and_series(data, src, identifiers, opened)
    _equipment_and_clock(data, src)
    log = entries(src)
    _document(data, src, last, complete=case["sealed"] and not _unended(log))
    if case["profile"] != "hospital":
        data.PatientIdentityRemoved = "YES"
        data.DeidentificationMethod = "labcheck shifted: keyed pseudonyms, weeks shifted, no free text"
        data.LongitudinalTemporalInformationModified = "MODIFIED"
    data.ContentSequence = Items([*_context(src), *(items.log_entry(entry, opened.tzinfo) for entry in log)])
    return _file(data)


def _unended(log: Sequence[Entry]) -> bool:
    """Whether something was begun whose end nobody recorded: a seal may leave it so, for a reason."""
    seen = Counter(entry.action for entry in log if entry.action is not None)
    return any(count == 1 for count in seen.values())


def _patient(data: Dataset, src: Source, identifiers: Identifiers) -> None:
    case = src.rows["cases"][0]
    data.PatientName = ""
    data.PatientID = identifiers.patient_id or case["subject_id"] or ""
    if identifiers.patient_id is not None and identifiers.patient_id_issuer is not None:
        data.IssuerOfPatientID = identifiers.patient_id_issuer
    data.PatientBirthDate = ""
    data.PatientSex = {"female": "F", "male": "M"}.get(case["sex"] or "", "")


def _study_and_series(data: Dataset, src: Source, identifiers: Identifiers, opened: datetime) -> None:
    case = src.rows["cases"][0]
    data.StudyInstanceUID = identifiers.study_uid or uid(case["case_id"], "study", case["profile"])
    data.StudyDate, data.StudyTime = opened.strftime("%Y%m%d"), opened.strftime("%H%M%S")
    data.ReferringPhysicianName = ""
    data.StudyID = identifiers.study_id or ""
    data.AccessionNumber = identifiers.accession or ""
    data.Modality = "SR"
    data.SeriesInstanceUID = uid(case["case_id"], "series", case["profile"])
    data.SeriesNumber = "1"
    what = "REHEARSAL, not a real case" if case["rehearsal"] else "Procedure log"
    data.SeriesDescription = f"{what}, {case['profile']} profile"
    data.ReferencedPerformedProcedureStepSequence = Items([])


def _equipment_and_clock(data: Dataset, src: Source) -> None:
    data.Manufacturer = "labcheck"
    data.ManufacturerModelName = "labcheck console"
    data.SoftwareVersions = __version__
    # Nothing here knows whether the console keeps UTC, so it does not claim to.
    data.SynchronizationFrameOfReferenceUID = uid(src.rows["cases"][0]["case_id"], "clock")
    data.SynchronizationTrigger = "NO TRIGGER"
    data.AcquisitionTimeSynchronized = "N"


def _document(data: Dataset, src: Source, last: datetime, *, complete: bool) -> None:
    data.InstanceNumber = "1"
    data.CompletionFlag = "COMPLETE" if complete else "PARTIAL"
    data.VerificationFlag = "UNVERIFIED"
    data.ContentDate, data.ContentTime = last.strftime("%Y%m%d"), last.strftime("%H%M%S")
    data.PerformedProcedureCodeSequence = Items([])
    _predecessor(data, src)
    scheme = Dataset()
    scheme.CodingSchemeDesignator = LOCAL
    scheme.CodingSchemeName = "labcheck local codes"
    scheme.CodingSchemeResponsibleOrganization = "labcheck"
    data.CodingSchemeIdentificationSequence = Items([scheme])
    data.ValueType = "CONTAINER"
    data.ConceptNameCodeSequence = Items([items.code(CONCEPTS["log.title"])])
    data.ContinuityOfContent = "SEPARATE"
    template = Dataset()
    template.MappingResource = "DCMR"
    template.TemplateIdentifier = "3001"
    data.ContentTemplateSequence = Items([template])


def _predecessor(data: Dataset, src: Source) -> None:
    """A log corrected after it was closed names the log as it was closed."""
    case, count = src.rows["cases"][0], len(src.rows["events"])
    seal = next((row["seq"] for row in src.rows["events"] if row["kind"] == "case.sealed"), None)
    if seal is None or seal == count:
        return
    instance = Dataset()
    instance.ReferencedSOPClassUID = PROCEDURE_LOG
    instance.ReferencedSOPInstanceUID = uid(case["case_id"], "state", seal, case["profile"])
    series = Dataset()
    series.SeriesInstanceUID = data.SeriesInstanceUID
    series.ReferencedSOPSequence = Items([instance])
    study = Dataset()
    study.StudyInstanceUID = data.StudyInstanceUID
    study.ReferencedSeriesSequence = Items([series])
    data.PredecessorDocumentsSequence = Items([study])


def _context(src: Source) -> list[Dataset]:
    """Who watched (TID 1002), with which checklist, and how far other clocks were off."""
    case = src.rows["cases"][0]
    found: list[Dataset] = []
    for tag in observers(src):
        found += [
            items.coded("HAS OBS CONTEXT", CONCEPTS["observer.type"], CONCEPTS["observer.person"]),
            items.content(
                "HAS OBS CONTEXT", "PNAME", CONCEPTS["observer.person_name"], PersonName=f"Recorder^{tag}"
            ),
            items.coded("HAS OBS CONTEXT", CONCEPTS["observer.role"], CONCEPTS["observer.recording"]),
        ]
    device = uid("console", case["case_id"])
    found += [
        items.coded("HAS OBS CONTEXT", CONCEPTS["observer.type"], CONCEPTS["observer.device"]),
        items.content("HAS OBS CONTEXT", "UIDREF", CONCEPTS["observer.device_uid"], UID=device),
        items.text("HAS OBS CONTEXT", CONCEPTS["observer.device_name"], "labcheck console"),
    ]
    checklist = f"{case['checklist_id']} {case['checklist_digest']}"
    found.append(
        items.text("HAS ACQ CONTEXT", local("checklist", "Checklist the case was run with"), checklist)
    )
    return [*found, *(_clock(row) for row in src.rows["clocks"])]


def _clock(row: Row) -> Dataset:
    """How far another clock was off, when that was found out, and how far it may be out."""
    title = f"Clock offset, {row['clock']} minus console"
    item = items.number("HAS ACQ CONTEXT", local(f"clock.{row['clock']}", title), row["clock_offset_s"], "s")
    item.ObservationDateTime = items.date_time(read_rfc3339(row["compared_at"]))
    unsure = local("clock.uncertainty", "Uncertainty, either way")
    item.ContentSequence = Items([items.number("HAS PROPERTIES", unsure, row["uncertainty_s"], "s")])
    return item


def _file(data: Dataset) -> bytes:
    meta = FileMetaDataset()
    meta.MediaStorageSOPClassUID = data.SOPClassUID
    meta.MediaStorageSOPInstanceUID = data.SOPInstanceUID
    meta.TransferSyntaxUID = ExplicitVRLittleEndian
    meta.ImplementationClassUID = uid("implementation", __version__)
    meta.ImplementationVersionName = f"LABCHECK_{__version__}"[:16]
    written = io.BytesIO()
    file = FileDataset(written, data, file_meta=meta, preamble=b"\x00" * 128)
    file.save_as(written, enforce_file_format=True)
    return written.getvalue()
