"""Time laid over the drawing's width, and which stretches are too dense for it."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass

from labcheck.caselog.clockwords import SECOND
from labcheck.debrief.page.lanes import Lane, LaneMark
from labcheck.debrief.page.placing import Label, staggered

WIDTH = 800.0
LEFT, RIGHT = 104.0, 794.0
SIZE = 11.0
MOST_LEVELS = 6
"""Levels of labels in the overview; a stretch that needs more is drawn again below."""
WORTH_A_DETAIL = 3
"""Labels below the last level; fewer simply stand lower."""
MOST_DETAILS = 8
MAGNIFIED = 12


@dataclass(frozen=True, slots=True)
class Scale:
    """A stretch of time laid over the drawing's width; microseconds from the start of the trace."""

    from_us: int
    to_us: int

    def x(self, at_us: int) -> float:
        """Where a time stands, kept inside the drawing."""
        inside = min(max(at_us, self.from_us), self.to_us)
        return LEFT + (RIGHT - LEFT) * (inside - self.from_us) / max(1, self.to_us - self.from_us)

    def holds(self, at_us: int) -> bool:
        """Whether a time lies in the stretch."""
        return self.from_us <= at_us <= self.to_us


def details_of(found: Sequence[Lane], whole: Scale) -> tuple[Scale, ...]:
    """The stretches whose labels do not fit the overview, in order of time."""
    wide = max(30 * SECOND, (whole.to_us - whole.from_us) // MAGNIFIED)
    out: list[Scale] = []
    while len(out) < MOST_DETAILS:
        crowded = sorted(mark.at_us for lane in found for mark in _crowded(lane, whole, out))
        counts = {at: bisect_right(crowded, at + wide) - bisect_left(crowded, at) for at in crowded}
        if max(counts.values(), default=0) < WORTH_A_DETAIL:
            break
        best = max(counts, key=lambda at: (counts[at], -at))
        # A little earlier, so that what leads up to the crowd is drawn with it.
        near = [m.at_us for lane in found for m in lane.marks if best - wide // 5 <= m.at_us <= best]
        start = max(whole.from_us, min(near, default=best) - wide // 30)
        out.append(Scale(start, min(whole.to_us, start + wide)))
    return tuple(sorted(out, key=lambda s: s.from_us))


def _crowded(lane: Lane, scale: Scale, details: Sequence[Scale]) -> list[LaneMark]:
    """The marks of a lane that would stand below the last level of the overview."""
    marks = [m for m in lane.marks if not any(d.holds(m.at_us) for d in details)]
    labelled = sorted(marks, key=lambda m: scale.x(m.at_us))
    placed = staggered((Label(scale.x(m.at_us), m.label, SIZE) for m in labelled), LEFT, RIGHT)
    return [mark for mark, one in zip(labelled, placed, strict=True) if one.level >= MOST_LEVELS]
