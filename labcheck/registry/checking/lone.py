"""Checking one CSV file by itself: a table of labcheck's, with or without its package, or anybody's table."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import get_args

from labcheck.checklist.complaint import shown
from labcheck.registry.checking.finding import Finding, instant
from labcheck.registry.checking.rows import TIME_FORM, header, read_rows
from labcheck.registry.checking.tables import (
    DESCRIPTOR,
    case_names,
    check_resource,
    check_table,
    file_of,
    resources_of,
)
from labcheck.registry.columns import Profile
from labcheck.registry.tables import ROWS
from labcheck.registry.tableschema import table_columns, table_schema

FOREIGN = "csv (not a table of labcheck's: only its form, times and formulas are looked at)"
_A_TIME = re.compile(r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d.*")
_A_FORMULA = re.compile(r"[=+@\t\r-](?![\d.,]*$)")


def check_lone(path: Path) -> tuple[str, list[Finding]]:
    """What kind of table a CSV file is, and everything wrong with it."""
    columns = header(path)
    if not columns:
        return "csv", [Finding(f"{path.name}, row 1", "holds no header; the first row names the columns")]
    beside = path.parent / DESCRIPTOR
    if beside.is_file() and not isinstance(resources := resources_of(beside), Finding):
        for resource in resources:
            if (named := file_of(path.parent, resource)) is not None and named.samefile(path):
                return f"csv, described by the {DESCRIPTOR} beside it", list(
                    check_resource(path.parent, resource, _cases_beside(path))
                )
    for name, row in ROWS.items():
        for profile in get_args(Profile):
            if columns == list(table_columns(row, profile)):
                return f"csv, table {name}", list(
                    check_table(path, table_schema(row, profile), _cases_beside(path))
                )
    name, profile, common = _nearest(columns)
    if path.stem in ROWS or common * 2 > len(columns):
        schema = table_schema(ROWS[name], profile)
        return f"csv, table {name}", list(check_table(path, schema, None))
    return FOREIGN, list(_foreign(path, columns))


def _cases_beside(path: Path) -> frozenset[str] | None:
    cases = path.with_name("cases.csv")
    return case_names(cases) if cases.is_file() and path.name != cases.name else None


def _nearest(columns: list[str]) -> tuple[str, Profile, int]:
    """Of all tables and profiles the one with most of these columns and fewest others."""
    choices = [
        (name, profile, set(table_columns(row, profile)))
        for name, row in ROWS.items()
        for profile in get_args(Profile)
    ]
    name, profile, wanted = max(choices, key=lambda one: (len(one[2] & set(columns)), -len(one[2])))
    return name, profile, len(wanted & set(columns))


def _foreign(path: Path, columns: list[str]) -> Iterator[Finding]:
    where = f"{path.name}, row 1"
    if len(columns) == 1 and (other := re.search(r"[;\t|]", columns[0])):
        yield Finding(where, f"its cells are parted by {other[0]!a} and not by commas; save it with commas")
        return
    for name, times in Counter(columns).items():
        if name.strip() == "" or times > 1:
            said = "a column has no name" if name.strip() == "" else f'"{shown(name)}" names {times} columns'
            yield Finding(where, f"{said}; every column needs a name of its own")
    for read in read_rows(path, columns):
        if isinstance(read, Finding):
            yield read
            continue
        row_where, row = read
        for column, cell in row.items():
            yield from _any_cell(cell, f"{row_where}, column {column}")


def _any_cell(cell: str, where: str) -> Iterator[Finding]:
    if _A_TIME.fullmatch(cell):
        try:
            instant(cell)
        except ValueError as fault:
            yield Finding(where, f"{fault}; {TIME_FORM}")
    elif _A_FORMULA.match(cell):
        yield Finding(
            where, f'"{shown(cell)}" may be run as a formula by a spreadsheet; put an apostrophe before it'
        )
