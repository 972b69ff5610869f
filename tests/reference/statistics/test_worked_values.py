"""The thirty-two worked values, each with its source and mark, in the order of the table they come from."""

import math

import pytest

from labcheck.reference.figures import Reason
from labcheck.reference.statistics import charts, cusum, proportions, quantiles, ranks
from labcheck.reference.statistics.normal_run_length import normal_run_length
from labcheck.reference.statistics.proportions import Interval, clopper_pearson, newcombe_difference, wilson
from labcheck.reference.statistics.quantiles import QuantileRule
from tests.reference.statistics import series


def ends(interval: Interval | Reason) -> tuple[float, float]:
    assert isinstance(interval, Interval)
    return interval.low, interval.high


@pytest.mark.parametrize(
    ("count", "n", "expected"),
    [
        (81, 263, (0.2553, 0.3662)),  # 1: Newcombe, Stat Med 1998 (seen in a public test)
        (15, 148, (0.0624, 0.1605)),  # 2: Newcombe, Stat Med 1998 (seen in a public test)
        (0, 20, (0.0, 0.1611)),  # 3: Newcombe, Stat Med 1998 (from memory)
        (1, 29, (0.0061, 0.1718)),  # 4: Newcombe, Stat Med 1998 (from memory)
    ],
)
def test_wilson_gives_the_published_intervals(count: int, n: int, expected: tuple[float, float]) -> None:
    assert ends(wilson(count, n)) == pytest.approx(expected, abs=5.1e-5)


@pytest.mark.parametrize(
    ("count", "n", "expected"),
    [
        (81, 263, (0.2527, 0.3676)),
        (15, 148, (0.0578, 0.1617)),
        (0, 20, (0.0, 0.1684)),
        (1, 29, (0.0009, 0.1776)),
    ],
)
def test_clopper_pearson_gives_the_published_intervals(
    count: int, n: int, expected: tuple[float, float]
) -> None:
    """5: Newcombe, Stat Med 1998 (from memory)."""
    assert ends(clopper_pearson(count, n)) == pytest.approx(expected, abs=5.1e-5)


def test_clopper_pearson_gives_the_handbook_interval_at_ninety_per_cent() -> None:
    """6: NIST handbook 7.2.4.1 (from memory); its last printed digit is one off."""
    assert ends(clopper_pearson(4, 20, 0.90)) == pytest.approx((0.071354, 0.401029), abs=2e-6)


def test_the_intervals_of_the_single_arm_trial_count() -> None:
    """7, 8: 35 of 37 leaflets, Khan, JACC Cardiovasc Interv 2019 (count seen, interval derived)."""
    assert ends(wilson(35, 37)) == pytest.approx((0.822953, 0.985049), abs=1e-6)
    assert ends(clopper_pearson(35, 37)) == pytest.approx((0.818051, 0.993385), abs=1e-6)


def test_the_intervals_when_nothing_failed_end_at_one() -> None:
    """9: derived."""
    assert ends(clopper_pearson(37, 37)) == pytest.approx((0.905109, 1.0), abs=1e-6)
    assert ends(wilson(37, 37)) == pytest.approx((0.905942, 1.0), abs=1e-6)


def test_newcombe_gives_the_published_difference() -> None:
    """10: Newcombe, Stat Med 1998, second paper (seen in a public note)."""
    assert ends(newcombe_difference(56, 70, 48, 80)) == pytest.approx((0.0524, 0.3339), abs=5.1e-5)


def test_the_ninetieth_percentile_of_the_handbook_resistivities_depends_on_the_rule() -> None:
    """11: NIST handbook 7.2.6.2 (seen in a public test); type 7 and the median derived."""
    assert quantiles.quantile(series.RESISTIVITIES, 0.9, QuantileRule.TYPE_6) == pytest.approx(
        95.1981, abs=5e-5
    )
    assert quantiles.quantile(series.RESISTIVITIES, 0.9) == pytest.approx(95.19568, abs=5e-6)
    assert quantiles.quantile(series.RESISTIVITIES, 0.5) == pytest.approx(95.1579, abs=1e-9)


