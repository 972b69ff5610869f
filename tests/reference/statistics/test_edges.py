"""The ends of what the charts and quantiles accept, and what happens exactly on a line."""

import math

import pytest

from labcheck.reference.figures import Reason
from labcheck.reference.statistics import charts, cusum, gates, quantiles
from labcheck.reference.statistics.quantiles import QuantileRule

LIMITS = charts.XmrLimits(centre=10, lower=5, upper=15, mean_range=1, range_upper=3.267)


def test_a_value_on_a_limit_is_inside() -> None:
    assert charts.outside_limits([5, 15, 4.999, 15.001], LIMITS) == (2, 3)
    assert not charts.EwmaPoint(5, 5, 15).outside
    assert not charts.EwmaPoint(15, 5, 15).outside


def test_a_value_on_the_centre_line_belongs_to_neither_side() -> None:
    assert charts.long_runs([*[9.0] * 7, 10.0], 10) == ()
    assert charts.long_runs([*[11.0] * 7, 10.0], 10) == ()
    assert charts.long_runs([10.0] * 9, 10) == ()


def test_a_moving_range_needs_two_values_and_its_limit_is_3_267_times_the_mean() -> None:
    """Factor 3.267 for ranges of two (common practice, no source)."""
    assert isinstance(charts.xmr_limits([10.0]), Reason)
    found = charts.xmr_limits([10.0, 12.0])
    assert isinstance(found, charts.XmrLimits)
    assert (found.mean_range, found.range_upper) == pytest.approx((2.0, 6.534))


def test_a_time_of_zero_has_no_logarithm_and_half_a_minute_has() -> None:
    assert isinstance(charts.log_xmr_limits([0.0, 12.0]), Reason)
    found = charts.log_xmr_limits([0.5, 0.5])
    assert isinstance(found, charts.XmrLimits)
    assert (found.lower, found.centre, found.upper) == pytest.approx((0.5, 0.5, 0.5))


@pytest.mark.parametrize(
    ("sigma", "weight", "width"),
    [
        (0.0, 0.2, 3.0),
        (1.0, 0.0, 3.0),
        (1.0, 1.01, 3.0),
        (1.0, 0.2, 0.0),
        (-1.0, 0.2, 3.0),
        (math.nan, 0.2, 3.0),
    ],
)
def test_an_ewma_without_a_sensible_weight_sigma_or_width_is_a_reason(
    sigma: float, weight: float, width: float
) -> None:
    assert isinstance(charts.ewma([1.0, 2.0], 1.0, sigma, weight, width), Reason)


def test_an_ewma_of_full_weight_is_the_series_itself() -> None:
    found = charts.ewma([1.0, 2.0, 0.5], 1.0, 0.5, 1.0)
    assert not isinstance(found, Reason)
    assert [point.value for point in found] == [1.0, 2.0, 0.5]


def test_each_side_of_a_tabular_cusum_counts_how_long_it_has_been_up() -> None:
    found = charts.tabular_cusum([8.0, 8.0, 12.5, 12.0], 10, 0.5)
    assert not isinstance(found, Reason)
    assert [(point.lower_since, point.upper_since) for point in found] == [(1, 0), (2, 0), (0, 1), (0, 2)]
    on_the_allowance = charts.tabular_cusum([10.5, 9.5], 10, 0.5)
    assert not isinstance(on_the_allowance, Reason)
    assert [(point.lower_since, point.upper_since) for point in on_the_allowance] == [(0, 0), (0, 0)]


@pytest.mark.parametrize(("p0", "p1"), [(0.0, 0.1), (0.1, 0.1), (0.2, 0.1), (0.1, 1.0), (0.1, 1.5)])
def test_rates_that_are_not_two_rising_rates_below_one_are_a_reason(p0: float, p1: float) -> None:
    assert isinstance(cusum.failure_scores(p0, p1), Reason)


@pytest.mark.parametrize(("risk", "ratio"), [(0.0, 2.0), (1.0, 2.0), (1.5, 2.0), (0.5, 0.0), (0.5, math.inf)])
def test_a_risk_of_none_or_certainty_has_no_score(risk: float, ratio: float) -> None:
    assert isinstance(cusum.risk_adjusted_score(True, risk, ratio), Reason)


@pytest.mark.parametrize("limit", [0.0, -1.0, math.inf, math.nan])
def test_a_limit_that_could_never_or_always_signal_is_a_reason(limit: float) -> None:
    assert isinstance(cusum.chart([0.1], limit), Reason)


def test_a_sum_exactly_on_the_limit_signals() -> None:
    found = cusum.chart([0.25, 0.25], 0.5)
    assert isinstance(found, cusum.Chart)
    assert found.signal == 1


@pytest.mark.parametrize("rule", QuantileRule)
def test_the_ends_of_a_sample_are_its_extreme_quantiles(rule: QuantileRule) -> None:
    assert quantiles.quantile([3.0, 1.0, 2.0], 0.0, rule) == 1.0
    assert quantiles.quantile([3.0, 1.0, 2.0], 1.0, rule) == 3.0
    assert quantiles.quantile([7.0], 0.9, rule) == 7.0
    assert isinstance(quantiles.quantile([1.0, 2.0], 1.01, rule), Reason)
    assert isinstance(quantiles.quantile([1.0, 2.0], -0.01, rule), Reason)


@pytest.mark.parametrize("level", [0.0, 1.0, 1.2, math.nan])
def test_a_confidence_of_none_or_certainty_has_no_median_interval(level: float) -> None:
    assert isinstance(quantiles.median_interval(range(30), level), Reason)


def test_no_cases_are_said_as_none_of_none() -> None:
    found = gates.success(0, 0)
    assert isinstance(found, gates.Success)
    assert found.text() == "0 of 0"


@pytest.mark.parametrize(
    ("alpha", "beta"), [(0.0, 0.1), (0.1, 0.0), (1.0, 0.1), (0.1, 1.0), (0.5, 0.5), (math.nan, 0.1)]
)
def test_error_rates_that_leave_no_room_between_the_limits_are_a_reason(alpha: float, beta: float) -> None:
    assert isinstance(cusum.non_reset_chart(0.1, 0.2, alpha, beta), Reason)
