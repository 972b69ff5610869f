"""The learning curve of a series: only with agreed rates, up to its signal, and with its weakness in words."""

from __future__ import annotations

from dataclasses import replace

import pytest

from labcheck.debrief import learning
from labcheck.debrief.agreed import NOTHING
from labcheck.debrief.learning import LearningChart, learning_chart, learning_words
from labcheck.debrief.series import series_lines
from labcheck.reference.figures import Reason
from labcheck.reference.statistics.learning_length import learned_within, learning_limit, learning_run_length
from tests.debrief.series_of import AGREED, small

RATES = AGREED.rates[0]


def chart(n: int, failed: tuple[int, ...] = ()) -> LearningChart:
    found = learning_chart(small(n, failed), RATES)
    assert isinstance(found, LearningChart)
    return found


def test_without_agreed_rates_there_is_no_learning_curve_anywhere() -> None:
    assert isinstance(learning_chart(small(9), None), Reason)
    assert "learning phase" not in " ".join(series_lines(small(9), NOTHING))
    assert "learning phase" in " ".join(series_lines(small(9), AGREED))


def test_rates_of_another_technique_are_no_agreement() -> None:
    cases = [replace(case, technique="mechanical_splitter") for case in small(9)]
    assert "learning phase" not in " ".join(series_lines(cases, AGREED))


def test_the_limit_and_the_run_lengths_are_computed_and_not_typed() -> None:
    found = chart(9)
    limit = learning_limit(0.05, 0.15, 400.0)
    assert not isinstance(limit, Reason)
    assert found.chart.limit == limit
    assert found.rightly == learning_run_length(0.05, 0.05, 0.15, limit)
    assert found.wrongly == learning_run_length(0.15, 0.05, 0.15, limit)
    assert found.wrongly >= 400
    assert found.by_chance == learned_within(9, 0.15, 0.05, 0.15, limit)


def test_a_chart_that_has_signalled_ends_there() -> None:
    found = chart(60)
    assert found.chart.signal is not None
    assert len(found.tries) == len(found.chart.path) == found.chart.signal + 1 < 60
    assert found.chart.path[-1] >= found.chart.limit > found.chart.path[-2]
    (said, *_) = learning_words(found)
    assert f"reached it at leaflet {found.chart.signal + 1} ({found.tries[-1].case}, left)" in said
    assert "the failure chart takes over" in said


def test_a_failure_takes_the_sum_down_and_delays_the_signal() -> None:
    without, with_one = chart(60), chart(60, (20,))
    assert with_one.chart.path[20] < with_one.chart.path[19]
    assert len(with_one.tries) > len(without.tries)


def test_the_words_hold_the_rates_the_limit_the_run_lengths_and_the_weakness() -> None:
    found = chart(9, (1,))
    said = " ".join(learning_words(found))
    for part in (
        f"The limit is {found.chart.limit:.2f}",
        "after 9 leaflets, 1 of them failed",
        "not the same as failing",
        "acceptable p0 5 in 100 leaflets, unacceptable p1 15 in 100 leaflets",
        "limit chosen for 400 leaflets to a wrong signal",
        f"after {found.rightly:.0f} leaflets on average",
        f"wrongly, after {found.wrongly:.0f} on average",
        "never about a person",
        "Cases before the first of this ledger are not counted",
    ):
        assert part in said
    assert "%" not in said


@pytest.mark.parametrize("n", range(1, 7))
def test_a_small_series_has_not_learned(n: int) -> None:
    assert chart(n).chart.signal is None


def test_the_chance_is_said_of_as_many_leaflets_as_it_was_reckoned_for(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(learning, "MOST_STEPS", 5)
    found = chart(9)
    assert (found.within, len(found.tries)) == (5, 9)
    assert "Within 5 leaflets" in " ".join(learning_words(found))
