"""The words that may leave the hospital: those of the checklist and of the program. Any other was typed by a person.

A correction takes any text for a drug, an outcome or a unit, so the form of a word does not tell an id from a name.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache, lru_cache
from typing import Any, Literal, get_args, get_origin

from pydantic import BaseModel

from labcheck.caselog.case import Case
from labcheck.caselog.events import Payload
from labcheck.caselog.neuroprotection import ITEM
from labcheck.checklist.model import Checklist
from labcheck.registry.columns import Row
from labcheck.registry.measures import UCUM
from labcheck.registry.profiles import CODED, OTHER, UNIT_COLUMNS

WORDS = frozenset(
    {"drug", "reading", "choice", "judged_by", "judge", "outcome", "clock", "code", "before_choice", "option"}
)
"""The columns of ids that a person may have typed in a correction, or when another clock was named."""
UNIT_KEYS = frozenset({"unit", "units", "rate_unit"})
PROMPTS = frozenset({"silence", "watch", "reading", "attempts", "tally"})
ITEMS = frozenset({"visit", "burst", "attempt", "run", "sample", "bailout", "mark", "step", "signout"})
OWN = frozenset({"imaging", "happened", "abandoned"}) | PROMPTS | ITEMS | frozenset(ITEM.split(":"))
"""Words of the program that no list of fields has: a clock, an amended time, an outcome, and the heads of the ids of
prompts and of items of the sign-out list, as in ``mark:69``."""
_PARTS = re.compile(r"[:.;]")


@dataclass(frozen=True, slots=True)
class _Named:
    """A checklist by its digest: comparing whole checklists takes longer than reading their words."""

    digest: str
    revision: str
    checklist: Checklist = field(compare=False)


def only_known(rows: Mapping[str, Sequence[Row]], case: Case) -> dict[str, tuple[Row, ...]]:
    """The rows, with ``other`` for every word and unit that neither the checklist nor the program has."""
    words, units = _vocabulary(_Named(case.checklist_digest, case.checklist.revision, case.checklist))
    return {name: tuple(_known(row, words, units) for row in table) for name, table in rows.items()}


@lru_cache(maxsize=8)
def _vocabulary(named: _Named) -> tuple[frozenset[str], frozenset[str]]:
    """The words and the units of the checklist and of the program."""
    said = tuple(_said(named.checklist.model_dump(mode="json")))
    words = _own() | {part for text, _ in said if CODED.fullmatch(text) for part in _PARTS.split(text)}
    return words, frozenset(text for text, key in said if key in UNIT_KEYS) | frozenset(UCUM) | {"s", "W"}


def _known(row: Row, words: frozenset[str], units: frozenset[str]) -> Row:
    said, changed = vars(row), {}
    for name in _guarded(type(row)):
        value = said[name]
        if value is None or value in (units if name in UNIT_COLUMNS else words):
            continue
        parts = () if name in UNIT_COLUMNS else _PARTS.split(value)
        if not parts or not all(part in words or part.isdecimal() for part in parts if part):
            changed[name] = OTHER
    return row.model_copy(update=changed) if changed else row


@cache
def _guarded(row: type[Row]) -> tuple[str, ...]:
    return tuple(name for name in row.model_fields if name in WORDS or name in UNIT_COLUMNS)


def _said(value: Any, key: str = "") -> Iterator[tuple[str, str]]:
    """Every text of the checklist with the field it stands in."""
    if isinstance(value, str):
        yield value, key
    elif isinstance(value, dict):
        for name, one in value.items():
            yield from _said(one, name)
    elif isinstance(value, list):
        for one in value:
            yield from _said(one, key)


@cache
def _own() -> frozenset[str]:
    """The program's own words: the fields of entries, and what those with a fixed list may hold."""
    found = set(OWN)
    for model in get_args(get_args(Payload)[0]):
        found |= set(_literals(model))
    return frozenset(found)


def _literals(of: Any) -> Iterator[str]:
    if isinstance(of, type) and issubclass(of, BaseModel):
        for name, info in of.model_fields.items():
            yield name
            yield from _literals(info.annotation)
    elif get_origin(of) is Literal:
        yield from (value for value in get_args(of) if isinstance(value, str))
    else:
        for part in get_args(of):
            yield from _literals(part)
