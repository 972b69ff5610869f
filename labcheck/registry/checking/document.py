"""Checking the JSON document of a case: its form, its chain of digests, and that its columns say what is stored."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

from pydantic import ValidationError

from labcheck.caselog.events import Event
from labcheck.checklist.reading import digest
from labcheck.ledger import canonical, chain
from labcheck.registry.checking.finding import Finding
from labcheck.registry.columns import Profile
from labcheck.registry.document import CaseDocument
from labcheck.registry.profiles import model_under
from labcheck.registry.tables import ROWS
from labcheck.registry.times import rfc3339

Json = dict[str, Any]
MOST = 20
"""A document with more misfits than this is told the first ones."""


def check_document(document: Json) -> Iterator[Finding]:
    """Everything wrong with a lossless document."""
    misfits = list(_misfits(CaseDocument, document, ""))
    yield from misfits
    if misfits:
        return
    if digest(document["checklist"]["text"]) != document["checklist"]["digest"]:
        yield Finding("checklist", "its text does not give its digest")
    yield from _chain(document)


def check_registry_document(document: Json) -> Iterator[Finding]:
    """Everything wrong with a registry's document: a column that is not allowed there is a fault."""
    profile: Profile = document["profile"]
    tables = document.get("tables")
    if not isinstance(tables, dict):
        yield Finding("tables", "are missing")
        return
    yield from _misfits(model_under(ROWS["cases"], profile), document.get("case"), "case")
    for name, row in ROWS.items():
        if name == "cases":
            continue
        rows = tables.get(name)
        if not isinstance(rows, list):
            yield Finding(f"tables.{name}", "is missing")
            continue
        for number, line in enumerate(rows, 1):
            yield from _misfits(model_under(row, profile), line, f"tables.{name} row {number}")


def _misfits(model: Any, value: Any, where: str) -> Iterator[Finding]:
    try:
        model.model_validate_json(json.dumps(value))
    except ValidationError as fault:
        for error in fault.errors(include_url=False, include_input=False)[:MOST]:
            place = ".".join(str(part) for part in (where, *error["loc"]) if part != "")
            yield Finding(place, error["msg"])


def _chain(document: Json) -> Iterator[Finding]:
    prev = chain.FIRST_PREV
    for number, entry in enumerate(document["events"], 1):
        where = f"entry {number}"
        if entry["seq"] != number or entry["stored"]["seq"] != number:
            yield Finding(where, "is out of order")
        if entry["stored"]["prev"] != prev.hex():
            yield Finding(where, "does not name the digest of the entry before it")
        prev = chain.digest(canonical.encode(entry["stored"]))
        if entry["sha256"] != prev.hex():
            yield Finding(where, "its digest is not that of what is stored")
        yield from _columns(entry, where)
    head = document["head"]
    if head["sha256"] != prev.hex() or head["entries"] != len(document["events"]):
        yield Finding("head", "is not the digest and number of the last entry")


def _columns(entry: Json, where: str) -> Iterator[Finding]:
    event = Event.model_validate_json(json.dumps({k: v for k, v in entry["stored"].items() if k != "prev"}))
    told = (entry["kind"], entry["occurred_at"], entry["recorded_at"], entry["recorder"], entry["mode"])
    if told != (event.kind, rfc3339(event.happened), rfc3339(event.entered), event.recorder, event.mode):
        yield Finding(where, "its columns do not say what is stored")
