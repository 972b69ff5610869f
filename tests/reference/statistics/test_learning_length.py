"""Run lengths of the learning-curve chart against all sequences, against sums kept as counts, and its limit."""

import itertools

import pytest

from labcheck.reference.figures import Reason
from labcheck.reference.statistics import gates, learning_length
from labcheck.reference.statistics.cusum import LEARNING_LIMIT_10_20, Chart, failure_scores, learning_chart


@pytest.mark.parametrize(("p0", "p1", "limit"), [(0.05, 0.15, 0.5), (0.1, 0.2, 0.6), (0.2, 0.35, 0.9)])
def test_the_chance_of_learned_is_that_of_all_sequences_that_say_so(
    p0: float, p1: float, limit: float
) -> None:
    n, rate = 11, 0.13
    chance = 0.0
    for failed in itertools.product((False, True), repeat=n):
        chart = learning_chart(failed, p0, p1, limit)
        assert isinstance(chart, Chart)
        if chart.signal is not None:
            chance += rate ** sum(failed) * (1 - rate) ** (n - sum(failed))
    assert learning_length.learned_within(n, rate, p0, p1, limit) == pytest.approx(chance, abs=1e-9)


def walked(rate: float, p0: float, p1: float, limit: float) -> float:
    """The average run length over the sums that can really be reached, kept as counts of failures and successes."""
    scores = failure_scores(p0, p1)
    assert not isinstance(scores, Reason)
    state = {(0, 0): 1.0}
    total, mass = 0.0, 1.0
    while mass > 1e-4:
        total += mass
        after: dict[tuple[int, int], float] = {}
        for (bad, good), chance in state.items():
            better = -bad * scores.failure - (good + 1) * scores.success
            if better < limit - 1e-12:
                after[bad, good + 1] = after.get((bad, good + 1), 0.0) + (1 - rate) * chance
            worse = -(bad + 1) * scores.failure - good * scores.success
            spot = (bad + 1, good) if worse > 1e-12 else (0, 0)
            after[spot] = after.get(spot, 0.0) + rate * chance
        state = {spot: chance for spot, chance in after.items() if chance > 1e-12}
        last, mass = mass, sum(state.values())
    return total + mass / (1 - mass / last)


@pytest.mark.parametrize(
    ("rate", "p0", "p1", "limit"),
    [(0.15, 0.05, 0.15, 2.0), (0.05, 0.05, 0.15, 2.0), (0.2, 0.1, 0.2, 1.5), (0.35, 0.2, 0.35, 2.0)],
)
def test_the_lattice_is_within_two_per_cent_of_the_sums_that_can_be_reached(
    rate: float, p0: float, p1: float, limit: float
) -> None:
    found = learning_length.learning_run_length(rate, p0, p1, limit)
    assert found == pytest.approx(walked(rate, p0, p1, limit), rel=0.02)


def test_the_published_limit_says_learned_wrongly_rather_soon() -> None:
    """Biau, Stat Med 2010, for 10 against 20 % (limit from memory): the run lengths are derived."""
    wrong, right = (
        learning_length.learning_run_length(rate, 0.1, 0.2, LEARNING_LIMIT_10_20) for rate in (0.2, 0.1)
    )
    assert wrong == pytest.approx(walked(0.2, 0.1, 0.2, LEARNING_LIMIT_10_20), rel=0.02)
    assert right == pytest.approx(walked(0.1, 0.1, 0.2, LEARNING_LIMIT_10_20), rel=0.02)


@pytest.mark.parametrize(("p0", "p1", "cases"), [(0.05, 0.15, 400.0), (0.1, 0.2, 100.0), (0.2, 0.35, 1000.0)])
def test_the_learning_limit_is_the_smallest_that_runs_long_enough_when_learned_would_be_wrong(
    p0: float, p1: float, cases: float
) -> None:
    limit = learning_length.learning_limit(p0, p1, cases)
    assert not isinstance(limit, Reason)
    before = learning_length.learning_run_length(p1, p0, p1, limit - 0.01)
    reached = learning_length.learning_run_length(p1, p0, p1, limit)
    assert not isinstance(before, Reason)
    assert not isinstance(reached, Reason)
    assert before < cases <= reached
    right = learning_length.learning_run_length(p0, p0, p1, limit)
    assert not isinstance(right, Reason)
    assert right < cases / 2


def test_a_learning_chart_needs_both_rates_agreed_first() -> None:
    assert isinstance(gates.learning([False], None, 0.15), Reason)
    assert isinstance(gates.learning([False], 0.15, 0.05), Reason)
    found = gates.learning([False] * 60, 0.05, 0.15)
    assert isinstance(found, Chart)
    assert found.limit == learning_length.learning_limit(0.05, 0.15, 400.0)
    assert found.signal is not None
