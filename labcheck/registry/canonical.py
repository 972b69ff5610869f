"""The lossless document of one case, written out."""

from __future__ import annotations

import json
from typing import Any

from labcheck import __version__
from labcheck.caselog.case import Case
from labcheck.registry.cells import escaped
from labcheck.registry.columns import Row
from labcheck.registry.document import FORMAT, REGISTRY_FORMAT, TABLES, VERSION
from labcheck.registry.errors import ExportError
from labcheck.registry.profiles import values
from labcheck.registry.stored import StoredCase
from labcheck.registry.tables import Tables
from labcheck.registry.times import rfc3339


def case_document(tables: Tables, stored: StoredCase) -> dict[str, Any]:
    """The document as plain JSON values, in the order of its schema."""
    case = tables.frame.case
    return {
        "format": FORMAT,
        "format_version": VERSION,
        "generator": {"name": "labcheck", "version": __version__},
        "profile": "hospital",
        "rehearsal": case.rehearsal,
        "case_key": case.key,
        "study_number": case.plan.study_number if case.plan is not None else None,
        "plan": case.plan.model_dump(mode="json") if case.plan is not None else None,
        "checklist": _checklist(case, stored),
        "head": {
            "entries": stored.head.seq,
            "sha256": stored.head.hash_hex,
            "short": stored.head.short,
        },
        "seal": _seal(case),
        "case": _plain(tables.rows["cases"][0]),
        "events": _events(tables, stored),
        "tables": {name: [_plain(row) for row in tables.rows[name]] for name in TABLES},
    }


def registry_document(tables: Tables) -> dict[str, Any]:
    """The document for a registry: no stored entries, and of the tables only what the profile lets out."""
    frame = tables.frame
    rows = {name: [values(row, frame.profile) for row in tables.rows[name]] for name in ("events", *TABLES)}
    return {
        "format": REGISTRY_FORMAT,
        "format_version": VERSION,
        "generator": {"name": "labcheck", "version": __version__},
        "profile": frame.profile,
        "rehearsal": frame.case.rehearsal,
        "case": values(tables.rows["cases"][0], frame.profile),
        "tables": rows,
    }


def document_bytes(document: dict[str, Any]) -> bytes:
    """The document as indented UTF-8, one newline at the end; the same document gives the same bytes."""
    text = json.dumps(document, ensure_ascii=False, allow_nan=False, indent=1)
    return (escaped(text) + "\n").encode("utf-8")


def document_line(document: dict[str, Any]) -> bytes:
    """The document on one line, for files that hold many."""
    text = json.dumps(document, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    return (escaped(text) + "\n").encode("utf-8")


def _plain(row: Row) -> dict[str, Any]:
    return values(row, "hospital")


def _checklist(case: Case, stored: StoredCase) -> dict[str, Any]:
    try:
        text = stored.checklist_text.decode("utf-8")
    except UnicodeDecodeError:
        raise ExportError(f"case {case.key}: its checklist is not UTF-8 text; run labcheck verify") from None
    checklist = case.checklist
    return {
        "id": checklist.id,
        "title": checklist.title,
        "revision": checklist.revision,
        "digest": case.checklist_digest,
        "text": text,
    }


def _seal(case: Case) -> dict[str, Any] | None:
    if case.seal is None:
        return None
    return {
        "seq": case.seal.seq,
        "sealed_at": rfc3339(case.seal.at),
        "entries": case.seal.entries,
        "signed_by": case.seal.signed_by,
    }


def _events(tables: Tables, stored: StoredCase) -> list[dict[str, Any]]:
    rows = tables.rows["events"]
    if len(rows) != len(stored.records):
        raise ExportError(
            f"case {tables.frame.case.key}: {len(rows)} entries were read but {len(stored.records)} are stored; "
            "run labcheck verify"
        )
    return [
        {**_plain(row), "sha256": record.hash.hex(), "stored": json.loads(record.body)}
        for row, record in zip(rows, stored.records, strict=True)
    ]
