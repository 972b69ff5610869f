"""One table of concepts for every format: what the log means, in codes that somebody else defined where there are any.

``checked`` says where a code was looked up: ``dicom`` (the DICOM dictionary of a public library, which a test
repeats), ``web`` (a public code page), ``guide`` (a published FHIR guide), ``local`` (no public code was found).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

Scheme = Literal["DCM", "SCT", "LN", "99LABCHECK"]
Checked = Literal["dicom", "web", "guide", "local"]
LOCAL: Scheme = "99LABCHECK"

SYSTEMS: Mapping[str, str] = {
    "DCM": "http://dicom.nema.org/resources/ontology/DCM",
    "SCT": "http://snomed.info/sct",
    "LN": "http://loinc.org",
    LOCAL: "urn:labcheck:code",
}
"""The same schemes as FHIR names them."""


@dataclass(frozen=True, slots=True)
class Concept:
    """A code, its scheme, its meaning there and where it was looked up. Meanings are ASCII: a reader garbles more."""

    code: str
    scheme: Scheme
    meaning: str
    checked: Checked


def _dcm(code: str, meaning: str) -> Concept:
    return Concept(code, "DCM", meaning, "dicom")


def _sct(code: str, meaning: str, checked: Checked = "dicom") -> Concept:
    return Concept(code, "SCT", meaning, checked)


CONCEPTS: Mapping[str, Concept] = {
    # the log
    "log.title": _dcm("121120", "Cath Lab Procedure Log"),
    "log.start": _dcm("121130", "Start Procedure Action"),
    "log.end": _dcm("121131", "End Procedure Action"),
    "log.action_id": _dcm("121124", "Procedure Action Item ID"),
    "log.duration": _dcm("121128", "Procedure Action Duration"),
    "log.recorded": _dcm("121125", "DateTime of Recording of Log Entry"),
    "log.time_qualifier": _dcm("121135", "Observation DateTime Qualifier"),
    "log.unsynchronized": _dcm("121136", "DateTime Unsynchronized"),
    "log.estimated": _dcm("121137", "DateTime Estimated"),
    "log.comment": _dcm("121106", "Comment"),
    "log.nursing_note": _dcm("121172", "Nursing Note"),
    "log.procedure_note": _dcm("121174", "Procedure Note"),
    "log.patient_status": _dcm("121123", "Patient Status or Event"),
    "log.equipment_failure": _dcm("110501", "Equipment failure"),
    "log.complication": _sct("116224001", "Complication of Procedure"),
    "log.drug": _dcm("122083", "Drug administered"),
    "log.volume": _dcm("122091", "Volume administered"),
    "log.quantity": _dcm("121382", "Quantity administered"),
    "log.mass": _dcm("121383", "Mass administered"),
    # who watched
    "observer.type": _dcm("121005", "Observer Type"),
    "observer.person": _dcm("121006", "Person"),
    "observer.device": _dcm("121007", "Device"),
    "observer.person_name": _dcm("121008", "Person Observer Name"),
    "observer.role": _dcm("121011", "Person Observer's Role in this Procedure"),
    "observer.recording": _dcm("121097", "Recording"),
    "observer.device_uid": _dcm("121012", "Device Observer UID"),
    "observer.device_name": _dcm("121013", "Device Observer Name"),
    # phases a stage can belong to (DICOM CID 3250, 3405)
    "phase.before": _sct("128958005", "Cardiac catheterization pre-intervention phase"),
    "phase.intervention": _sct("128957000", "Cardiac catheterization intervention phase"),
    "phase.after": _sct("128960007", "Cardiac catheterization post-intervention phase"),
    "phase.bailout": _sct("128961006", "Cardiac catheterization bailout phase"),
    # the procedure and the body
    "procedure.valve": _sct(
        "441873006", "Percutaneous replacement of aortic valve using fluoroscopic guidance", "guide"
    ),
    "body.aortic_valve": _sct("34202007", "Aortic Valve"),
    "body.leaflet": _sct("6530003", "Cardiac Valve Leaflet"),
    # readings
    "reading.act": Concept(
        "3184-9", "LN", "Activated clotting time (ACT) of Blood by Coagulation assay", "web"
    ),
    "reading.fluoroscopy": _dcm("113730", "Total Fluoro Time"),
    "reading.air_kerma": _dcm("113725", "Dose (RP) Total"),
    "reading.kap": _dcm("113722", "Dose Area Product Total"),
    # drugs and devices
    "drug.heparin": _sct("84812008", "Heparin"),
    "drug.protamine": _sct("3361000", "Anti-heparin agent"),
    "device.crossing_wire": _sct("272224001", "Guide Wire"),
    "device.coronary_wire": _sct("272224001", "Guide Wire"),
    "device.guide_left": _sct("102317008", "Guiding catheter"),
    "device.guide_deep_left": _sct("102317008", "Guiding catheter"),
    "device.guide_right": _sct("102317008", "Guiding catheter"),
    "device.guide_straight": _sct("102317008", "Guiding catheter"),
    "device.sheath": _sct("371793003", "Sheath"),
    "device.coronary_stent": _sct("65818007", "Stent"),
    # what a rescue means (by the checklist's word for endpoints; DICOM CID 3413 where it has one)
    "endpoint.neurological": _sct("230690007", "Cerebrovascular Accident or Stroke"),
    "endpoint.conduction": _sct("44808001", "Arrhythmia"),
}
"""Every concept with a code that somebody else defined. Whatever is not here is ours: see ``concept``."""


def concept(kind: str, name: str, words: str = "") -> Concept:
    """The concept of something a checklist names, by kind and id (``reading``, ``act``).

    Without a public code it is a local one: the id is its code, ``words`` its meaning.
    """
    found = CONCEPTS.get(f"{kind}.{name}")
    return found if found is not None else local(f"{kind}.{name}", words or name)


def local(code: str, meaning: str) -> Concept:
    """A concept of our own. Meanings are cut to ASCII: readers of nested items garble the rest."""
    plain = meaning.encode("ascii", "replace").decode("ascii")
    return Concept(code, LOCAL, plain[:64], "local")


PHASES: Mapping[str, str] = {
    "briefing": "phase.before",
    "access": "phase.before",
    "protection": "phase.before",
    "coronary": "phase.after",
    "closure": "phase.after",
    "signout": "phase.after",
}
"""The phase of each shipped stage that is not part of the intervention itself."""


def phase_name(stage: str) -> str:
    """The name of the catheterisation phase a stage belongs to; the intervention where nothing else is known."""
    return "phase.bailout" if stage.startswith("bailout") else PHASES.get(stage, "phase.intervention")


def phase(stage: str) -> Concept:
    """The catheterisation phase a stage belongs to."""
    return CONCEPTS[phase_name(stage)]
