"""The codes of other people, and the units as other systems write them."""

from __future__ import annotations

from labcheck.registry.concepts import CONCEPTS
from labcheck.registry.measures import UCUM

CODES = """## Codes

FHIR and DICOM files carry codes that somebody else defined where one was found and looked up: those below. The local
scheme (`99LABCHECK` in DICOM, `urn:labcheck:code` in FHIR) has a code for everything, as kind and checklist id, as in
`reading.systolic`, with its words beside it. In FHIR the local code stands first and a public one beside it; in DICOM
a concept with a public code has that alone. No public code was found for a coronary cusp, leaflet laceration or
traversal, a cerebral protection device, coronary obstruction as such, or a coronary flow check.

SNOMED CT codes (SCT) are in DICOM files because the standard itself uses them, and in FHIR files only when asked for
(`--snomed`): in some countries their use needs a licence. How FHIR, XES and DICOM files are read is in
`other-formats.md`.
"""

LOOKED_UP = {
    "dicom": "DICOM dictionary",
    "web": "public code page; verify before use",
    "guide": "published FHIR guide",
    "local": "none found",
}

UNITS = """## Units

The tables have a unit as it was entered; FHIR and DICOM files code it in UCUM (from memory, verify). Spelt
differently there are:
"""


def codes() -> str:
    """The table of concepts."""
    lines = [
        CODES,
        "| concept | code | scheme | meaning there | looked up in |",
        "|---|---|---|---|---|",
        *(
            f"| `{name}` | {one.code} | {one.scheme} | {one.meaning} | {LOOKED_UP[one.checked]} |"
            for name, one in CONCEPTS.items()
        ),
        "",
    ]
    return "\n".join(lines)


def units() -> str:
    """Every unit and its UCUM code."""
    same = ", ".join(f"`{unit}`" for unit, code in UCUM.items() if unit == code)
    lines = [
        UNITS,
        "| unit in the tables | UCUM code |",
        "|---|---|",
        *(f"| `{unit}` | `{code}` |" for unit, code in UCUM.items() if unit != code),
        "",
        f"The same in both: {same}. Any other unit has no code: it stands as text alone.",
        "",
    ]
    return "\n".join(lines)
