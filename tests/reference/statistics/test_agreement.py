"""Agreement with scipy and numpy, which are used in tests only, over thousands of random inputs; and with plain
counting where those have nothing to compare."""

import itertools
import math
import subprocess
import sys
from typing import Literal

import numpy as np
import pytest
from scipy import stats

from labcheck.reference.figures import Reason
from labcheck.reference.statistics import binomial, funnel, proportions, quantiles, ranks
from labcheck.reference.statistics.quantiles import QuantileRule

NEAR = 1e-9


def counts(rng: np.random.Generator, how_many: int, largest: int = 1000) -> list[tuple[int, int]]:
    sizes = np.rint(np.exp(rng.uniform(0, math.log(largest), how_many))).astype(int)
    return [(int(rng.integers(0, n + 1)), int(n)) for n in sizes]


def test_clopper_pearson_agrees_over_two_thousand_counts() -> None:
    rng = np.random.default_rng(11)
    pairs = counts(rng, 2000)
    k, n = np.array(pairs).T
    low = np.where(k == 0, 0.0, stats.beta.ppf(0.025, np.maximum(k, 1), n - k + 1))
    high = np.where(k == n, 1.0, stats.beta.ppf(0.975, k + 1, np.maximum(n - k, 1)))
    for (count, size), a, b in zip(pairs, low, high, strict=True):
        found = proportions.clopper_pearson(count, size)
        assert isinstance(found, proportions.Interval)
        assert (found.low, found.high) == pytest.approx((a, b), abs=NEAR)


def test_wilson_agrees_over_a_thousand_counts_at_any_level() -> None:
    rng = np.random.default_rng(12)
    for count, size in counts(rng, 1000):
        level = float(rng.uniform(0.5, 0.999))
        expected = stats.binomtest(count, size).proportion_ci(level, method="wilson")
        found = proportions.wilson(count, size, level)
        assert isinstance(found, proportions.Interval)
        assert (found.low, found.high) == pytest.approx((expected.low, expected.high), abs=NEAR)


def test_binomial_tails_agree_over_three_thousand_inputs() -> None:
    rng = np.random.default_rng(13)
    pairs = counts(rng, 3000, 10_000)
    k, n = np.array(pairs).T
    p = rng.uniform(0.001, 0.999, len(pairs))
    below = np.asarray(stats.binom.cdf(k, n, p))
    above = np.asarray(stats.binom.sf(k - 1, n, p))
    at = np.asarray(stats.binom.pmf(k, n, p))
    for i, (count, size) in enumerate(pairs):
        rate = float(p[i])
        assert binomial.at_most(count, size, rate) == pytest.approx(below[i], abs=NEAR)
        assert binomial.at_least(count, size, rate) == pytest.approx(above[i], abs=NEAR)
        assert binomial.probability(count, size, rate) == pytest.approx(at[i], abs=NEAR)


def test_funnel_limits_are_the_binomial_quantiles() -> None:
    rng = np.random.default_rng(14)
    for _, size in counts(rng, 1000, 3000):
        target, level = float(rng.uniform(0.01, 0.99)), float(rng.choice([0.95, 0.998]))
        found = funnel.funnel_limits(size, target, level)
        assert isinstance(found, funnel.FunnelLimits)
        tail = (1 - level) / 2
        assert found.low == stats.binom.ppf(tail, size, target)
        assert found.high == stats.binom.ppf(1 - tail, size, target)
        assert not found.outside(found.low)
        assert found.outside(found.low - 1)


def test_quantiles_and_places_agree_over_two_thousand_samples() -> None:
    rng = np.random.default_rng(15)
    for _ in range(2000):
        # Whole minutes, so that ties are common.
        values = rng.integers(5, 40, int(rng.integers(1, 30))).astype(float)
        p = float(rng.uniform(0, 1))
        plain = [float(v) for v in values]
        assert quantiles.quantile(plain, p) == pytest.approx(float(np.quantile(values, p)), abs=NEAR)
        six = quantiles.quantile(plain, p, QuantileRule.TYPE_6)
        assert six == pytest.approx(float(np.quantile(values, p, method="weibull")), abs=NEAR)
        found = quantiles.place(20.0, plain)
        assert isinstance(found, quantiles.Place)
        assert found.percentile == pytest.approx(stats.percentileofscore(values, 20.0, kind="mean"), abs=NEAR)


