"""Table Schema and data package descriptors, made from the row models.

A time column is a string with a pattern, not a ``datetime``: readers of that type accept times without an offset.
The calendar and the order of times are checked by ``labcheck export --check``.
"""

from __future__ import annotations

from typing import Any

from labcheck.registry.columns import Profile, Row
from labcheck.registry.profiles import plain_schema, properties

TYPES = {"string": "string", "integer": "integer", "number": "number", "boolean": "boolean"}


def table_schema(row: type[Row], profile: Profile) -> dict[str, Any]:
    """The Table Schema of one table under one profile."""
    fields = [_field(name, schema) for name, schema in properties(row, profile).items()]
    found: dict[str, Any] = {"fields": fields, "primaryKey": list(row.KEY), "missingValues": [""]}
    if row.KEY != ("case_id",):
        found["foreignKeys"] = [
            {"fields": ["case_id"], "reference": {"resource": "cases", "fields": ["case_id"]}}
        ]
    return found


def _field(name: str, schema: dict[str, Any]) -> dict[str, Any]:
    inner, required = plain_schema(schema)
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
