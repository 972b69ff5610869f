"""The order in which things happened, for those entered late or amended."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TypeVar

from labcheck.caselog.stamps import Moment, span

T = TypeVar("T")


def by_happening(
    timed: Iterable[tuple[Moment, int, T]], moves: Callable[[T], bool] = lambda _: True
) -> list[T]:
    """Things in the order in which they happened, from (moment, seq, thing).

    Each keeps its place by seq unless it ``moves`` and happened before one in front of it. What was entered
    live should not move: a wall clock that was set back across a restart must not reshuffle a case.
    """
    out: list[tuple[Moment, T]] = []
    for at, _, thing in sorted(timed, key=lambda one: one[1]):
        place = len(out)
        while place and moves(thing) and span(at, out[place - 1][0]).us > 0:
            place -= 1
        out.insert(place, (at, thing))
    return [thing for _, thing in out]
