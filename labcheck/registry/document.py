"""The lossless document of one case. Its JSON Schema is made from these models and shipped with the program."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field, create_model

from labcheck.caselog.events import Event
from labcheck.checklist.plan import Plan
from labcheck.checklist.words import Strict
from labcheck.registry.columns import Profile, Time, schema_of
from labcheck.registry.profiles import model_under
from labcheck.registry.rows.endpoints import EndpointRow
from labcheck.registry.rows.log import EventRow
from labcheck.registry.rows.outcome import BailoutRow, CaseRow, DeviationRow, IntervalRow, TotalRow
from labcheck.registry.rows.stages import AttemptRow, BurstRow, VisitRow
from labcheck.registry.rows.values import ClockRow, DecisionRow, DoseRow, ReadingRow, RunRow, StepRow
from labcheck.registry.tables import ROWS

FORMAT = "labcheck-case"
REGISTRY_FORMAT = "labcheck-registry-case"
VERSION = 1
DIALECT = "https://json-schema.org/draft/2020-12/schema"
Sha256 = Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]


class Generator(Strict):
    """The program that wrote the document."""

    name: Literal["labcheck"]
    version: str


class DocumentChecklist(Strict):
    """The checklist the case was run with: its exact text, and the SHA-256 of that text as UTF-8."""

    id: str
    title: str
    revision: str
    digest: Sha256
    text: str


class DocumentHead(Strict):
    """The state of the log that this document holds. ``short`` is the form that is written on paper."""

    entries: int
    sha256: Sha256
    short: str


class DocumentSeal(Strict):
    """The closing entry."""

    seq: int
    sealed_at: Time
    entries: int
    signed_by: str


class StoredEvent(Event):
    """An entry exactly as stored. Its canonical bytes (RFC 8785) after ``labcheck-event-v1`` and a zero byte
    give ``sha256``; ``prev`` is the digest of the entry before it."""

    prev: Sha256


class DocumentEvent(EventRow):
    """One entry of the log: the flat columns, and the entry exactly as stored."""

    sha256: Sha256
    stored: StoredEvent


class DocumentTables(Strict):
    """What still counts after corrections, worked out from the log."""

    stages: tuple[VisitRow, ...]
    attempts: tuple[AttemptRow, ...]
    bursts: tuple[BurstRow, ...]
    runs: tuple[RunRow, ...]
    readings: tuple[ReadingRow, ...]
    doses: tuple[DoseRow, ...]
    steps: tuple[StepRow, ...]
    decisions: tuple[DecisionRow, ...]
    bailouts: tuple[BailoutRow, ...]
    intervals: tuple[IntervalRow, ...]
    totals: tuple[TotalRow, ...]
    endpoints: tuple[EndpointRow, ...]
    deviations: tuple[DeviationRow, ...]
    clocks: tuple[ClockRow, ...]


class CaseDocument(Strict):
    """One case, lossless: the ledger's entries can be rebuilt from it, with the same head."""

    format: Literal["labcheck-case"]
    format_version: Literal[1]
    generator: Generator
    profile: Literal["hospital"]
    rehearsal: Annotated[bool, Field(description="true: this is not a real case and must not be counted.")]
    case_key: Annotated[str, Field(pattern=r"^[A-Z0-9]{4}-[A-Z0-9]{2}$")]
    study_number: str | None
    plan: Plan | None
    checklist: DocumentChecklist
    head: DocumentHead
    seal: DocumentSeal | None
    case: CaseRow
    events: tuple[DocumentEvent, ...]
    tables: DocumentTables


def document_schema() -> dict[str, Any]:
    """JSON Schema 2020-12 of the document."""
    schema = schema_of(CaseDocument, title="labcheck case document, version 1")
    return {"$schema": DIALECT, "$id": "urn:labcheck:case:1", **schema}


def _heading(profile: Profile) -> dict[str, Any]:
    named: Any = Literal[profile]
    return {
        "format": (Literal["labcheck-registry-case"], ...),
        "format_version": (Literal[1], ...),
        "profile": (named, ...),
    }


def registry_schema(profile: Profile) -> dict[str, Any]:
    """JSON Schema 2020-12 of the document for a registry: nothing but these columns can be in it."""
    rows: dict[str, Any] = {
        name: (tuple[model_under(row, profile), ...], ...)  # type: ignore[misc]
        for name, row in ROWS.items()
        if name != "cases"
    }
    tables: type[Strict] = create_model("RegistryTables", __base__=Strict, **rows)
    document: type[Strict] = create_model(
        "RegistryDocument",
        __base__=Strict,
        **_heading(profile),
        generator=(Generator, ...),
        rehearsal=(bool, ...),
        case=(model_under(ROWS["cases"], profile), ...),
        tables=(tables, ...),
    )
    schema = schema_of(document, title=f"labcheck case for a registry, profile {profile}, version 1")
    return {"$schema": DIALECT, "$id": f"urn:labcheck:registry-case:{profile}:1", **schema}


TABLES: tuple[str, ...] = tuple(DocumentTables.model_fields)
