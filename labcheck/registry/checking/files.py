"""Which format a file is, and the check that goes with it."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from labcheck.checklist.complaint import shown
from labcheck.registry.checking.document import check_document, check_registry_document
from labcheck.registry.checking.fhir import check_bundle
from labcheck.registry.checking.finding import Finding
from labcheck.registry.checking.manifest import check_manifest
from labcheck.registry.checking.tables import check_package
from labcheck.registry.checking.xes import check_xes
from labcheck.registry.document import FORMAT, REGISTRY_FORMAT
from labcheck.registry.errors import ExportError

LARGEST = 256 * 1024 * 1024
DICOM_MARK = b"DICM"


def check_file(path: Path) -> tuple[str, list[Finding]]:
    """The format of a file (or of a data package's folder) and everything wrong with it.

    Raises ``ExportError`` if it cannot be read or is none of the formats.
    """
    if path.is_dir():
        path = path / "datapackage.json"
    try:
        with path.open("rb") as file:
            start = file.read(4096)
        if path.stat().st_size > LARGEST:
            raise ExportError(f"{path}: is larger than {LARGEST >> 20} MiB; check its parts one by one")
        return _check(path, start)
    except OSError as fault:
        raise ExportError(f"{path}: cannot be read: {fault.strerror}") from None


def _check(path: Path, start: bytes) -> tuple[str, list[Finding]]:
    if start[128:132] == DICOM_MARK:
        try:
            from labcheck.registry.checking.dicom import check_log
        except ImportError:
            raise ExportError("DICOM needs pydicom: pip install 'labcheck[dicom]'") from None
        return "dicom", list(check_log(path))
    if start.lstrip(b"\xef\xbb\xbf \t\r\n").startswith(b"<"):
        return "xes", list(check_xes(path))
    if path.name == "datapackage.json":
        return "csv", list(check_package(path))
    if path.suffix == ".jsonl":
        return "jsonl", list(_lines(path))
    if path.name.startswith("manifest-"):
        return "manifest", list(check_manifest(path, _object(path.read_bytes(), str(path))))
    return _json(path.read_bytes(), str(path))


def _lines(path: Path) -> Iterator[Finding]:
    with path.open("rb") as file:
        for number, line in enumerate(file, 1):
            try:
                _, found = _json(line, f"line {number}")
            except ExportError as fault:
                yield Finding("", str(fault))
                continue
            yield from (Finding(f"line {number}, {finding.where}", finding.text) for finding in found)


def _object(data: bytes, name: str) -> dict[str, Any]:
    try:
        value = json.loads(data)
    except (ValueError, RecursionError) as fault:
        raise ExportError(f"{name}: is not JSON: {shown(str(fault))}") from None
    return value if isinstance(value, dict) else {}


def _json(data: bytes, name: str) -> tuple[str, list[Finding]]:
    value = _object(data, name)
    if value.get("resourceType") == "Bundle":
        return "fhir", list(check_bundle(value))
    if value.get("format") == FORMAT:
        return "json", list(check_document(value))
    if value.get("format") == REGISTRY_FORMAT and value.get("profile") in ("registry", "shifted"):
        return "json", list(check_registry_document(value))
    raise ExportError(f"{name}: is none of the formats that are checked (json, jsonl, csv, fhir, xes, dicom)")
