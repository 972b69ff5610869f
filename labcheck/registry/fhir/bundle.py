"""The bundle: every resource once, each under its own URN."""

from __future__ import annotations

import json

from labcheck.registry.cells import escaped
from labcheck.registry.fhir import observations, procedures, provenance, records
from labcheck.registry.fhir.elements import RECORD, Json, Maker
from labcheck.registry.identifiers import Identifiers
from labcheck.registry.tables import Tables


def case_bundle(tables: Tables, identifiers: Identifiers, *, snomed: bool = False) -> Json:
    """A Bundle of type collection, as HL7's guide for registry submissions (CREDS 1.0.0, 2023) asks for."""
    maker = Maker(tables, identifiers, snomed=snomed)
    resources = [
        records.subject(maker),
        records.console(maker),
        *procedures.procedures(maker),
        *observations.observations(maker),
        *observations.administrations(maker),
        *records.devices(maker),
        *records.adverse_events(maker),
        *records.answers(maker),
        *provenance.provenances(maker),
    ]
    return {
        "resourceType": "Bundle",
        "id": maker.id("bundle"),
        "meta": resources[0]["meta"],
        "identifier": {"system": RECORD, "value": maker.case["case_id"]},
        "type": "collection",
        "entry": [{"fullUrl": f"urn:uuid:{resource['id']}", "resource": resource} for resource in resources],
    }


def bundle_bytes(bundle: Json) -> bytes:
    """The bundle as indented UTF-8."""
    text = json.dumps(bundle, ensure_ascii=False, allow_nan=False, indent=1)
    return (escaped(text) + "\n").encode("utf-8")
