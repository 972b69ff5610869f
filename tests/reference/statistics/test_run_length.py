"""Run lengths of the reset failure chart: the frozen table, and two computations that use no lattice."""

import itertools
import math

import pytest

from labcheck.reference.figures import Reason
from labcheck.reference.statistics import run_length
from labcheck.reference.statistics.cusum import Chart, failure_chart, failure_scores
from labcheck.reference.statistics.run_length import Lattice


def test_the_table_of_five_against_fifteen_per_cent() -> None:
    """Derived: an earlier Markov chain, one entry confirmed by simulation (405 +/- 10 for 402)."""
    rows = run_length.run_length_table(0.05, 0.15, (2.0, math.log(16), 3.5), 37)
    assert not isinstance(rows, Reason)
    assert [row.average_acceptable for row in rows] == pytest.approx([152, 402, 912], abs=0.5)
    assert [row.average_unacceptable for row in rows] == pytest.approx([21.8, 32.4, 42.6], abs=0.05)
    assert [100 * row.false_alarm for row in rows] == pytest.approx([19.9, 6.6, 2.4], abs=0.06)
    assert [100 * row.detection for row in rows] == pytest.approx([84.6, 69.0, 54.5], abs=0.06)


@pytest.mark.parametrize(("p0", "p1", "limit"), [(0.05, 0.15, 1.5), (0.1, 0.2, 1.0), (0.2, 0.35, 0.9)])
def test_the_chance_of_a_signal_is_that_of_all_sequences_that_signal(
    p0: float, p1: float, limit: float
) -> None:
    n, rate = 11, 0.13
    chance = 0.0
    for failed in itertools.product((False, True), repeat=n):
        chart = failure_chart(failed, p0, p1, limit)
        assert isinstance(chart, Chart)
        if chart.signal is not None:
            chance += rate ** sum(failed) * (1 - rate) ** (n - sum(failed))
    assert run_length.signal_within(n, rate, p0, p1, limit) == pytest.approx(chance, abs=1e-9)


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
            worse = (bad + 1) * scores.failure + good * scores.success
            if worse < limit - 1e-12:
                after[bad + 1, good] = after.get((bad + 1, good), 0.0) + rate * chance
            better = bad * scores.failure + (good + 1) * scores.success
            spot = (bad, good + 1) if better > 1e-12 else (0, 0)
            after[spot] = after.get(spot, 0.0) + (1 - rate) * chance
        state = {spot: chance for spot, chance in after.items() if chance > 1e-12}
        last, mass = mass, sum(state.values())
    return total + mass / (1 - mass / last)


@pytest.mark.parametrize(
    ("rate", "p0", "p1", "limit"),
    [(0.15, 0.05, 0.15, math.log(16)), (0.2, 0.1, 0.2, 2.0), (0.35, 0.2, 0.35, 2.5), (0.1, 0.02, 0.05, 1.5)],
)
def test_the_lattice_is_within_one_per_cent_of_the_sums_that_can_be_reached(
    rate: float, p0: float, p1: float, limit: float
) -> None:
    assert run_length.average_run_length(rate, p0, p1, limit) == pytest.approx(
        walked(rate, p0, p1, limit), rel=0.01
    )


def stepped(lattice: Lattice, rate: float, cases: int) -> list[tuple[float, float]]:
    """The chances of no signal yet and of one at the next case, level by level and without any short cut."""
    state, out = {0: 1.0}, []
    for _ in range(cases):
        after: dict[int, float] = {}
        signal = 0.0
        for level, chance in state.items():
            low = max(0, level - lattice.down)
            after[low] = after.get(low, 0.0) + (1 - rate) * chance
            if level + lattice.up >= lattice.top:
                signal += rate * chance
            else:
                after[level + lattice.up] = after.get(level + lattice.up, 0.0) + rate * chance
        out.append((sum(state.values()), signal))
        state = after
    return out


@pytest.mark.parametrize(
    ("down", "up", "top", "rate"),
    [
        (8, 79, 198, 0.05),
        (17, 100, 380, 0.1),
        (3, 2, 30, 0.4),
        (22, 65, 1, 0.3),
        (9, 4, 5, 0.9),
        (1, 1, 40, 0.5),
    ],
)
def test_the_quick_walk_gives_the_chances_of_the_plain_one(down: int, up: int, top: int, rate: float) -> None:
    lattice = Lattice(down, up, top)
    # More than three renewals of the walk's scale.
    plain = stepped(lattice, rate, 200)
    for found, expected in zip(run_length.walk(lattice, rate), plain, strict=False):
        assert found == pytest.approx(expected, rel=1e-11, abs=1e-15)


def smallest(p0: float, p1: float, cases: float) -> float:
    """The limit by halving the whole range, which asks for no good guess."""
    low, high = 1, 2000
    while low < high:
        middle = (low + high) // 2
        average = run_length.average_run_length(p0, p0, p1, middle / 100)
        # Beyond any series: long enough.
        enough = isinstance(average, Reason) or average >= cases * (1 - 1e-9)
        low, high = (low, middle) if enough else (middle + 1, high)
    return low / 100


@pytest.mark.parametrize(
    ("p0", "p1", "cases"),
    [(0.05, 0.15, 100.0), (0.05, 0.15, 400.0), (0.1, 0.2, 400.0), (0.2, 0.35, 5000.0), (0.3, 0.9, 50.0),
     (0.05, 0.15, 20.0), (0.05, 0.15, 21.0), (0.02, 0.073, 50.0), (0.5, 0.6, 1.0)],
)  # fmt: skip
def test_the_limit_by_run_length_is_the_smallest_that_runs_long_enough(
    p0: float, p1: float, cases: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    run_length.limit_for_run_length.cache_clear()
    tried: list[float] = []
    counted = run_length.average_run_length

    def counting(*asked: float) -> float | Reason:
        tried.append(asked[-1])
        return counted(*asked)

    monkeypatch.setattr(run_length, "average_run_length", counting)
    limit = run_length.limit_for_run_length(p0, p1, cases)
    monkeypatch.undo()
    assert limit == smallest(p0, p1, cases)
    assert len(tried) <= 10


def test_a_limit_too_high_for_the_lattice_is_a_reason() -> None:
    assert isinstance(run_length.limit_for_run_length(0.001, 0.0011, 5000.0), Reason)


@pytest.mark.parametrize(
    ("rate", "p0", "p1", "limit"),
    [(0.05, 0.15, 0.05, 2.0), (0.05, 0.05, 0.05, 2.0), (0.0, 0.05, 0.15, 2.0), (0.05, 0.05, 0.15, 0.0),
     (0.05, 0.05, 0.15, math.nan), (math.nan, 0.05, 0.15, 2.0), (0.001, 0.001, 0.0011, 3.0),
     (0.05, math.inf, 0.15, 2.0), (1e-300, 1e-300, 0.15, 2.0)],
)  # fmt: skip
def test_rates_and_limits_that_make_no_chart_give_a_reason_or_a_length(
    rate: float, p0: float, p1: float, limit: float
) -> None:
    found = run_length.average_run_length(rate, p0, p1, limit)
    assert isinstance(found, Reason) or found >= 1
    if rate != 1e-300:
        assert isinstance(found, Reason)
