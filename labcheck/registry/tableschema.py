"""Table Schema and data package descriptors, made from the row models.

A time column is a string with a pattern, not a ``datetime``: readers of that type accept times without an offset.
The calendar and the order of times are checked by ``labcheck export --check``.
"""

from __future__ import annotations

from typing import Any, get_args

from labcheck.registry.columns import Profile, Row
from labcheck.registry.profiles import plain_schema, properties

PROFILE = "profile"
"""The last column of every table: a table that was parted from its package still says what its times are."""

PROFILE_SAYS = "Under which profile the table was written; the same in every row."

TYPES = {"string": "string", "integer": "integer", "number": "number", "boolean": "boolean"}


def table_columns(row: type[Row], profile: Profile) -> tuple[str, ...]:
    """The columns of a table as it is written under that profile."""
    own = row.columns(profile)
    return own if PROFILE in own else (*own, PROFILE)


def table_schema(row: type[Row], profile: Profile) -> dict[str, Any]:
    """The Table Schema of one table under one profile."""
    fields = [_field(name, schema) for name, schema in properties(row, profile).items()]
    if PROFILE not in row.columns(profile):
        fields.append(
            {
                "name": PROFILE,
                "type": "string",
                "description": PROFILE_SAYS,
                "constraints": {"required": True, "enum": list(get_args(Profile))},
            }
        )
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
