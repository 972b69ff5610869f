"""Quantiles by a stated rule, the place of one case among others, and a median with its interval."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import IntEnum

from labcheck.reference.figures import Reason
from labcheck.reference.sources import Mark, Source

TYPE_7 = Source("linear quantile, type 7 ((n - 1) p + 1)", Mark.COMMON_PRACTICE)
TYPE_6 = Source("NIST handbook 7.2.6.2, type 6 ((n + 1) p)", Mark.SECONDARY)
LARGEST_VALUE = 1e12
"""Far beyond any time or reading; sums and differences below it cannot overflow."""
ORDER_STATISTICS = Source("median interval by order statistics", Mark.DERIVED)


class QuantileRule(IntEnum):
    """Which position a quantile is read at. Type 7 is shown; type 6 is what the NIST handbook works."""

    TYPE_6 = 6
    TYPE_7 = 7


@dataclass(frozen=True, slots=True)
class Quartiles:
    """Lower quartile, median and upper quartile, and the rule they were read by."""

    lower: float
    median: float
    upper: float
    rule: QuantileRule


@dataclass(frozen=True, slots=True)
class Place:
    """Where a value stands among `n` earlier ones: `slower` of them exceed it, and the mid-rank percentile.

    `slowest_by_chance` is the chance of being slowest of all n + 1 if nothing changed, to be said beside a
    "slowest".
    """

    n: int
    slower: int
    percentile: float
    slowest_by_chance: float


@dataclass(frozen=True, slots=True)
class MedianInterval:
    """The interval from the `rank_low`-th to the `rank_high`-th value in order, and its true coverage."""

    low: float
    high: float
    rank_low: int
    rank_high: int
    coverage: float
    source: Source = ORDER_STATISTICS


def finite_sorted(values: Sequence[float]) -> list[float] | Reason:
    """The values in order, or why they cannot be used."""
    if not values:
        return Reason("there are no values")
    if not all(abs(value) <= LARGEST_VALUE for value in values):
        return Reason("a value is not a finite number, or out of all proportion")
    return sorted(float(value) for value in values)


def quantile(values: Sequence[float], p: float, rule: QuantileRule = QuantileRule.TYPE_7) -> float | Reason:
    """The p-quantile by the stated rule; positions outside the data give the end value."""
    ordered = finite_sorted(values)
    if isinstance(ordered, Reason):
        return ordered
    if not 0.0 <= p <= 1.0:
        return Reason("a quantile lies between 0 and 1")
    n = len(ordered)
    position = (n - 1) * p if rule is QuantileRule.TYPE_7 else (n + 1) * p - 1
    position = min(max(position, 0.0), n - 1.0)
    below = min(int(position), n - 2) if n > 1 else 0
    if n == 1:
        return ordered[0]
    return ordered[below] + (position - below) * (ordered[below + 1] - ordered[below])


def quartiles(values: Sequence[float], rule: QuantileRule = QuantileRule.TYPE_7) -> Quartiles | Reason:
    """Quartiles and median by the stated rule."""
    read = [quantile(values, p, rule) for p in (0.25, 0.5, 0.75)]
    found = [value for value in read if not isinstance(value, Reason)]
    if len(found) < 3:
        return next(value for value in read if isinstance(value, Reason))
    return Quartiles(found[0], found[1], found[2], rule)


def place(value: float, earlier: Sequence[float]) -> Place | Reason:
    """Where a value stands among earlier ones; the value itself is not one of them."""
    ordered = finite_sorted(earlier)
    if isinstance(ordered, Reason):
        return ordered
    if not math.isfinite(value):
        return Reason("the value is not a finite number")
    n = len(ordered)
    less = sum(one < value for one in ordered)
    equal = sum(one == value for one in ordered)
    return Place(n, n - less - equal, 100 * (less + equal / 2) / n, 1 / (n + 1))


def median_interval(values: Sequence[float], level: float = 0.95) -> MedianInterval | Reason:
    """The narrowest symmetric order-statistic interval of the median that covers at least `level`."""
    ordered = finite_sorted(values)
    if isinstance(ordered, Reason):
        return ordered
    if not 0.0 < level < 1.0:
        return Reason("the confidence level must lie between 0 and 1")
    n = len(ordered)
    outside, total, ways = 0, 2**n, 1
    rank, coverage = 0, 0.0
    # Counted in whole numbers: r-th to (n + 1 - r)-th leaves 2 * sum(C(n, i), i < r) of 2^n outside.
    for r in range(1, n // 2 + 1):
        outside += 2 * ways
        ways = ways * (n - r + 1) // r
        covered = (total - outside) / total
        if covered < level:
            break
        rank, coverage = r, covered
    if rank == 0:
        return Reason(f"no {level:.0%} interval of a median exists for {n} values")
    return MedianInterval(ordered[rank - 1], ordered[n - rank], rank, n + 1 - rank, coverage)
