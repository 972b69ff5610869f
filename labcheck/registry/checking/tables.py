"""Checking a CSV data package: what its own schema cannot say, and what readers of it let pass."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterator, Mapping
from pathlib import Path, PurePosixPath
from typing import Any

from labcheck.checklist.complaint import shown
from labcheck.registry.checking.finding import Finding
from labcheck.registry.checking.rows import (
    check_amendment,
    check_cell,
    check_offset,
    check_sequence,
    check_span,
    header,
    read_rows,
)

Json = dict[str, Any]
DESCRIPTOR = "datapackage.json"


def check_package(descriptor: Path) -> Iterator[Finding]:
    """Everything wrong with the package that this descriptor describes."""
    resources = resources_of(descriptor)
    if isinstance(resources, Finding):
        yield resources
        return
    cases = _cases(descriptor.parent, resources)
    for resource in resources:
        yield from check_resource(descriptor.parent, resource, cases)


def resources_of(descriptor: Path) -> list[Json] | Finding:
    """The resources a descriptor names, or why it is no descriptor."""
    try:
        package = json.loads(descriptor.read_bytes())
        found = package["resources"]
        if not isinstance(found, list) or not all(isinstance(one, dict) for one in found):
            raise TypeError("resources must be a list of objects")
    except (ValueError, KeyError, TypeError, RecursionError) as fault:
        return Finding("", f"is not a data package: {type(fault).__name__}: {shown(str(fault))}")
    return found


def _cases(folder: Path, resources: list[Json]) -> frozenset[str] | None:
    """The names of the cases, or None where the package has no table of cases."""
    for resource in resources:
        path = file_of(folder, resource)
        if resource.get("name") == "cases" and path is not None:
            return case_names(path)
    return None


def case_names(path: Path) -> frozenset[str]:
    """The case_id of every row of a table of cases."""
    columns = header(path)
    read = (one for one in read_rows(path, columns) if not isinstance(one, Finding))
    return frozenset(row.get("case_id", "") for _, row in read)


def file_of(folder: Path, resource: Json) -> Path | None:
    """The file of a resource, if it is one that lies in the package's folder."""
    path = PurePosixPath(resource["path"]) if isinstance(resource.get("path"), str) else None
    if path is None or path.is_absolute() or ".." in path.parts or not (folder / path).is_file():
        return None
    return folder / path


def check_resource(folder: Path, resource: Json, cases: frozenset[str] | None) -> Iterator[Finding]:
    """Everything wrong with one table of a package, by the package's own description of it."""
    path = file_of(folder, resource)
    if path is None:
        yield Finding(
            str(resource.get("name", "a resource")), "its file is not there, or lies outside the package"
        )
        return
    yield from _bytes(path, resource)
    schema, dialect = resource.get("schema"), resource.get("dialect")
    schema = schema if isinstance(schema, dict) else {}
    fields = schema.get("fields")
    if not isinstance(fields, list) or not all(isinstance(f, dict) and "name" in f for f in fields):
        yield Finding(
            path.name, "its columns are not described in the package; give schema.fields, each with a name"
        )
        return
    delimiter = dialect.get("delimiter", ",") if isinstance(dialect, dict) else ","
    if not isinstance(delimiter, str) or len(delimiter) != 1:
        yield Finding(path.name, "its dialect.delimiter must be one sign")
        return
    try:
        yield from check_table(path, schema, cases if resource.get("name") != "cases" else None, delimiter)
    except re.error as fault:
        yield Finding(path.name, f"a pattern of its schema cannot be used: {shown(str(fault))}")


def _bytes(path: Path, resource: Json) -> Iterator[Finding]:
    size = path.stat().st_size
    if "bytes" in resource and resource["bytes"] != size:
        yield Finding(
            path.name, f"is {size} bytes long, not {resource['bytes']}: changed, or not copied whole"
        )
    kind, colon, wanted = str(resource.get("hash", "")).rpartition(":")
    if wanted and (kind if colon else "md5") in ("sha256", "md5"):
        with path.open("rb") as file:
            found = hashlib.file_digest(file, kind if colon else "md5").hexdigest()
        if found != wanted.lower():
            name = "SHA-256" if kind == "sha256" else "MD5"
            yield Finding(path.name, f"is not the file that was exported: its {name} differs")


def check_table(
    path: Path, schema: Mapping[str, Any], cases: frozenset[str] | None, delimiter: str = ","
) -> Iterator[Finding]:
    """Everything wrong with the rows of a table under a Table Schema; ``cases``: those that rows may name."""
    fields = {str(field["name"]): field for field in schema["fields"]}
    columns = header(path, delimiter)
    if columns != list(fields):
        yield Finding(f"{path.name}, row 1", _other_columns(columns, list(fields)))
        return
    key = schema.get("primaryKey", ())
    key = (key,) if isinstance(key, str) else tuple(key)
    missing = {str(value) for value in schema.get("missingValues", [""])}
    seen: set[tuple[str, ...]] = set()
    seqs: dict[str, int] = {}
    is_log = {"seq", "kind", "refers_to", "voided_by"} <= set(fields)
    for read in read_rows(path, columns, delimiter):
        if isinstance(read, Finding):
            yield read
            continue
        where, row = read
        if cases is not None and row.get("case_id", "") not in cases and "case_id" in fields:
            yield Finding(where, f"case {shown(row['case_id'])} is not in cases.csv")
        for column, cell in row.items():
            yield from check_cell(
                fields[column], "" if cell in missing else cell, f"{where}, column {column}"
            )
        yield from check_offset(row, where)
        yield from check_span(row, where)
        if is_log:
            yield from check_sequence(row, seqs, where)
            yield from check_amendment(row, where)
        named = tuple(row.get(part, "") for part in key)
        if key and named in seen:
            yield Finding(where, f"its key ({', '.join(map(shown, named))}) stands there twice")
        seen.add(named)


def _other_columns(found: list[str], wanted: list[str]) -> str:
    lacks = [name for name in wanted if name not in found]
    more = [name for name in found if name not in wanted]
    said = [f"lacks {', '.join(lacks[:5])}{' ...' if len(lacks) > 5 else ''}"] if lacks else []
    said += (
        [f"has {', '.join(map(shown, more[:5]))}{' ...' if len(more) > 5 else ''} too many"] if more else []
    )
    return "is not the header that the columns ask for: it " + (
        " and ".join(said) or "has them in another order"
    )
