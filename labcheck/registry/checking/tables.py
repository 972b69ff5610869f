"""Checking a CSV data package: what its own schema cannot say, and what readers of it let pass."""

from __future__ import annotations

import csv
import hashlib
import json
import math
import re
from collections import Counter
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

from labcheck.registry.checking.finding import Finding, instant

Json = dict[str, Any]
SAFE_PATH = re.compile(r"[A-Za-z0-9_-]{1,64}\.csv")
csv.field_size_limit(1 << 20)


def check_package(descriptor: Path) -> Iterator[Finding]:
    """Everything wrong with the package that this descriptor describes."""
    try:
        package = json.loads(descriptor.read_bytes())
        resources = {resource["name"]: resource for resource in package["resources"]}
    except (ValueError, KeyError, TypeError, RecursionError) as fault:
        yield Finding(descriptor.name, f"is not a data package: {type(fault).__name__}: {fault}")
        return
    try:
        cases = {row.get("case_id") for row in _rows(descriptor.parent, resources.get("cases", {}))}
        for name, resource in resources.items():
            yield from _bytes(descriptor.parent, resource, name)
            yield from _table(descriptor.parent, resource, name, cases)
    except (csv.Error, KeyError, TypeError, AttributeError) as fault:
        yield Finding(descriptor.name, f"cannot be read to the end: {type(fault).__name__}: {fault}")


def _file(folder: Path, resource: Json) -> Path | None:
    path = str(resource.get("path", ""))
    return folder / path if SAFE_PATH.fullmatch(path) and (folder / path).is_file() else None


def _bytes(folder: Path, resource: Json, name: str) -> Iterator[Finding]:
    path = _file(folder, resource)
    if path is None:
        yield Finding(name, "its file is not there")
        return
    size = path.stat().st_size
    if "bytes" in resource and resource["bytes"] != size:
        yield Finding(path.name, f"is {size} bytes long, not {resource['bytes']}")
    with path.open("rb") as file:
        digest = f"sha256:{hashlib.file_digest(file, 'sha256').hexdigest()}"
    if "hash" in resource and resource["hash"] != digest:
        yield Finding(path.name, "is not the file that was exported: its SHA-256 differs")


def _rows(folder: Path, resource: Json) -> Iterator[dict[str, str]]:
    path = _file(folder, resource)
    if path is None:
        return
    with path.open(encoding="utf-8-sig", newline="", errors="replace") as file:
        yield from csv.DictReader(file)


def _table(folder: Path, resource: Json, name: str, cases: set[Any]) -> Iterator[Finding]:
    fields = {field["name"]: field for field in resource.get("schema", {}).get("fields", [])}
    keys: Counter[tuple[Any, ...]] = Counter()
    seqs: dict[Any, int] = {}
    for number, row in enumerate(_rows(folder, resource), 2):
        where = f"{name}.csv, line {number}"
        if set(row) != set(fields):
            yield Finding(where, "has other columns than the descriptor names")
            return
        if row.get("case_id") not in cases:
            yield Finding(where, f"case {row.get('case_id')} is not in cases.csv")
        for column, cell in row.items():
            yield from _cell(fields[column], cell or "", f"{where}, column {column}")
        yield from _offset(row, where)
        if name == "events":
            yield from _sequence(row, seqs, where)
        key = tuple(row.get(part) for part in resource["schema"].get("primaryKey", ()))
        keys[key] += 1
        if keys[key] == 2:
            yield Finding(where, f"its key ({', '.join(map(str, key))}) stands there twice")


def _cell(field: Json, cell: str, where: str) -> Iterator[Finding]:
    limits = field.get("constraints", {})
    if cell == "":
        if limits.get("required"):
            yield Finding(where, "is empty")
        return
    if field["type"] in ("number", "integer"):
        try:
            value = float(cell) if field["type"] == "number" else int(cell)
        except ValueError:
            yield Finding(where, f'"{cell[:40]}" is not a {field["type"]}')
            return
        if not math.isfinite(value):
            yield Finding(where, f"{cell} is not a number that can be counted with")
    elif field["type"] == "boolean" and cell not in ("true", "false"):
        yield Finding(where, f'"{cell[:40]}" is neither true nor false')
    if "enum" in limits and cell not in limits["enum"]:
        yield Finding(where, f'"{cell[:40]}" is not one of {", ".join(limits["enum"])}')
    if field["name"].endswith("_at"):
        try:
            instant(cell)
        except ValueError as fault:
            yield Finding(where, str(fault))
    elif "pattern" in limits and not re.search(limits["pattern"], cell):
        yield Finding(where, f'"{cell[:40]}" has not the form that the column asks for')


def _offset(row: dict[str, str], where: str) -> Iterator[Finding]:
    """A clock time carries the offset beside it."""
    at, offset = row.get("occurred_at"), row.get("utc_offset")
    if at and offset and not at.endswith(offset):
        yield Finding(where, f"occurred_at {at} is not at the offset {offset}")


def _sequence(row: dict[str, str], seqs: dict[Any, int], where: str) -> Iterator[Finding]:
    try:
        seq = int(row.get("seq") or "")
    except ValueError:
        return
    case = row.get("case_id")
    if seq != seqs.get(case, 0) + 1:
        yield Finding(where, f"entry {seq} of {case} does not follow entry {seqs.get(case, 0)}")
    seqs[case] = seq
    for column in ("refers_to", "voided_by"):
        named = row.get(column) or ""
        if named.isdecimal() and ((column == "refers_to") == (int(named) >= seq)):
            yield Finding(where, f"{column} {named} points the wrong way")
    recorded, occurred = row.get("recorded_at"), row.get("occurred_at")
    if recorded and occurred and row.get("late") == "false" and _gap(occurred, recorded) > 1:
        yield Finding(where, "was entered later than it happened, and is not called late")


def _gap(earlier: str, later: str) -> float:
    try:
        first, second = instant(earlier), instant(later)
    except ValueError:
        return 0.0
    return (second - first).total_seconds() if isinstance(first, datetime) else 0.0
