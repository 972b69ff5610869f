"""Exact funnel limits: which counts a site of n cases could show by chance alone. For pooled registries
only."""

from collections.abc import Callable
from dataclasses import dataclass

from labcheck.reference.figures import Reason
from labcheck.reference.sources import Mark, Source
from labcheck.reference.statistics import binomial
from labcheck.reference.statistics.proportions import counts_doubt

FUNNEL = Source("exact binomial funnel limits, 95 and 99.8 %", Mark.DERIVED)

WARNING_LEVEL = 0.95
ACTION_LEVEL = 0.998


@dataclass(frozen=True, slots=True)
class FunnelLimits:
    """The lowest and highest count inside the limits for `n` cases at a target rate."""

    n: int
    low: int
    high: int
    level: float
    source: Source = FUNNEL

    def outside(self, count: int) -> bool:
        """Whether a count lies outside."""
        return not self.low <= count <= self.high


def funnel_limits(n: int, target: float, level: float = WARNING_LEVEL) -> FunnelLimits | Reason:
    """Counts are inside while each tail beyond them keeps more than half of what `level` leaves out."""
    doubt = counts_doubt(0, n, level)
    if doubt:
        return doubt
    if not 0.0 < target < 1.0:
        return Reason("the target rate must lie between 0 and 1")
    tail = (1 - level) / 2
    low = _first(n, lambda count: binomial.at_most(count, n, target) > tail)
    high = _first(n, lambda count: binomial.at_least(count + 1, n, target) <= tail)
    return FunnelLimits(n, low, high, level)


def _first(n: int, holds: Callable[[int], bool]) -> int:
    """The smallest count 0 ... n at which a condition that stays true holds."""
    low, high = 0, n
    while low < high:
        middle = (low + high) // 2
        if holds(middle):
            high = middle
        else:
            low = middle + 1
    return low
