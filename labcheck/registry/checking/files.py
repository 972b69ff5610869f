"""Which format a file is, and the check that goes with it."""

from __future__ import annotations

import json
import stat
from collections.abc import Iterable, Iterator
from itertools import islice
from pathlib import Path
from typing import Any

from labcheck.checklist.complaint import shown
from labcheck.registry.checking.document import check_document, check_registry_document
from labcheck.registry.checking.fhir import check_bundle
from labcheck.registry.checking.finding import Finding
from labcheck.registry.checking.lone import check_lone
from labcheck.registry.checking.manifest import check_manifest
from labcheck.registry.checking.tables import DESCRIPTOR, check_package
from labcheck.registry.checking.xes import check_xes
from labcheck.registry.checking.zipped import check_zip
from labcheck.registry.document import FORMAT, REGISTRY_FORMAT
from labcheck.registry.errors import ExportError

LARGEST = 256 * 1024 * 1024
MOST = 200
"""Faults told of one file; a file with more has one cause."""
DICOM_MARK, ZIP_MARK, GZIP_MARK = b"DICM", b"PK\x03\x04", b"\x1f\x8b"
LINES = (".jsonl", ".ndjson")
NONE_OF_THEM = "is none of the formats that are checked (json, jsonl, csv, fhir, xes, dicom, a data package)"


def check_file(path: Path) -> tuple[str, list[Finding]]:
    """The format of a file (or of a data package's folder) and what is wrong with it, ``MOST`` faults at most.

    Raises ``ExportError`` if it cannot be read or is none of the formats.
    """
    try:
        path = _placed(path)
        with path.open("rb") as file:
            start = file.read(4096)
        name, findings = _check(path, start)
        return name, _first(findings)
    except OSError as fault:
        raise ExportError(f"{path}: cannot be read: {fault.strerror}") from None


def _placed(path: Path) -> Path:
    """The file to look at. Raises ``ExportError`` where there is nothing to read, or nothing that ends."""
    found = path.stat()
    if stat.S_ISDIR(found.st_mode):
        if not (path / DESCRIPTOR).is_file():
            raise ExportError(f"{path}: is a folder without a {DESCRIPTOR}; name the files in it one by one")
        return path / DESCRIPTOR
    if not stat.S_ISREG(found.st_mode):
        raise ExportError(f"{path}: is not a file")
    if found.st_size == 0:
        raise ExportError(
            f"{path}: is empty: nothing was written, or it was not copied whole; export it again"
        )
    if found.st_size > LARGEST and path.suffix not in (".csv", *LINES):
        raise ExportError(f"{path}: is larger than {LARGEST >> 20} MiB; check its parts one by one")
    return path


def _first(findings: Iterable[Finding]) -> list[Finding]:
    told = list(islice(findings, MOST + 1))
    return [*told[:MOST], Finding("", f"has more faults than these {MOST}")] if len(told) > MOST else told


def _check(path: Path, start: bytes) -> tuple[str, Iterable[Finding]]:
    text = start.removeprefix(b"\xef\xbb\xbf").lstrip(b" \t\r\n")
    if start[128:132] == DICOM_MARK:
        return "dicom", _dicom(path)
    if start.startswith(ZIP_MARK):
        return "csv, packed", check_zip(path, LARGEST, check_package)
    if start.startswith(GZIP_MARK):
        raise ExportError(f"{path}: is compressed (gzip); unpack it and check what is in it")
    if start.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise ExportError(f"{path}: is UTF-16 text; save it as UTF-8 and check it again")
    if text.startswith(b"<"):
        return "xes", check_xes(path)
    if path.suffix in LINES:
        return "jsonl", _lines(path)
    if path.name == DESCRIPTOR:
        return "csv", check_package(path)
    if text.startswith(b"{"):
        return _json(path)
    if path.suffix == ".csv" and b"\x00" not in start:
        return check_lone(path)
    raise ExportError(f"{path}: {NONE_OF_THEM}")


def _dicom(path: Path) -> Iterator[Finding]:
    try:
        from labcheck.registry.checking.dicom import check_log
    except ImportError:
        raise ExportError("DICOM needs pydicom: pip install 'labcheck[dicom]'") from None
    return check_log(path)


def _lines(path: Path) -> Iterator[Finding]:
    with path.open("rb") as file:
        number = 0
        while line := file.readline(LARGEST):
            number += 1
            value = _object(line)
            if isinstance(value, Finding):
                yield Finding(f"line {number}", value.text)
                continue
            checked = _by_content(value, path)
            if checked is None or checked[0] == "csv":
                yield Finding(f"line {number}", NONE_OF_THEM)
                continue
            for finding in checked[1]:
                yield Finding(f"line {number}, {finding.where}".removesuffix(", "), finding.text)


def _object(data: bytes) -> dict[str, Any] | Finding:
    """The JSON object, or what keeps it from being one and where."""
    try:
        value = json.loads(data.removeprefix(b"\xef\xbb\xbf"))
    except json.JSONDecodeError as fault:
        where = f"line {fault.lineno}, column {fault.colno}"
        return Finding(where, f"is not JSON: {fault.msg}; {_advice(fault)}")
    except (ValueError, RecursionError) as fault:
        return Finding("", f"is not JSON ({shown(str(fault))}); export it again")
    return value if isinstance(value, dict) else Finding("", "is JSON, but no object")


def _advice(fault: json.JSONDecodeError) -> str:
    if fault.msg == "Extra data":
        return "if every line holds a document of its own, name it .jsonl"
    cut = fault.pos >= len(fault.doc.rstrip()) - 1 or fault.msg.startswith("Unterminated")
    return "it is cut off; export or copy it again" if cut else "export it again"


def _json(path: Path) -> tuple[str, Iterable[Finding]]:
    value = _object(path.read_bytes())
    if isinstance(value, Finding):
        return "json", [value]
    checked = _by_content(value, path)
    if checked is None:
        kind = value.get("resourceType") or value.get("format")
        said = f"holds {shown(str(kind))}, which" if isinstance(kind, str) else "is JSON, but"
        raise ExportError(f"{path}: {said} {NONE_OF_THEM}")
    return checked


def _by_content(value: dict[str, Any], path: Path) -> tuple[str, Iterable[Finding]] | None:
    """The check for what a JSON object says it is; None where it says nothing known here."""
    if value.get("resourceType") == "Bundle":
        return "fhir", check_bundle(value)
    if value.get("format") == FORMAT:
        return "json", check_document(value)
    if value.get("format") == REGISTRY_FORMAT and value.get("profile") in ("registry", "shifted"):
        return "json", check_registry_document(value)
    if value.get("format") == "labcheck-manifest":
        return "manifest", check_manifest(path, value)
    if isinstance(value.get("resources"), list):
        return "csv", check_package(path)
    return None