def test_median_intervals_have_the_coverage_of_the_binomial() -> None:
    for n in range(6, 200):
        found = quantiles.median_interval(range(1, n + 1))
        assert isinstance(found, quantiles.MedianInterval)
        assert found.coverage == pytest.approx(1 - 2 * stats.binom.cdf(found.rank_low - 1, n, 0.5), abs=NEAR)
        assert 1 - 2 * stats.binom.cdf(found.rank_low, n, 0.5) < 0.95 <= found.coverage


def test_the_exact_rank_test_agrees_over_five_hundred_pairs_of_groups() -> None:
    rng = np.random.default_rng(16)
    for _ in range(500):
        m, n = (int(size) for size in rng.integers(1, 12, 2))
        first, second = rng.normal(0.3, 1, m), rng.normal(0, 1, n)
        found = ranks.mann_whitney(list(first), list(second))
        assert isinstance(found, ranks.MannWhitney)
        answers: tuple[tuple[float, Literal["two-sided", "greater", "less"]], ...] = (
            (found.p_two_sided, "two-sided"),
            (found.p_first_larger, "greater"),
            (found.p_first_smaller, "less"),
        )
        for got, alternative in answers:
            expected = stats.mannwhitneyu(first, second, alternative=alternative, method="exact")
            assert got == pytest.approx(expected.pvalue, abs=NEAR)
            assert found.u == expected.statistic


def u_of(first: list[int], second: list[int]) -> float:
    return sum((x > y) + (x == y) / 2 for x in first for y in second)


def test_with_ties_the_rank_test_counts_every_way_to_deal_the_values_out() -> None:
    rng = np.random.default_rng(17)
    for _ in range(60):
        m, n = (int(size) for size in rng.integers(1, 6, 2))
        pooled = [int(v) for v in rng.integers(1, 5, m + n)]
        seen = u_of(pooled[:m], pooled[m:])
        ways = [
            u_of([pooled[i] for i in chosen], [pooled[i] for i in range(m + n) if i not in chosen])
            for chosen in itertools.combinations(range(m + n), m)
        ]
        found = ranks.mann_whitney(pooled[:m], pooled[m:])
        assert isinstance(found, ranks.MannWhitney)
        assert found.u == seen
        assert found.p_first_larger == pytest.approx(sum(u >= seen for u in ways) / len(ways), abs=NEAR)
        assert found.p_first_smaller == pytest.approx(sum(u <= seen for u in ways) / len(ways), abs=NEAR)


def test_the_shift_interval_holds_the_shifts_that_the_rank_test_does_not_reject() -> None:
    rng = np.random.default_rng(18)
    for _ in range(100):
        m, n = (int(size) for size in rng.integers(4, 10, 2))
        first, second = rng.normal(1, 1, m), rng.normal(0, 1, n)
        found = ranks.hodges_lehmann(list(first), list(second))
        assert isinstance(found, ranks.Shift)
        differences = np.subtract.outer(first, second)
        assert found.shift == pytest.approx(float(np.median(differences)), abs=NEAR)
        assert found.coverage >= 0.95
        for shift, kept in (
            (found.low + 1e-7, True), (found.low - 1e-7, False), (found.high - 1e-7, True), (found.high + 1e-7, False),
        ):  # fmt: skip
            p = stats.mannwhitneyu(first - shift, second, method="exact").pvalue
            assert bool(p > 0.05) is kept


def test_groups_of_three_are_too_small_for_a_shift_interval() -> None:
    assert isinstance(ranks.hodges_lehmann([1.0, 2.0, 3.0], [4.0, 5.0, 6.0]), Reason)


def test_groups_too_large_for_exact_counting_give_a_reason() -> None:
    many = [float(i) for i in range(300)]
    assert isinstance(ranks.mann_whitney(many, many), Reason)
    tied = [float(i % 9) for i in range(60)]
    assert isinstance(ranks.mann_whitney(tied, tied), Reason)


def test_the_product_itself_imports_neither_scipy_nor_numpy() -> None:
    code = (
        "import sys, labcheck.reference.statistics.gates, labcheck.reference.projections;"
        "sys.exit(bool({'scipy', 'numpy'} & set(sys.modules)))"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
