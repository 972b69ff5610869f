"""Checking a FHIR R4 bundle: times, references, codes, extensions, and that times are there at all."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

from labcheck.registry.checking.finding import Finding, instant
from labcheck.registry.concepts import CONCEPTS, SYSTEMS

Json = dict[str, Any]

TIMED = {
    "Procedure": ("performedDateTime", "performedPeriod"),
    "Observation": ("effectiveDateTime", "effectivePeriod"),
    "MedicationAdministration": ("effectiveDateTime", "effectivePeriod"),
    "AdverseEvent": ("date",),
    "Provenance": ("recorded",),
}
"""Where the time of each kind of resource stands; a log without times is no log."""

UNTIMED = {"not-done", "unknown", "entered-in-error"}
DATE_TIMES = re.compile(
    r"(performed|effective|occurred)DateTime|valueDateTime|date|recordedDate|start|end|authored|time"
)
INSTANTS = ("issued", "recorded", "timestamp", "lastUpdated")
_PARTIAL = re.compile(r"\d{4}(-(0[1-9]|1[0-2])(-(0[1-9]|[12]\d|3[01]))?)?")
VERIFIED = {(SYSTEMS[c.scheme], c.code) for c in CONCEPTS.values()}
FOREIGN = {SYSTEMS[scheme] for scheme in ("DCM", "SCT", "LN")}


def check_bundle(bundle: Json) -> Iterator[Finding]:
    """Everything wrong with a bundle."""
    entries = bundle.get("entry")
    if bundle.get("type") != "collection":
        yield Finding("Bundle.type", "must be collection")
    if not isinstance(entries, list) or not entries:
        yield Finding("Bundle.entry", "holds nothing")
        return
    urls = [entry.get("fullUrl") for entry in entries if isinstance(entry, dict)]
    for url in {u for u in urls if urls.count(u) > 1}:
        yield Finding("Bundle.entry", f"{url} stands there twice")
    known = set(urls)
    for number, entry in enumerate(entries):
        resource = entry.get("resource") if isinstance(entry, dict) else None
        if not isinstance(resource, dict):
            yield Finding(f"Bundle.entry[{number}]", "holds no resource")
            continue
        where = f"Bundle.entry[{number}].{resource.get('resourceType')}"
        yield from _presence(resource, where)
        yield from _walk(resource, where, known)


def _presence(resource: Json, where: str) -> Iterator[Finding]:
    wanted = TIMED.get(str(resource.get("resourceType")), ())
    if not wanted or resource.get("status") in UNTIMED:
        return
    if not any(name in resource or f"_{name}" in resource for name in wanted):
        yield Finding(where, f"has no time ({' or '.join(wanted)})")


def _walk(value: Any, where: str, known: set[Any]) -> Iterator[Finding]:
    if isinstance(value, list):
        for number, item in enumerate(value):
            yield from _walk(item, f"{where}[{number}]", known)
        return
    if not isinstance(value, dict):
        return
    yield from _reference(value, where, known)
    yield from _code(value, where)
    yield from _period(value, where)
    for name, inner in value.items():
        yield from _time(name, inner, f"{where}.{name}")
        if name in ("extension", "modifierExtension") and isinstance(inner, list):
            for number, extension in enumerate(inner):
                yield from _extension(extension, f"{where}.{name}[{number}]")
        yield from _walk(inner, f"{where}.{name}", known)


def _reference(value: Json, where: str, known: set[Any]) -> Iterator[Finding]:
    target = value.get("reference")
    if isinstance(target, str) and target.startswith("urn:uuid:") and target not in known:
        yield Finding(where, f"points to {target}, which is not in the bundle")


def _code(value: Json, where: str) -> Iterator[Finding]:
    system, code = value.get("system"), value.get("code")
    if system in FOREIGN and (system, code) not in VERIFIED:
        yield Finding(where, f"code {code} of {system} is not in the table of verified codes")


def _period(value: Json, where: str) -> Iterator[Finding]:
    start, end = value.get("start"), value.get("end")
    if not (isinstance(start, str) and isinstance(end, str) and "T" in start and "T" in end):
        return
    try:
        if instant(end) < instant(start):
            yield Finding(where, f"ends ({end}) before it starts ({start})")
    except ValueError:
        return


def _time(name: str, value: Any, where: str) -> Iterator[Finding]:
    if name in INSTANTS or (DATE_TIMES.fullmatch(name) and isinstance(value, str)):
        if name not in INSTANTS and isinstance(value, str) and _PARTIAL.fullmatch(value):
            return
        try:
            instant(value)
        except ValueError as fault:
            yield Finding(where, str(fault))


def _extension(value: Any, where: str) -> Iterator[Finding]:
    if not isinstance(value, dict) or not isinstance(value.get("url"), str):
        yield Finding(where, "has no url")
        return
    given = [name for name in value if name.startswith("value")]
    if bool(given) == ("extension" in value) or len(given) > 1:
        yield Finding(where, f"{value['url']} must have one value, or extensions, and not both")
