"""Where each zone stands, for any size of the terminal, and which zones a moment may change.

Sizes in cells. The letters of the present stage keep five rows from 24 rows up; all else gives way first.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from textual.content import Content

from labcheck.console.view import View
from labcheck.console.zones import figures, head, keys, next_call, now, steps, tail, trace

ZoneName = Literal["head", "trace", "now", "next", "steps", "figures", "tail", "keys"]
ZONES: tuple[ZoneName, ...] = ("head", "trace", "now", "next", "steps", "figures", "tail", "keys")
"""From top to bottom, from left to right."""

RENDER: dict[ZoneName, Callable[[View, int, int], Content]] = {
    "head": head.render,
    "trace": trace.render,
    "now": now.render,
    "next": next_call.render,
    "steps": steps.render,
    "figures": figures.render,
    "tail": tail.render,
    "keys": keys.render,
}

SMALLEST = (60, 20)
"""Below this only the stage, its clock and the last entry are drawn."""


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle of cells."""

    x: int
    y: int
    width: int
    height: int


@dataclass(frozen=True, slots=True)
class Heights:
    """Rows of the full-width zones, by the height of the screen they start from."""

    screen: int
    trace: int
    now: int
    next: int


HEIGHTS = (
    Heights(56, 8, 10, 6),
    Heights(38, 5, 8, 5),
    Heights(30, 4, 7, 3),
    Heights(24, 2, 5, 2),
    Heights(0, 2, 3, 2),
)
"""Tallest first."""


@lru_cache(maxsize=64)
def places(width: int, height: int) -> dict[ZoneName, Box]:
    """The zones that are drawn at this size, each with its rectangle; together they cover the screen."""
    if width < SMALLEST[0] or height < SMALLEST[1]:
        return _least(width, height)
    rows = heights(height)
    key_rows = 2 if height >= 56 else 1
    at = 0
    found: dict[ZoneName, Box] = {}
    full: tuple[tuple[ZoneName, int], ...] = (
        ("head", 1), ("trace", rows.trace), ("now", rows.now), ("next", rows.next),
    )  # fmt: skip
    for name, size in full:
        found[name] = Box(0, at, width, size)
        at += size
    found.update(_body(width, at, height - at - key_rows))
    found["keys"] = Box(0, height - key_rows, width, key_rows)
    return found


def heights(height: int) -> Heights:
    """The row of the table for a screen of that height."""
    return next(rows for rows in HEIGHTS if rows.screen <= height)


def _least(width: int, height: int) -> dict[ZoneName, Box]:
    last = min(2, max(0, height - 1))
    found: dict[ZoneName, Box] = {"now": Box(0, 0, width, height - last)}
    if last:
        found["tail"] = Box(0, height - last, width, last)
    return found


def _body(width: int, top: int, rows: int) -> dict[ZoneName, Box]:
    """Steps, figures and tail in what is left: side by side where the screen is wide, else stacked."""
    if width >= 160:
        steps_w, figures_w = width * 2 // 5, width * 3 // 10
        return {
            "steps": Box(0, top, steps_w - 2, rows),
            "figures": Box(steps_w, top, figures_w - 2, rows),
            "tail": Box(steps_w + figures_w, top, width - steps_w - figures_w, rows),
        }
    if width >= 110:
        half = width // 2
        upper = rows * 11 // 20
        return {
            "steps": Box(0, top, half - 2, rows),
            "figures": Box(half, top, width - half, upper),
            "tail": Box(half, top + upper, width - half, rows - upper),
        }
    steps_rows = max(3, rows * 6 // 13)
    tail_rows = max(2, rows * 3 // 13)
    figure_rows = rows - steps_rows - tail_rows
    return {
        "steps": Box(0, top, width, steps_rows),
        "figures": Box(0, top + steps_rows, width, figure_rows),
        "tail": Box(0, top + steps_rows + figure_rows, width, tail_rows),
    }
