"""Two groups of times: the exact Mann-Whitney test, the Hodges-Lehmann shift and its exact interval."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from statistics import median

from labcheck.reference.figures import Reason
from labcheck.reference.sources import Mark, Source
from labcheck.reference.statistics.quantiles import finite_sorted

MANN_WHITNEY = Source("exact Mann-Whitney; Hollander and Wolfe", Mark.FROM_MEMORY)
HODGES_LEHMANN = Source("median of all pairwise differences; Hollander and Wolfe", Mark.FROM_MEMORY)

LARGEST_PAIRS = 20_000
LARGEST_TIED_PAIRS = 2_500


@dataclass(frozen=True, slots=True)
class MannWhitney:
    """U of the first group (pairs in which it is larger, ties half) and its exact p-values."""

    u: float
    p_two_sided: float
    p_first_larger: float
    p_first_smaller: float
    source: Source = MANN_WHITNEY


@dataclass(frozen=True, slots=True)
class Shift:
    """How much larger the first group is, with an interval of the stated true coverage."""

    shift: float
    low: float
    high: float
    coverage: float
    source: Source = HODGES_LEHMANN


def mann_whitney(first: Sequence[float], second: Sequence[float]) -> MannWhitney | Reason:
    """The exact test. With ties the distribution is that of the mid-ranks actually seen."""
    doubt = _groups_doubt(first, second)
    if doubt:
        return doubt
    m, n = len(first), len(second)
    doubled = sum(2 * (x > y) + (x == y) for x in first for y in second)
    pooled = [*first, *second]
    if len(set(pooled)) == len(pooled):
        ways = [count for plain in no_tie_counts(m, n) for count in (plain, 0)]
    elif m * n <= LARGEST_TIED_PAIRS:
        ways = _tied_counts(m, pooled)
    else:
        return Reason("too many tied values for an exact test of groups this large")
    total = sum(ways)
    larger = sum(ways[doubled:]) / total
    smaller = sum(ways[: doubled + 1]) / total
    return MannWhitney(doubled / 2, min(1.0, 2 * min(larger, smaller)), larger, smaller)


def hodges_lehmann(first: Sequence[float], second: Sequence[float], level: float = 0.95) -> Shift | Reason:
    """The shift and the narrowest exact interval that covers at least `level` (conservative with ties)."""
    doubt = _groups_doubt(first, second)
    if doubt:
        return doubt
    if not 0.0 < level < 1.0:
        return Reason("the confidence level must lie between 0 and 1")
    differences = sorted(x - y for x in first for y in second)
    counts = no_tie_counts(len(first), len(second))
    total, below, rank, coverage = sum(counts), 0, 0, 0.0
    for r, count in enumerate(counts[: len(differences) // 2 + 1], start=1):
        below += count
        covered = 1 - 2 * below / total
        if covered < level:
            break
        rank, coverage = r, covered
    if rank == 0:
        return Reason(f"groups of {len(first)} and {len(second)} are too small for a {level:.0%} interval")
    return Shift(median(differences), differences[rank - 1], differences[-rank], coverage)


@lru_cache(maxsize=32)
def no_tie_counts(m: int, n: int) -> tuple[int, ...]:
    """In how many of the orderings of m and n distinct values U takes each value 0 ... m n.

    The coefficients of the Gaussian binomial, built by one multiplication and one exact division a step.
    """
    small, large = min(m, n), max(m, n)
    size = small * large
    ways = [1] + [0] * size
    for i in range(1, small + 1):
        for u in range(size, large + i - 1, -1):
            ways[u] -= ways[u - large - i]
        for u in range(i, size + 1):
            ways[u] += ways[u - i]
    return tuple(ways)


def _tied_counts(m: int, pooled: Sequence[float]) -> list[int]:
    """In how many choices of m out of the pooled values twice U takes each value, from doubled mid-ranks.

    The sums are kept as digits of one whole number a group size, so that each step is a shift and an
    addition.
    """
    ordered = sorted(pooled)
    doubled = [ordered.index(v) + len(ordered) - ordered[::-1].index(v) + 1 for v in ordered]
    width = math.comb(len(ordered), m).bit_length() + 1
    by_size = [1] + [0] * m
    for rank in doubled:
        for size in range(m, 0, -1):
            by_size[size] += by_size[size - 1] << (rank * width)
    packed = by_size[m] >> (m * (m + 1) * width)
    digit = (1 << width) - 1
    n = len(ordered) - m
    return [(packed >> (u * width)) & digit for u in range(2 * m * n + 1)]


def _groups_doubt(first: Sequence[float], second: Sequence[float]) -> Reason | None:
    for group in (first, second):
        checked = finite_sorted(group)
        if isinstance(checked, Reason):
            return checked
    if len(first) * len(second) > LARGEST_PAIRS:
        return Reason("the groups are too large for an exact comparison")
    return None
