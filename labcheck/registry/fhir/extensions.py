"""Our own FHIR extensions, each defined once: the writer names them, ``exports/`` ships their definitions."""

from __future__ import annotations

from dataclasses import dataclass

from labcheck.registry.fhir.elements import EXTENSION, Json


@dataclass(frozen=True, slots=True)
class Extension:
    """One extension: its name, the type of its value, where it stands and what it says."""

    name: str
    type: str
    on: tuple[str, ...]
    says: str


EXTENSIONS = (
    Extension(
        "sequence",
        "positiveInt",
        ("Procedure", "Observation", "MedicationAdministration", "Device", "AdverseEvent", "Provenance",
         "QuestionnaireResponse.item"),
        "Place of the entry in the log of the case. This, not time, is the order of entry.",
    ),
    Extension(
        "seconds-since-access",
        "decimal",
        ("dateTime", "instant"),
        "Seconds since the access stage was opened, measured with a steady clock where one was running.",
    ),
    Extension(
        "time-quality",
        "code",
        ("dateTime", "instant"),
        "estimated: a person said when it was. unsynchronized: not from the console's clock at all (paper).",
    ),
    Extension(
        "entered-after",
        "decimal",
        ("dateTime", "instant"),
        "Seconds between what happened and its entry, by the wall clock, of an entry that was made after the fact.",
    ),
    Extension(
        "measured-duration",
        "Duration",
        ("Period",),
        "How long it lasted, by a steady clock where both ends lie in one run of the machine; a clock that was "
        "set in between does not change it.",
    ),
    Extension(
        "end-by-set-clock",
        "dateTime",
        ("Period",),
        "The end as the clock told it, where that stands before the start (the clock was set, or the time was "
        "estimated) and so cannot be the end of a Period.",
    ),
    Extension(
        "clock-offset",
        "Quantity",
        ("Procedure",),
        "What another clock (the imaging clock) showed minus what the console showed, at the last comparison. "
        "Times are never shifted by it; every comparison is an Observation on the console.",
    ),
    Extension("checklist", "string", ("Procedure",), "Id and digest of the checklist the case was run with."),
    Extension("attempt-number", "positiveInt", ("Procedure",), "Number of the try on this leaflet in this stage."),
)  # fmt: skip


def definition(extension: Extension) -> Json:
    """The StructureDefinition of one extension (FHIR R4)."""
    url = EXTENSION + extension.name
    return {
        "resourceType": "StructureDefinition",
        "id": f"labcheck-{extension.name}",
        "url": url,
        "name": "Labcheck" + "".join(part.capitalize() for part in extension.name.split("-")),
        "status": "active",
        "description": extension.says,
        "fhirVersion": "4.0.1",
        "kind": "complex-type",
        "abstract": False,
        "context": [{"type": "element", "expression": where} for where in extension.on],
        "type": "Extension",
        "baseDefinition": "http://hl7.org/fhir/StructureDefinition/Extension",
        "derivation": "constraint",
        "differential": {
            "element": [
                {
                    "id": "Extension",
                    "path": "Extension",
                    "short": extension.name,
                    "definition": extension.says,
                },
                {"id": "Extension.extension", "path": "Extension.extension", "max": "0"},
                {"id": "Extension.url", "path": "Extension.url", "fixedUri": url},
                {
                    "id": "Extension.value[x]",
                    "path": "Extension.value[x]",
                    "min": 1,
                    "type": [{"code": extension.type}],
                },
            ]
        },
    }