def test_the_handbook_individuals_chart() -> None:
    """12: NIST handbook 6.3.2.2 (seen)."""
    limits = charts.xmr_limits(series.FLOWRATES)
    assert isinstance(limits, charts.XmrLimits)
    assert limits.centre == pytest.approx(50.81)
    assert limits.mean_range == pytest.approx(1.8778, abs=5e-5)
    assert (limits.lower, limits.upper) == pytest.approx((45.8159, 55.8041), abs=5e-5)
    assert charts.outside_limits(series.FLOWRATES, limits) == ()
    rounded = (limits.centre - 2.66 * limits.mean_range, limits.centre + 2.66 * limits.mean_range)
    assert rounded == pytest.approx((45.8151, 55.8049), abs=5e-5)


def test_the_handbook_ewma_chart() -> None:
    """13: NIST handbook 6.3.2.4 (seen)."""
    points = charts.ewma(series.EWMA_VALUES, 50, 2.0539, 0.3, settled=True)
    assert not isinstance(points, Reason)
    assert [point.value for point in points] == pytest.approx(series.EWMA_EXPECTED, abs=5.1e-3)
    assert (points[0].upper, points[0].lower) == pytest.approx((52.5884, 47.4115), abs=1e-3)
    assert not any(point.outside for point in points)


def test_the_handbook_tabular_cusum() -> None:
    """14: NIST handbook 6.3.2.3 (seen); printed values are rounded to a hundredth."""
    points = charts.tabular_cusum(series.CUSUM_VALUES, 325, 0.3175)
    assert not isinstance(points, Reason)
    assert [point.upper for point in points] == pytest.approx(series.CUSUM_UPPER, abs=8e-3)
    assert [point.lower for point in points] == pytest.approx(series.CUSUM_LOWER, abs=8e-3)
    over = [i + 1 for i, point in enumerate(points) if max(point.upper, point.lower) > 4.1959]
    assert over[0] == 14


def test_the_textbook_cusum_first_signals_at_the_twenty_ninth_value() -> None:
    """15: Montgomery, Introduction to Statistical Quality Control, chapter 9 (seen in a public test)."""
    points = charts.tabular_cusum(series.MONTGOMERY, 10, 0.5)
    assert not isinstance(points, Reason)
    over = [i + 1 for i, point in enumerate(points) if max(point.upper, point.lower) > 5]
    assert over[0] == 29
    signal = points[28]
    assert signal.upper == pytest.approx(5.28)
    assert signal.upper_since == 7
    assert points[29].upper == pytest.approx(5.30)
    assert 10 + 0.5 + signal.upper / signal.upper_since == pytest.approx(11.25, abs=5e-3)


def test_runs_on_one_side_of_the_textbook_series() -> None:
    """16: derived."""
    values = series.MONTGOMERY
    assert [i + 1 for i in charts.long_runs(values, 10, 8)] == [30]
    assert [i + 1 for i in charts.long_runs(values, 10, 7)] == [29, 30]
    assert charts.long_runs(values, 10, 9) == ()
    assert all(7 <= value <= 13 for value in values)


def test_the_textbook_ewma_first_signals_at_the_twenty_ninth_value() -> None:
    """17: parameters of Montgomery (seen), values derived."""
    points = charts.ewma(series.MONTGOMERY, 10, 1, 0.1, 2.7)
    assert not isinstance(points, Reason)
    assert next(i + 1 for i, point in enumerate(points) if point.outside) == 29
    assert (points[27].value, points[27].upper) == pytest.approx((10.5731, 10.6186), abs=5e-5)
    assert (points[28].value, points[28].upper) == pytest.approx((10.6468, 10.6187), abs=5e-5)


@pytest.mark.parametrize(
    ("shift", "limit", "expected", "within"),
    [(1, 5, 10.4, 0.05), (1, 4, 8.38, 0.005), (0, 5, 2 * 465, 1.0), (1, 5, 10.38, 0.005), (0, 5, 930.6, 0.5)],
)
def test_run_length_of_the_textbook_normal_cusum(
    shift: float, limit: float, expected: float, within: float
) -> None:
    """18: Montgomery, chapter 9 (seen in a public test; two-sided 465 in control); last two rows derived."""
    assert normal_run_length(shift, 0.5, limit) == pytest.approx(expected, abs=within)


def risk(score: float, intercept: float = -3.68) -> float:
    return 1 / (1 + math.exp(-(intercept + 0.077 * score)))


