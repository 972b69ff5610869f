"""Table Schema and data package descriptors, made from the row models.

A time column is a string with a pattern, not a ``datetime``: readers of that type accept times without an offset.
The calendar and the order of times are checked by ``labcheck export --check``.
"""

from __future__ import annotations

from typing import Any

from labcheck.registry.columns import Profile, Row
from labcheck.registry.profiles import properties

TYPES = {"string": "string", "integer": "integer", "number": "number", "boolean": "boolean"}


def table_schema(row: type[Row], profile: Profile) -> dict[str, Any]:
    """The Table Schema of one table under one profile."""
    fields = [_field(name, schema) for name, schema in properties(row, profile).items()]
    found: dict[str, Any] = {"fields": fields, "primaryKey": list(row.key()), "missingValues": [""]}
    if row.key() != ("case_id",):
        found["foreignKeys"] = [
            {"fields": ["case_id"], "reference": {"resource": "cases", "fields": ["case_id"]}}
        ]
    return found


def text_columns(row: type[Row], profile: Profile) -> frozenset[str]:
    """The columns of words: those that a spreadsheet guard may have to touch."""
    return frozenset(
        name
        for name, schema in properties(row, profile).items()
        if _plain(schema)[0].get("type") == "string"
        and not {"enum", "pattern", "const"} & set(_plain(schema)[0])
    )


def _plain(schema: dict[str, Any]) -> tuple[dict[str, Any], bool]:
    """The schema without its null, and whether a value is required."""
    options = [option for option in schema.get("anyOf", [schema]) if option.get("type") != "null"]
    return options[0], len(options) == len(schema.get("anyOf", [schema]))


def _field(name: str, schema: dict[str, Any]) -> dict[str, Any]:
    inner, required = _plain(schema)
    field: dict[str, Any] = {
        "name": name,
        "type": TYPES[inner["type"]],
        "description": schema["description"],
    }
    if field["type"] == "boolean":
        field |= {"trueValues": ["true"], "falseValues": ["false"]}
    limits: dict[str, Any] = {"required": True} if required else {}
    limits |= {key: inner[key] for key in ("enum", "pattern", "minimum", "maximum") if key in inner}
    if "const" in inner:
        limits["enum"] = [inner["const"]]
    if limits:
        field["constraints"] = limits
    return field
