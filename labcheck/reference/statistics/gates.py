"""What may be shown at which n. The debrief asks here and nowhere else, so that no page fools a team on
small numbers.

Below a gate the raw values or the bare count are given and nothing is computed from them. The gates are
common practice, no source, unless a line says otherwise.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from labcheck.reference.figures import Reason
from labcheck.reference.statistics import (
    charts,
    cusum,
    learning_length,
    proportions,
    quantiles,
    ranks,
    run_length,
)

HISTORY_FROM = 5
"""Earlier cases before a median, quartiles and a rank are shown."""
RATE_INTERVAL_FROM = 5
"""Cases before a count gets an interval; below it the count stands alone."""
RUN_CHART_FROM = 8
LIMITS_PROVISIONAL_FROM = 12
LIMITS_FIRM_FROM = 20
ARM_FROM = 4
"""Cases in each group before two are compared: three against three can never reach p below 0.10 (derived)."""
RUN_LENGTH_CASES = 400.0
"""Average cases to a false alarm by which the failure chart's limit is chosen, unless a site agrees
another."""


class Standing(StrEnum):
    """How far control limits may be trusted."""

    NONE = "no limits yet"
    PROVISIONAL = "provisional"
    FIRM = "firm"


@dataclass(frozen=True, slots=True)
class AgainstHistory:
    """A value against earlier ones. Everything but the values is None below the gate."""

    value: float
    earlier: tuple[float, ...]
    quartiles: quantiles.Quartiles | None
    place: quantiles.Place | None
    median_interval: quantiles.MedianInterval | None


@dataclass(frozen=True, slots=True)
class Success:
    """`count` of `n`, and the Wilson interval once n allows one. There is no percentage without an
    interval."""

    count: int
    n: int
    interval: proportions.Interval | None

    def text(self) -> str:
        """`35 of 37 (95 % interval 82.3 to 98.5 %)`, or the count alone."""
        if self.interval is None:
            return f"{self.count} of {self.n}"
        level, low, high = (100 * x for x in (self.interval.level, self.interval.low, self.interval.high))
        return f"{self.count} of {self.n} ({level:.0f} % interval {low:.1f} to {high:.1f} %)"


@dataclass(frozen=True, slots=True)
class Trend:
    """Minutes in time order with what may be drawn over them; positions count from 0."""

    minutes: tuple[float, ...]
    median: float | None
    runs: tuple[int, ...]
    limits: charts.XmrLimits | None
    standing: Standing
    outside: tuple[int, ...]


def against_history(value: float, earlier: Sequence[float]) -> AgainstHistory | Reason:
    """A value against own earlier cases; with fewer than five of them their values only."""
    if isinstance(quantiles.finite_sorted([value, *earlier]), Reason):
        return Reason("a value is not a finite number")
    kept = tuple(float(one) for one in earlier)
    if len(kept) < HISTORY_FROM:
        return AgainstHistory(float(value), kept, None, None, None)
    spread, where = quantiles.quartiles(kept), quantiles.place(value, kept)
    interval = quantiles.median_interval(kept)
    return AgainstHistory(
        float(value),
        kept,
        None if isinstance(spread, Reason) else spread,
        None if isinstance(where, Reason) else where,
        None if isinstance(interval, Reason) else interval,
    )


def success(count: int, n: int) -> Success | Reason:
    """A success count with its Wilson interval, or the count alone below five cases."""
    if n == 0 and count == 0:
        return Success(0, 0, None)
    interval = proportions.wilson(count, n)
    if isinstance(interval, Reason):
        return interval
    return Success(count, n, interval if n >= RATE_INTERVAL_FROM else None)


def exact_success(count: int, n: int) -> proportions.Interval | Reason:
    """The exact interval of a success count, from as many cases on as the Wilson one."""
    if n < RATE_INTERVAL_FROM:
        return Reason(f"no interval below {RATE_INTERVAL_FROM} cases")
    return proportions.clopper_pearson(count, n)


def trend(minutes: Sequence[float]) -> Trend | Reason:
    """A run chart from eight cases; limits on log-minutes, provisional from twelve and firm from twenty."""
    checked = quantiles.finite_sorted(minutes) if minutes else []
    if isinstance(checked, Reason):
        return checked
    kept = tuple(float(one) for one in minutes)
    if len(kept) < RUN_CHART_FROM:
        return Trend(kept, None, (), None, Standing.NONE, ())
    middle = quantiles.quantile(kept, 0.5)
    if isinstance(middle, Reason):
        return middle
    runs = charts.long_runs(kept, middle)
    if len(kept) < LIMITS_PROVISIONAL_FROM:
        return Trend(kept, middle, runs, None, Standing.NONE, ())
    limits = charts.log_xmr_limits(kept)
    if isinstance(limits, Reason):
        return limits
    standing = Standing.FIRM if len(kept) >= LIMITS_FIRM_FROM else Standing.PROVISIONAL
    return Trend(kept, middle, runs, limits, standing, charts.outside_limits(kept, limits))


def failures(
    failed: Sequence[bool], p0: float | None, p1: float | None, cases_to_false_alarm: float = RUN_LENGTH_CASES
) -> cusum.Chart | Reason:
    """The reset failure chart with its limit by run length, once both rates have been agreed."""
    if p0 is None or p1 is None:
        return Reason("the acceptable and the unacceptable failure rate must be agreed in writing first")
    limit = run_length.limit_for_run_length(p0, p1, cases_to_false_alarm)
    return limit if isinstance(limit, Reason) else cusum.failure_chart(failed, p0, p1, limit)


def learning(
    failed: Sequence[bool],
    p0: float | None,
    p1: float | None,
    cases_to_wrong_signal: float = RUN_LENGTH_CASES,
) -> cusum.Chart | Reason:
    """The learning-curve chart with its limit by run length at the unacceptable rate, once both rates have been
    agreed."""
    if p0 is None or p1 is None:
        return Reason("the acceptable and the unacceptable failure rate must be agreed in writing first")
    limit = learning_length.learning_limit(p0, p1, cases_to_wrong_signal)
    return limit if isinstance(limit, Reason) else cusum.learning_chart(failed, p0, p1, limit)


def times_compared(first: Sequence[float], second: Sequence[float]) -> ranks.Shift | Reason:
    """The shift between two groups of times with its exact interval; four or more in each."""
    doubt = arms_doubt(len(first), len(second))
    return doubt or ranks.hodges_lehmann(first, second)


def counts_compared(count_a: int, n_a: int, count_b: int, n_b: int) -> proportions.Interval | Reason:
    """The difference of two success proportions with its interval; four or more in each."""
    doubt = arms_doubt(n_a, n_b)
    return doubt or proportions.newcombe_difference(count_a, n_a, count_b, n_b)


def arms_doubt(n_a: int, n_b: int) -> Reason | None:
    """Why two groups of so many cases are not compared, or None."""
    if min(n_a, n_b) < ARM_FROM:
        return Reason(f"{n_a} against {n_b} cases: each group needs {ARM_FROM} before they are compared")
    return None
