"""Small numbers: nothing is shown that the gates forbid, and no input makes an exception."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labcheck.reference.figures import Reason
from labcheck.reference.statistics import (
    charts,
    cusum,
    funnel,
    gates,
    proportions,
    quantiles,
    ranks,
    run_length,
)
from labcheck.reference.statistics.gates import AgainstHistory, Standing, Success, Trend

MINUTES = (24.0, 31.0, 19.0, 42.0, 27.0, 35.0, 22.0, 29.0, 38.0, 26.0, 33.0, 21.0, 45.0, 28.0, 30.0, 25.0, 36.0,
           23.0, 32.0, 34.0, 27.5)  # fmt: skip


@pytest.mark.parametrize("n", range(7))
def test_small_histories_show_no_interval_limit_or_percentage_that_is_forbidden(n: int) -> None:
    history = gates.against_history(30.0, MINUTES[:n])
    assert isinstance(history, AgainstHistory)
    assert history.earlier == MINUTES[:n]
    assert (history.quartiles is not None) == (history.place is not None) == (n >= 5)
    assert (history.median_interval is not None) == (n >= 6)

    for count in range(n + 1):
        found = gates.success(count, n)
        assert isinstance(found, Success)
        assert (found.interval is not None) == (n >= 5)
        assert ("%" in found.text()) == (n >= 5)

    trend = gates.trend(MINUTES[:n])
    assert isinstance(trend, Trend)
    assert (trend.median, trend.limits, trend.runs, trend.standing) == (None, None, (), Standing.NONE)

    assert isinstance(gates.times_compared(MINUTES[:n], MINUTES[: 7 - n]), Reason)
    assert isinstance(gates.counts_compared(0, n, 0, 7 - n), Reason)


@pytest.mark.parametrize(
    ("n", "run_chart", "standing"),
    [(7, False, Standing.NONE), (8, True, Standing.NONE), (11, True, Standing.NONE), (12, True, Standing.PROVISIONAL),
     (19, True, Standing.PROVISIONAL), (20, True, Standing.FIRM)],
)  # fmt: skip
def test_a_run_chart_comes_at_eight_and_limits_at_twelve_and_twenty(
    n: int, run_chart: bool, standing: Standing
) -> None:
    found = gates.trend(MINUTES[:n])
    assert isinstance(found, Trend)
    assert (found.median is not None) == run_chart
    assert found.standing is standing
    assert (found.limits is not None) == (standing is not Standing.NONE)


def test_limits_are_computed_on_log_minutes() -> None:
    found = gates.trend(MINUTES[:20])
    raw = charts.xmr_limits(MINUTES[:20])
    assert isinstance(found, Trend)
    assert isinstance(raw, charts.XmrLimits)
    assert found.limits is not None
    assert 0 < found.limits.lower < found.limits.upper
    assert found.limits.centre == pytest.approx(math.prod(MINUTES[:20]) ** (1 / 20))
    assert found.limits.upper > raw.upper


def test_a_long_time_after_twenty_ordinary_ones_lies_outside() -> None:
    found = gates.trend([*MINUTES[:20], 400.0])
    assert isinstance(found, Trend)
    assert found.outside == (20,)


def test_two_groups_need_four_cases_each() -> None:
    assert isinstance(gates.times_compared(MINUTES[:3], MINUTES[3:15]), Reason)
    assert isinstance(gates.times_compared(MINUTES[:4], MINUTES[4:8]), ranks.Shift)
    assert isinstance(gates.counts_compared(3, 3, 10, 12), Reason)
    assert isinstance(gates.counts_compared(3, 4, 10, 12), proportions.Interval)


def test_three_against_three_can_never_reach_five_per_cent() -> None:
    found = ranks.mann_whitney([1.0, 2.0, 3.0], [4.0, 5.0, 6.0])
    assert isinstance(found, ranks.MannWhitney)
    assert found.p_two_sided == pytest.approx(0.10)


def test_a_failure_chart_needs_both_rates_agreed_first() -> None:
    assert isinstance(gates.failures([True, False], 0.05, None), Reason)
    found = gates.failures([False] * 20, 0.05, 0.15)
    assert isinstance(found, cusum.Chart)
    assert found.signal is None
    assert found.limit == run_length.limit_for_run_length(0.05, 0.15, 400.0)


def test_success_says_the_count_before_the_interval() -> None:
    """35 of 37: Khan, JACC Cardiovasc Interv 2019 (count seen)."""
    found = gates.success(35, 37)
    assert isinstance(found, Success)
    assert found.text() == "35 of 37 (95 % interval 82.3 to 98.5 %)"


def test_a_value_on_the_centre_line_ends_a_run() -> None:
    above = [11.0] * 7
    assert charts.long_runs([*above, 11.0], 10) == (7,)
    assert charts.long_runs([*above, 10.0, 11.0], 10) == ()
    assert charts.long_runs([*above, 9.0], 10) == ()
    assert charts.long_runs([9.0] * 9, 10) == (7, 8)


NUMBERS = st.lists(
    st.floats() | st.floats(0.1, 500) | st.sampled_from([1e308, -1e308, 5e-324, math.nan, -0.0]), max_size=25
)
COUNTS = st.integers(-5, 60)
RATES = st.floats() | st.floats(0.01, 0.5)


@settings(max_examples=200, deadline=None)
@given(NUMBERS, NUMBERS, st.floats())
def test_odd_times_give_an_answer_or_a_reason(first: list[float], second: list[float], value: float) -> None:
    for found in (
        gates.against_history(value, first),
        gates.trend(first),
        gates.times_compared(first, second),
        ranks.mann_whitney(first, second),
        quantiles.quantile(first, value),
        charts.xmr_limits(first),
        charts.ewma(first, value, 1.0, 0.2),
        charts.tabular_cusum(first, value, 0.5),
    ):
        assert not isinstance(found, Reason) or found.text


@settings(max_examples=200, deadline=None)
@given(COUNTS, COUNTS, COUNTS, COUNTS, RATES)
def test_odd_counts_give_an_interval_that_holds_the_proportion_or_a_reason(
    k: int, n: int, j: int, m: int, rate: float
) -> None:
    gates.counts_compared(k, n, j, m)
    funnel.funnel_limits(n, rate)
    proportions.upper_when_none(n, rate)
    for level in (0.95, rate):
        for found in (proportions.wilson(k, n, level), proportions.clopper_pearson(k, n, level)):
            if isinstance(found, proportions.Interval):
                assert 0 <= found.low <= found.high <= 1
                assert found.low - 1e-12 <= k / n <= found.high + 1e-12
            else:
                assert n < 1 or not 0 <= k <= n or not 0 < level < 0.999999
    shown = gates.success(k, n)
    assert isinstance(shown, Reason) or 0 <= k <= n


@settings(max_examples=60, deadline=None)
@given(st.lists(st.booleans(), max_size=30), RATES, RATES, RATES)
def test_odd_rates_give_a_chart_or_a_reason(failed: list[bool], p0: float, p1: float, limit: float) -> None:
    for found in (
        cusum.failure_chart(failed, p0, p1, limit),
        cusum.learning_chart(failed, p0, p1, limit),
        cusum.non_reset_chart(p0, p1, limit, p0),
        cusum.risk_adjusted_score(True, p0, p1),
    ):
        assert not isinstance(found, Reason) or found.text
