"""Seventeen ways to spoil a bundle, one fault each, and which reader notices.

The faults are those that were tried on public readers before this project chose its gates.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

Bundle = dict[str, Any]
URN = "urn:uuid:00000000-0000-5000-8000-000000000000"


def first(bundle: Bundle, type_: str, having: str = "resourceType") -> dict[str, Any]:
    """The first resource of a type that has this element."""
    found = (entry["resource"] for entry in bundle["entry"])
    return next(r for r in found if r["resourceType"] == type_ and having in r)


def _drop(type_: str, name: str) -> Callable[[Bundle], None]:
    return lambda bundle: first(bundle, type_, name).__delitem__(name)


def _put(type_: str, name: str, value: Any, having: str = "resourceType") -> Callable[[Bundle], None]:
    return lambda bundle: first(bundle, type_, having).__setitem__(name, value)


def _subject_as_list(bundle: Bundle) -> None:
    found = first(bundle, "Procedure")
    found["subject"] = [found["subject"]]


def _end_before_start(bundle: Bundle) -> None:
    period = first(bundle, "Procedure", "partOf")["performedPeriod"]
    period["start"], period["end"] = period["end"], period["start"]


def _two_choices(bundle: Bundle) -> None:
    found = first(bundle, "Observation", "valueQuantity")
    found["valueString"] = "274"


def _wrong_target(bundle: Bundle) -> None:
    device = first(bundle, "Device")
    first(bundle, "Procedure")["subject"] = {"reference": f"Device/{device['id']}"}


def _unknown_code(bundle: Bundle) -> None:
    for entry in bundle["entry"]:
        for coding in entry["resource"].get("code", {}).get("coding", []) if "resource" in entry else []:
            if coding["system"] == "http://loinc.org":
                coding["code"] = "99999-9"
                return
    raise AssertionError("no LOINC code in the bundle")


def _number_as_text(bundle: Bundle) -> None:
    first(bundle, "Observation", "valueQuantity")["valueQuantity"]["value"] = "274"


def _empty_extension(bundle: Bundle) -> None:
    first(bundle, "Procedure", "partOf")["extension"] = [{"url": "urn:labcheck:fhir:sequence"}]


MUTATIONS: dict[str, tuple[Callable[[Bundle], None], set[str]]] = {
    "1 subject missing": (_drop("Procedure", "subject"), {"resources", "fhir", "schema"}),
    "2 status missing": (_drop("Observation", "status"), {"resources", "fhir"}),
    "3 code outside a required set": (_put("Procedure", "status", "done"), {"fhir"}),
    "4 subject given as a list": (_subject_as_list, {"resources", "fhir"}),
    "5 agent empty": (_put("Provenance", "agent", []), {"fhir"}),
    "6 unknown element": (_put("Procedure", "performedBy", "x"), {"resources", "fhir", "schema"}),
    "7 time without offset": (
        _put("Observation", "effectiveDateTime", "2031-03-04T09:14:05.000", "effectiveDateTime"),
        {"resources", "schema", "own"},
    ),
    "8 instant without offset": (
        _put("Observation", "issued", "2031-03-04T09:14:05.000", "issued"),
        {"resources", "schema", "own"},
    ),
    "9 end before start": (_end_before_start, {"invariants", "own"}),
    "10 two choices at once": (_two_choices, {"resources"}),
    "11 reference to a wrong type": (_wrong_target, {"fhir"}),
    "12 reference to nothing": (_put("Procedure", "subject", {"reference": URN}), {"own"}),
    "13 code that does not exist": (_unknown_code, {"own"}),
    "14 day that does not exist": (
        _put("Observation", "effectiveDateTime", "2031-02-30T09:14:05.000+01:00", "effectiveDateTime"),
        {"resources", "own"},
    ),
    "15 number as text": (_number_as_text, {"fhir", "schema"}),
    "16 extension without value": (_empty_extension, {"invariants", "own"}),
    "17 actuality that is none": (_put("AdverseEvent", "actuality", "maybe"), {"fhir", "schema"}),
}
"""Mutation, and the gates that notice it (``own`` is our checker)."""
