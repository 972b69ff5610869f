"""Identifiers of the hospital's own systems, given at export time and never stored in the ledger.

They come from a small TOML file keyed by case::

    ["K7Q2-M4"]
    patient_id = "H-0012345"
    patient_id_issuer = "Ward system"
    accession = "A-7781"
    study_uid = "1.2.840.99999.1.2.3"

Only the hospital profile may use them.
"""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import Field

from labcheck.checklist.complaint import ChecklistError, shown
from labcheck.checklist.reading import fit
from labcheck.checklist.toml_text import parse_toml
from labcheck.checklist.words import Strict
from labcheck.registry.errors import ExportError

Uid = Annotated[str, Field(pattern=r"^[0-2](\.(0|[1-9][0-9]*))+$", max_length=64)]
"""A DICOM unique identifier (PS3.5, 9.1)."""
Short16 = Annotated[str, Field(pattern=r"^[^\\\x00-\x1f]{1,16}$")]
Long64 = Annotated[str, Field(pattern=r"^[^\\\x00-\x1f]{1,64}$")]


class Identifiers(Strict):
    """What other systems call the patient, the order and the study."""

    patient_id: Long64 | None = None
    patient_id_issuer: Long64 | None = None
    accession: Short16 | None = None
    study_id: Short16 | None = None
    study_uid: Uid | None = None


NO_IDENTIFIERS = Identifiers()


def read_identifiers(text: bytes, name: str) -> dict[str, Identifiers]:
    """Case key to identifiers. Raises ``ExportError`` with one line that names file, case and key."""
    try:
        tables: dict[str, Any] = parse_toml(text, name)
        return {key: fit(Identifiers, _table(table, key, name), name) for key, table in tables.items()}
    except ChecklistError as fault:
        raise ExportError(str(fault.complaints[0])) from None


def _table(table: Any, key: str, name: str) -> dict[str, Any]:
    if not isinstance(table, dict):
        raise ExportError(f'{name}: {shown(key)} must be a table headed by a case key, as in ["K7Q2-M4"]')
    return table
