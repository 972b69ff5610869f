"""What each zone is drawn from: it is drawn anew only when that is another object."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

from labcheck.caselog.case import Case
from labcheck.console.view import View
from labcheck.console.zone import Draw
from labcheck.console.zones.layout import RENDER, ZoneName

SLOW_ZONES: frozenset[ZoneName] = frozenset({"trace", "figures"})

WATCHED: dict[ZoneName, tuple[str, ...]] = {
    "trace": ("trace",),
    "next": ("answer", "case", "expected", "panel"),
    "figures": ("figures", "prompt", "quiet", "case"),
    "steps": ("steps", "steps_title", "step_at"),
    "tail": ("tail", "save", "silent"),
    "keys": ("keys",),
}
"""What a zone is drawn from, where that is little: the zone is drawn anew only if one of these is another object."""


def same(before: tuple[Any, ...] | None, now: tuple[Any, ...]) -> bool:
    """The same objects, or equal ones; a case is never compared field by field."""
    if before is None:
        return False
    return all(a is b or (type(a) is not Case and a == b) for a, b in zip(before, now, strict=True))


def drawer(name: ZoneName, view: View) -> Draw:
    """The zone's drawing of that view, made once for a size."""
    render = RENDER[name]
    # The stage's zone and its clock show one drawing.
    return lru_cache(maxsize=1)(lambda width, height: render(view, width, height))
