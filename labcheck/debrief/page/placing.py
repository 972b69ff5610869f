"""Where labels go: on so many levels that no two ever overlap, however dense the case."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

LETTER_WIDTH = 0.64
"""Width of a letter or digit over the font's size, taken wide so that a broader font still fits."""
GAP = 3.0


@dataclass(frozen=True, slots=True)
class Label:
    """A label that wants to stand at ``x``."""

    x: float
    words: str
    size: float

    @property
    def width(self) -> float:
        """How wide it may become."""
        return text_width(self.words, self.size)


@dataclass(frozen=True, slots=True)
class Placed:
    """A label with its level, 0 nearest to the lane, and the left edge it was given."""

    label: Label
    level: int
    left: float

    @property
    def right(self) -> float:
        """Its right edge."""
        return self.left + self.label.width


def text_width(words: str, size: float) -> float:
    """The most a text can take; a letter of a broad script counts twice."""
    return sum(2 if ord(c) > 0x2E7F else 1 for c in words) * size * LETTER_WIDTH


def staggered(labels: Iterable[Label], left: float, right: float) -> tuple[Placed, ...]:
    """Every label centred on its place, moved inside the drawing, on the first level where it is free.

    In the order of the labels; a level grows by right edges only, so it is asked once.
    """
    taken: list[float] = []
    out: list[Placed] = []
    for label in sorted(labels, key=lambda one: one.x):
        at = min(max(label.x - label.width / 2, left), max(left, right - label.width))
        level = next((n for n, edge in enumerate(taken) if edge + GAP <= at), len(taken))
        if level == len(taken):
            taken.append(at + label.width)
        else:
            taken[level] = at + label.width
        out.append(Placed(label, level, at))
    return tuple(out)


def levels(placed: Sequence[Placed]) -> int:
    """How many levels they take."""
    return max((one.level for one in placed), default=-1) + 1


def rows_for(spans: Sequence[tuple[float, float]]) -> tuple[int, ...]:
    """A row for each (from, to), in their order, such that none overlaps another in its row."""
    taken: list[float] = []
    rows: list[int] = []
    for start, end in spans:
        row = next((n for n, edge in enumerate(taken) if edge <= start), len(taken))
        if row == len(taken):
            taken.append(end)
        else:
            taken[row] = end
        rows.append(row)
    return tuple(rows)
