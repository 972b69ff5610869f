"""Checking the rows of one CSV table: its shape, its cells by their fields, and what no schema can say."""

from __future__ import annotations

import csv
import math
import re
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from labcheck.checklist.complaint import shown
from labcheck.registry.checking.finding import Finding, instant

Field = Mapping[str, Any]
Read = tuple[str, dict[str, str]]
"""Where a row stands, and its cells by column."""

csv.field_size_limit(1 << 20)
_NOT_UTF8 = re.compile("[\udc80-\udcff]")
TIME_FORM = "write times like 2031-03-04T09:14:05.123+01:00"
WHOLE_NUMBER, NUMBER = re.compile(r"[+-]?\d{1,18}"), re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?")


def header(path: Path, delimiter: str = ",") -> list[str]:
    """The cells of the first row; none where there is no row or it is not CSV."""
    with path.open(encoding="utf-8-sig", newline="", errors="surrogateescape") as file:
        try:
            return next(csv.reader(file, delimiter=delimiter, strict=True), [])
        except csv.Error:
            return []


def read_rows(path: Path, columns: Sequence[str], delimiter: str = ",") -> Iterator[Read | Finding]:
    """The rows below the header, counted as a spreadsheet counts them (the header is row 1); faults in between."""
    number = 1
    with path.open(encoding="utf-8-sig", newline="", errors="surrogateescape") as file:
        reader = csv.reader(file, delimiter=delimiter, strict=True)
        next(reader, None)
        try:
            for number, cells in enumerate(reader, 2):
                where = f"{path.name}, row {number}"
                if len(cells) != len(columns):
                    yield Finding(where, _other_count(len(cells), len(columns)))
                    continue
                for column, cell in zip(columns, cells, strict=True):
                    if bad := _NOT_UTF8.search(cell):
                        byte = ord(bad[0]) - 0xDC00
                        yield Finding(
                            f"{where}, column {column}", f"byte {byte:#x} is not UTF-8; save it as UTF-8"
                        )
                yield where, dict(zip(columns, cells, strict=True))
        except csv.Error as fault:
            yield Finding(f"{path.name}, row {number + 1}", f"{fault}; is a quotation mark not closed?")


def _other_count(found: int, wanted: int) -> str:
    why = (
        "is the file cut off, or a line empty?"
        if found < wanted
        else "is a comma or a quotation mark too many?"
    )
    return f"has {found} cells where the header has {wanted}; {why}"


def check_cell(field: Field, cell: str, where: str) -> Iterator[Finding]:
    """Everything wrong with one cell, by its field in a Table Schema."""
    limits = field.get("constraints") or {}
    if cell == "":
        if limits.get("required"):
            yield Finding(where, "is empty, and must not be")
        return
    fault = _type_fault(str(field.get("type", "string")), cell)
    if fault is not None:
        yield Finding(where, fault)
        return
    if "enum" in limits and cell not in (choices := [str(choice) for choice in limits["enum"]]):
        yield Finding(where, f'"{shown(cell)}" is not one of {", ".join(choices)}')
    if str(field.get("name")).endswith("_at") or field.get("type") == "datetime":
        try:
            instant(cell)
        except ValueError as wrong:
            yield Finding(where, f"{wrong}; {TIME_FORM}")
    elif "pattern" in limits and not re.search(str(limits["pattern"]), cell):
        yield Finding(
            where, f'"{shown(cell)}" has not the form that the column asks for: {limits["pattern"]}'
        )
    yield from _limits(limits, cell, where)


def _type_fault(kind: str, cell: str) -> str | None:
    if kind in ("number", "integer"):
        if cell.strip().lower().lstrip("+-") in ("nan", "inf", "infinity"):
            return f"{shown(cell)} is not a number that can be counted with; leave the cell empty"
        if not (WHOLE_NUMBER if kind == "integer" else NUMBER).fullmatch(cell):
            comma = "; write a decimal point" if "," in cell else ""
            return f'"{shown(cell)}" is not {"a number" if kind == "number" else "a whole number"}{comma}'
        if not math.isfinite(float(cell)):
            return f"{shown(cell)} is not a number that can be counted with"
    if kind == "boolean" and cell not in ("true", "false"):
        return f'"{shown(cell)}" is neither true nor false'
    return None


