"""The data dictionary, made from the row models and the event models."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, get_args

from labcheck.registry.columns import Profile, Row, column
from labcheck.registry.describing.book import book
from labcheck.registry.describing.codes import codes, units
from labcheck.registry.describing.findings import deviations, endpoints, rescues
from labcheck.registry.describing.introduction import INTRODUCTION
from labcheck.registry.describing.kinds import fixed_words, kinds
from labcheck.registry.describing.sentences import docstring
from labcheck.registry.profiles import properties
from labcheck.registry.tables import ROWS
from labcheck.registry.tableschema import PROFILE, PROFILE_SAYS


def data_dictionary() -> str:
    """The whole dictionary as Markdown."""
    parts = [
        INTRODUCTION,
        "## Tables\n",
        *(_table(name, row) for name, row in ROWS.items()),
        endpoints(),
        rescues(),
        deviations(),
        kinds(),
        fixed_words(),
        book(),
        codes(),
        units(),
    ]
    return "\n".join(parts)


def _table(name: str, row: type[Row]) -> str:
    lines = [
        f"### {name}.csv",
        "",
        docstring(row),
        "",
        f"Key: {', '.join(f'`{part}`' for part in row.KEY)}.",
        "",
        "| column | type | unit | profile | meaning |",
        "|---|---|---|---|---|",
        *_columns(row),
        "",
    ]
    return "\n".join(lines)


def _columns(row: type[Row]) -> Iterator[str]:
    for name, schema in properties(row, "hospital").items():
        mark = column(row.model_fields[name])
        where = mark.only or "all"
        yield f"| `{name}` | {_type(schema)} | {mark.unit or ''} | {where} | {mark.says} |"
    if PROFILE not in row.model_fields:
        known = ", ".join(get_args(Profile))
        yield f"| `{PROFILE}` | {known} |  | all | {PROFILE_SAYS} |"


def _type(schema: dict[str, Any]) -> str:
    options = [option for option in schema.get("anyOf", [schema]) if option.get("type") != "null"]
    inner, optional = options[0], len(options) != len(schema.get("anyOf", [schema]))
    if "enum" in inner:
        word = " / ".join(f"`{value}`" for value in inner["enum"])
    elif "const" in inner:
        word = f"`{inner['const']}`"
    elif inner["type"] == "string":
        word = _string(inner.get("pattern", ""))
    else:
        word = {"integer": "whole number", "number": "number", "boolean": "true or false"}[inner["type"]]
    return f"{word}, or empty" if optional else word


def _string(pattern: str) -> str:
    if pattern.startswith(r"^\d{4}-"):
        return "time"
    if pattern.startswith("^[+-]"):
        return "offset"
    if pattern.startswith(("^sha256", "^(sha256")):
        return "digest"
    if pattern.startswith("^[a-z0-9_:;.]"):
        return "coded words"
    return "id" if pattern else "text"
