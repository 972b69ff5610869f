"""Two orders laid beside each other: what was expected and what came.

By a longest common subsequence, whose cost (left out + added) is that of an optimal alignment in which
nothing is replaced. The cost is never shown as a score: a forgotten check would score better than a proper
second try.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Alignment:
    """Positions: ``left_out`` in what was expected, ``added`` in what came, ``pairs`` in both."""

    left_out: tuple[int, ...]
    added: tuple[int, ...]
    pairs: tuple[tuple[int, int], ...]

    @property
    def cost(self) -> int:
        """How many insertions and deletions make one order the other."""
        return len(self.left_out) + len(self.added)


def align(expected: Sequence[Hashable], came: Sequence[Hashable]) -> Alignment:
    """The cheapest alignment; of several the one that keeps the earliest matches. Time and space m x n."""
    longest = _longest(expected, came)
    pairs: list[tuple[int, int]] = []
    i = j = 0
    while i < len(expected) and j < len(came):
        if expected[i] == came[j]:
            pairs.append((i, j))
            i, j = i + 1, j + 1
        elif longest[i + 1][j] >= longest[i][j + 1]:
            i += 1
        else:
            j += 1
    kept, met = {a for a, _ in pairs}, {b for _, b in pairs}
    left_out = tuple(n for n in range(len(expected)) if n not in kept)
    added = tuple(n for n in range(len(came)) if n not in met)
    return Alignment(left_out, added, tuple(pairs))


def _longest(expected: Sequence[Hashable], came: Sequence[Hashable]) -> list[list[int]]:
    """``[i][j]``: length of the longest common subsequence of ``expected[i:]`` and ``came[j:]``."""
    table = [[0] * (len(came) + 1) for _ in range(len(expected) + 1)]
    for i in range(len(expected) - 1, -1, -1):
        row, below = table[i], table[i + 1]
        for j in range(len(came) - 1, -1, -1):
            row[j] = below[j + 1] + 1 if expected[i] == came[j] else max(below[j], row[j + 1])
    return table