@pytest.mark.parametrize(
    ("score", "odds_ratio", "expected"),
    [
        (0, 2.0, (-0.024, 0.669)),  # 19: Steiner, Biostatistics 2000 and 2014 (seen)
        (50, 2.0, (-0.433, 0.260)),  # 19
        (0, 0.5, (0.012, -0.681)),  # 20: Steiner 2014 (seen)
        (50, 0.5, (0.316, -0.377)),  # 20
    ],
)
def test_risk_adjusted_scores(score: float, odds_ratio: float, expected: tuple[float, float]) -> None:
    got = [cusum.risk_adjusted_score(failed, risk(score), odds_ratio) for failed in (False, True)]
    assert got == pytest.approx(expected, abs=5.1e-4)


def test_the_first_patient_of_the_published_risk_adjusted_chart() -> None:
    """21: Rigdon and Fricker 2015 (seen)."""
    up, down = (cusum.risk_adjusted_score(False, risk(19, -3.67), ratio) for ratio in (2.0, 0.5))
    assert not isinstance(up, Reason)
    assert not isinstance(down, Reason)
    up_chart, down_chart = cusum.chart([up], 4.5), cusum.chart([down], 4.5)
    assert isinstance(up_chart, cusum.Chart)
    assert isinstance(down_chart, cusum.Chart)
    assert up_chart.path == (0.0,)
    assert down_chart.path == pytest.approx((0.0508,), abs=5e-5)


@pytest.mark.parametrize(
    ("rates", "errors", "expected"),
    [
        # 22, 23: Rogers, J Thorac Cardiovasc Surg 2004, formula (seen), values derived
        ((0.1, 0.2), (0.01, 0.01), (2.25, 0.1452, 5.6665, 5.6665)),
        ((0.1, 0.2), (0.1, 0.1), (2.25, 0.1452, 2.7095, 2.7095)),
        # 24: HPB 2009, PMC2785951, parameters (seen), values derived
        ((0.2, 0.35), (0.1, 0.1), (2.1538, 0.2706, 2.8637, 2.8637)),
        # 25: PMC4188705, rates (seen), values derived
        ((0.05, 0.15), (0.05, 0.2), (3.3529, 0.0919, 1.2879, 2.2917)),
    ],
)
def test_the_chart_that_is_never_reset(
    rates: tuple[float, float], errors: tuple[float, float], expected: tuple[float, float, float, float]
) -> None:
    found = cusum.non_reset_chart(*rates, *errors)
    assert isinstance(found, cusum.NonResetChart)
    assert (found.odds_ratio, found.step, found.h0, found.h1) == pytest.approx(expected, abs=5.1e-5)


def test_nineteen_successes_or_four_failures_in_a_row_cross_the_limits() -> None:
    """23: derived."""
    found = cusum.non_reset_chart(0.1, 0.2, 0.1, 0.1)
    assert isinstance(found, cusum.NonResetChart)
    good, bad = found.path([False] * 19), found.path([True] * 4)
    assert [i + 1 for i, s in enumerate(good) if s <= -found.h0] == [19]
    assert [i + 1 for i, s in enumerate(bad) if s >= found.h1] == [4]


def test_the_scores_of_five_against_fifteen_per_cent() -> None:
    """25: rates of PMC4188705 (seen), values derived."""
    found = cusum.failure_scores(0.05, 0.15)
    assert isinstance(found, cusum.Scores)
    assert (found.success, found.failure) == pytest.approx((-0.1112, 1.0986), abs=5e-5)


def failed_at(*positions: int) -> list[bool]:
    return [i in positions for i in range(1, 38)]


def test_two_failures_in_thirty_seven_leaflets_do_not_signal_and_three_early_ones_do() -> None:
    """26: derived."""
    calm = cusum.failure_chart(failed_at(9, 30), 0.05, 0.15, math.log(16))
    assert isinstance(calm, cusum.Chart)
    assert calm.signal is None
    assert max(calm.path) == pytest.approx(1.0986, abs=5e-5)
    assert calm.path[-1] == pytest.approx(0.3200, abs=5e-5)
    early = cusum.failure_chart(failed_at(9, 12, 15), 0.05, 0.15, math.log(16))
    assert isinstance(early, cusum.Chart)
    assert early.signal == 14
    assert early.path[14] == pytest.approx(2.8509, abs=5e-5)


