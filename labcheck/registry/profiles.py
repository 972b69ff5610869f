"""What leaves under which profile. The registry profile lets nothing out but what is named here.

Columns marked for the hospital are left out whole. Of the rest, words must be ids of the checklist: anything
else was typed by a person and leaves as ``other``.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import cache
from typing import Annotated, Any, get_args

from pydantic import create_model

from labcheck.checklist.words import Strict
from labcheck.registry.columns import Profile, Row, schema_of

PROFILES: tuple[str, ...] = get_args(Profile)
CODED = re.compile(r"[a-z][a-z0-9_]{0,39}([.:;][a-z0-9][a-z0-9_]{0,39}){0,3}")
UNITS = re.compile(r"[A-Za-zµ%·0-9²³/^{}._-]{1,16}")
UNIT_COLUMNS = frozenset({"unit", "before_unit"})
OTHER = "other"


def coded(value: Any) -> Any:
    """A word as it may leave: an id of a checklist, or ``other``."""
    return value if not isinstance(value, str) or CODED.fullmatch(value) else OTHER


def unit(value: Any) -> Any:
    """A unit as it may leave."""
    return value if not isinstance(value, str) or UNITS.fullmatch(value) else OTHER


def kept(value: Any) -> Any:
    """A value that cannot hold words: a number, an id, a time, one of a fixed list."""
    return value


def values(row: Row, profile: Profile) -> dict[str, Any]:
    """The columns and values of a row under a profile, in order."""
    said = vars(row)
    if profile == "hospital":
        return dict(said)
    return {name: lets(said[name]) for name, lets in _lets(type(row), profile)}


@cache
def _lets(row: type[Row], profile: Profile) -> tuple[tuple[str, Callable[[Any], Any]], ...]:
    words = text_columns(row, profile)
    return tuple(
        (name, unit if name in UNIT_COLUMNS else coded if name in words and name != "amended_by" else kept)
        for name in row.columns(profile)
    )


@cache
def model_under(row: type[Row], profile: Profile) -> type[Strict]:
    """The row's model with only the columns of a profile; its schema is what that profile promises."""
    if profile == "hospital":
        return row
    fields: dict[str, Any] = {name: (_annotation(row, name), ...) for name in row.columns(profile)}
    model: type[Strict] = create_model(
        f"Registry{row.__name__}", __base__=Strict, __doc__=row.__doc__, **fields
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


def text_columns(row: type[Row], profile: Profile) -> frozenset[str]:
    """The columns of words: those that may hold what a person typed, or what a spreadsheet mistakes."""
    return frozenset(
        name
        for name, schema in properties(row, profile).items()
        if (inner := plain_schema(schema)[0]).get("type") == "string"
        and not {"enum", "pattern", "const"} & set(inner)
    )


def plain_schema(schema: dict[str, Any]) -> tuple[dict[str, Any], bool]:
    """A column's schema without its null, and whether it must have a value."""
    options = schema.get("anyOf", [schema])
    real = [option for option in options if option.get("type") != "null"]
    return real[0], len(real) == len(options)
