"""What leaves under which profile. The registry profile lets nothing out but what is named here.

Columns marked for the hospital are left out whole. Of the rest, words must be ids of the checklist: anything
else was typed by a person and leaves as ``other``.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import cache
from typing import Annotated, Any, get_args

from pydantic import create_model

from labcheck.checklist.words import Strict
from labcheck.registry.columns import Profile, Row, schema_of

PROFILES: tuple[str, ...] = get_args(Profile)
CODED = re.compile(r"[a-z][a-z0-9_]{0,39}([.:;][a-z0-9][a-z0-9_]{0,39}){0,3}")
UNITS = re.compile(r"[A-Za-zµ%·0-9²³/^{}._-]{1,16}")
KEPT_AS_IS = frozenset(
    {"case_id", "subject_id", "event_id", "checklist_digest", "amended_by", "creatinine_unit"}
)
OTHER = "other"


def narrowed(name: str, value: Any) -> Any:
    """One value as the registry profile lets it out."""
    if not isinstance(value, str) or name in KEPT_AS_IS:
        return value
    if name == "unit":
        return value if UNITS.fullmatch(value) else OTHER
    return value if CODED.fullmatch(value) else OTHER


def values(row: Row, profile: Profile) -> dict[str, Any]:
    """The columns and values of a row under a profile, in order."""
    if profile == "hospital":
        return {name: getattr(row, name) for name in type(row).model_fields}
    return {name: narrowed(name, getattr(row, name)) for name in row.columns(profile)}


@cache
def model_under(row: type[Row], profile: Profile) -> type[Strict]:
    """The row's model with only the columns of a profile; its schema is what that profile promises."""
    if profile == "hospital":
        return row
    kept: Mapping[str, Any] = {name: (_annotation(row, name), ...) for name in row.columns(profile)}
    model: type[Strict] = create_model(
        f"Registry{row.__name__}", __base__=Strict, __doc__=row.__doc__, **kept
    )
    return model


def _annotation(row: type[Row], name: str) -> Any:
    info = row.model_fields[name]
    annotated: Any = info.annotation
    for mark in info.metadata:
        annotated = Annotated[annotated, mark]
    return annotated


def properties(row: type[Row], profile: Profile) -> dict[str, dict[str, Any]]:
    """JSON Schema of every column under a profile, in order."""
    schema = schema_of(row)
    found: dict[str, dict[str, Any]] = schema["properties"]
    return {name: found[name] for name in row.columns(profile)}