def test_eleven_straight_successes_reach_the_learning_limit() -> None:
    """27: Biau, Stat Med 2010; limit 1.25 (from memory), the rest derived."""
    found = cusum.learning_chart([False] * 11, 0.1, 0.2, cusum.LEARNING_LIMIT_10_20)
    assert isinstance(found, cusum.Chart)
    assert found.path[0] == pytest.approx(0.1178, abs=5e-5)
    assert found.signal == 10
    one_bad = cusum.learning_chart([False] * 10 + [True], 0.1, 0.2, cusum.LEARNING_LIMIT_10_20)
    assert isinstance(one_bad, cusum.Chart)
    assert one_bad.signal is None
    assert one_bad.path[-1] == pytest.approx(10 * 0.117783 - 0.6931, abs=5e-5)


def test_the_manual_example_of_the_exact_rank_test() -> None:
    """28: scipy manual (from memory)."""
    found = ranks.mann_whitney([19, 22, 16, 29, 24], [20, 11, 17, 12])
    assert isinstance(found, ranks.MannWhitney)
    assert found.u == 17
    assert found.p_two_sided == pytest.approx(0.1111, abs=5e-5)


def test_the_textbook_example_of_the_exact_shift() -> None:
    """29: Hollander and Wolfe, also in the R manual (from memory)."""
    first = [0.80, 0.83, 1.89, 1.04, 1.45, 1.38, 1.91, 1.64, 0.73, 1.46]
    second = [1.15, 0.88, 0.90, 0.74, 1.21]
    tested, shift = ranks.mann_whitney(first, second), ranks.hodges_lehmann(first, second)
    assert isinstance(tested, ranks.MannWhitney)
    assert isinstance(shift, ranks.Shift)
    assert tested.u == 35
    assert tested.p_first_larger == pytest.approx(0.1272, abs=5e-5)
    assert (shift.shift, shift.low, shift.high) == pytest.approx((0.305, -0.15, 0.76))
    assert shift.coverage == pytest.approx(0.960, abs=5e-4)
    assert sum(ranks.no_tie_counts(10, 5)) == 3003


@pytest.mark.parametrize(
    ("n", "places", "coverage"),
    [(6, (1, 6), 0.969), (10, (2, 9), 0.979), (20, (6, 15), 0.959), (37, (13, 25), 0.953)],
)
def test_the_ranks_of_a_median_interval(n: int, places: tuple[int, int], coverage: float) -> None:
    """30: derived."""
    found = quantiles.median_interval(range(1, n + 1))
    assert isinstance(found, quantiles.MedianInterval)
    assert (found.rank_low, found.rank_high) == places == (found.low, found.high)
    assert found.coverage == pytest.approx(coverage, abs=5.1e-4)


@pytest.mark.parametrize("n", range(1, 6))
def test_five_values_or_fewer_have_no_median_interval(n: int) -> None:
    """30: derived."""
    assert isinstance(quantiles.median_interval(range(n)), Reason)


def test_the_place_of_a_case_among_nineteen() -> None:
    """31: derived."""
    tied, slowest = quantiles.place(14, series.NINETEEN), quantiles.place(24, series.NINETEEN)
    assert isinstance(tied, quantiles.Place)
    assert isinstance(slowest, quantiles.Place)
    assert tied.percentile == pytest.approx(65.79, abs=5e-3)
    assert (slowest.percentile, slowest.slower) == (100, 0)
    assert slowest.slowest_by_chance == pytest.approx(0.05)
    seven = quantiles.quartiles(series.NINETEEN)
    six = quantiles.quartiles(series.NINETEEN, QuantileRule.TYPE_6)
    assert isinstance(seven, quantiles.Quartiles)
    assert isinstance(six, quantiles.Quartiles)
    assert (seven.lower, seven.median, seven.upper) == (11.5, 13, 14.5)
    assert (six.lower, six.median, six.upper) == (11, 13, 15)


def test_no_failure_in_thirty_seven_still_allows_nearly_eight_per_cent() -> None:
    """32: derived; the rule of three gives 8.11 %."""
    assert proportions.upper_when_none(37) == pytest.approx(0.0778, abs=5e-5)
    assert pytest.approx(0.0811, abs=5e-5) == 3 / 37