def _limits(limits: Mapping[str, Any], cell: str, where: str) -> Iterator[Finding]:
    least, most = limits.get("minimum"), limits.get("maximum")
    if not NUMBER.fullmatch(cell):
        return
    if isinstance(least, int | float) and float(cell) < least:
        yield Finding(where, f"{shown(cell)} is below the least that is allowed, {least}")
    if isinstance(most, int | float) and float(cell) > most:
        yield Finding(where, f"{shown(cell)} is above the most that is allowed, {most}")


def check_offset(row: Mapping[str, str], where: str) -> Iterator[Finding]:
    """A clock time carries the offset that stands beside it."""
    offset = row.get("utc_offset")
    for column in ("occurred_at", "stands_at"):
        at = row.get(column)
        if at and offset and not at.endswith(offset):
            yield Finding(where, f"{column} {shown(at)} is not at the offset {shown(offset)} of utc_offset")


def check_sequence(row: Mapping[str, str], seqs: dict[str, int], where: str) -> Iterator[Finding]:
    """The log's own order: no entry missing, references to earlier entries, corrections by later ones."""
    seq, case = _whole(row.get("seq")), row.get("case_id", "")
    if seq is None:
        return
    if seq != seqs.get(case, 0) + 1:
        yield Finding(where, f"entry {seq} of {shown(case)} does not follow entry {seqs.get(case, 0)}")
    seqs[case] = seq
    for column in ("refers_to", "voided_by"):
        named = _whole(row.get(column))
        if named is not None and ((column == "refers_to") == (named >= seq)):
            yield Finding(f"{where}, column {column}", f"{named} points the wrong way")
    recorded, occurred = row.get("recorded_at"), row.get("occurred_at")
    if recorded and occurred and row.get("late") == "false" and _gap(occurred, recorded) > 1:
        yield Finding(where, "was entered later than it happened, and is not called late")


CHANGED = ("value_at", "before_value", "before_unit", "before_choice", "before_at", "before_text")


def check_amendment(row: Mapping[str, str], where: str) -> Iterator[Finding]:
    """Only a correction has a value before it; it names an entry and a field; an entry keeps its time without one."""
    if row.get("kind") != "event.amended":
        for column in CHANGED:
            if row.get(column):
                yield Finding(
                    f"{where}, column {column}", "is filled, and the entry amends nothing; empty it"
                )
    elif not row.get("refers_to") or not row.get("code"):
        yield Finding(where, "amends something, and names no entry (refers_to) or no field (code)")
    elif row["code"] != "happened" and (row.get("value_at") or row.get("before_at")):
        yield Finding(where, f"has a clock time for the field {shown(row['code'])}, which is no time")
    if row.get("amended") == "false" and row.get("stands_rel_s") != row.get("t_rel_s"):
        yield Finding(where, "stands at another time than it was written, and is not called amended")


def check_span(row: Mapping[str, str], where: str) -> Iterator[Finding]:
    """A span that has a length says how far its ends can be trusted; energy comes from bursts alone."""
    if row.get("duration_s") and row.get("time_quality") == "":
        yield Finding(where, "has a duration, and time_quality does not say how far its ends can be trusted")
    if row.get("energy_s") and row.get("bursts") in ("", "0"):
        yield Finding(where, "has a time of energy without a burst; leave energy_s empty, it is not known")


def _whole(cell: str | None) -> int | None:
    return int(cell) if cell and WHOLE_NUMBER.fullmatch(cell) else None


def _gap(earlier: str, later: str) -> float:
    try:
        return (instant(later) - instant(earlier)).total_seconds()
    except ValueError:
        return 0.0
