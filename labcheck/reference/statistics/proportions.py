"""Successes out of n: intervals that stay honest at small n. The Wald interval is left out on purpose;
for 35 of 37 it reaches above 100 %."""

import math
from dataclasses import dataclass
from statistics import NormalDist

from labcheck.reference.figures import Reason
from labcheck.reference.sources import Mark, Source
from labcheck.reference.statistics import binomial

WILSON = Source("Wilson interval; Newcombe, Stat Med 1998", Mark.SECONDARY)
CLOPPER_PEARSON = Source("Clopper-Pearson interval; Newcombe, Stat Med 1998", Mark.FROM_MEMORY)
NEWCOMBE = Source(
    "difference of two proportions, method 10; Newcombe, Stat Med 1998 (2nd paper)", Mark.SECONDARY
)
RULE_OF_NONE = Source("exact one-sided upper limit when nothing failed", Mark.DERIVED)

LARGEST_N = 1_000_000
HIGHEST_LEVEL = 0.999999


@dataclass(frozen=True, slots=True)
class Interval:
    """A two-sided interval at confidence `level`."""

    low: float
    high: float
    level: float
    source: Source


def counts_doubt(count: int, n: int, level: float = 0.95) -> Reason | None:
    """Why `count` of `n` at `level` cannot be given an interval, or None when it can."""
    if n < 1:
        return Reason("there are no cases to count")
    if not 0 <= count <= n <= LARGEST_N:
        return Reason(f"{count} of {n} is not a count out of a number of cases")
    if not 0.0 < level <= HIGHEST_LEVEL:
        return Reason(f"the confidence level must lie above 0 and not beyond {HIGHEST_LEVEL}")
    return None


def wilson(count: int, n: int, level: float = 0.95) -> Interval | Reason:
    """The Wilson score interval of a proportion."""
    doubt = counts_doubt(count, n, level)
    if doubt:
        return doubt
    z = NormalDist().inv_cdf(0.5 + level / 2)
    p, z2 = count / n, z * z
    middle = (p + z2 / (2 * n)) / (1 + z2 / n)
    half = z * math.sqrt(p * (1 - p) / n + z2 / (4 * n * n)) / (1 + z2 / n)
    # At the ends the limit is exactly 0 or 1; rounding must not leave 1e-17 there.
    low = 0.0 if count == 0 else middle - half
    high = 1.0 if count == n else middle + half
    return Interval(low, high, level, WILSON)


def clopper_pearson(count: int, n: int, level: float = 0.95) -> Interval | Reason:
    """The exact tail-area interval of a proportion."""
    doubt = counts_doubt(count, n, level)
    if doubt:
        return doubt
    tail = (1 - level) / 2
    low = 0.0 if count == 0 else binomial.beta_quantile(tail, float(count), n - count + 1.0)
    high = 1.0 if count == n else binomial.beta_quantile(1 - tail, count + 1.0, float(n - count))
    return Interval(low, high, level, CLOPPER_PEARSON)


def newcombe_difference(
    count_a: int, n_a: int, count_b: int, n_b: int, level: float = 0.95
) -> Interval | Reason:
    """The interval of proportion A minus proportion B, from the two Wilson intervals."""
    a, b = wilson(count_a, n_a, level), wilson(count_b, n_b, level)
    if isinstance(a, Reason):
        return a
    if isinstance(b, Reason):
        return b
    p_a, p_b = count_a / n_a, count_b / n_b
    below = math.hypot(p_a - a.low, b.high - p_b)
    above = math.hypot(a.high - p_a, p_b - b.low)
    return Interval(p_a - p_b - below, p_a - p_b + above, level, NEWCOMBE)


def upper_when_none(n: int, level: float = 0.95) -> float | Reason:
    """The one-sided upper limit of a rate when none of n failed; 3/n is its rule of thumb."""
    doubt = counts_doubt(0, n, level)
    return doubt or -math.expm1(math.log1p(-level) / n)
