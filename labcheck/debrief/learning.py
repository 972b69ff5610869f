"""Past the learning phase? The learning-curve chart over the leaflets of a series, once its rates are agreed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from labcheck.checklist.words import CUSP_WORDS
from labcheck.debrief.agreed import Rates
from labcheck.debrief.outcomes import Try, failed_words, in_hundred, tries
from labcheck.debrief.summary import Summary
from labcheck.reference.figures import Reason
from labcheck.reference.statistics import gates
from labcheck.reference.statistics.cusum import Chart
from labcheck.reference.statistics.learning_length import learned_within, learning_limit, learning_run_length
from labcheck.reference.statistics.run_length import MOST_STEPS


@dataclass(frozen=True, slots=True)
class LearningChart:
    """The chart up to its signal, after which the failure chart takes over.

    ``rightly`` and ``wrongly``: leaflets on average to the signal when failures truly happen at the acceptable
    and at the unacceptable rate. ``by_chance``: the chance of a wrong signal within the first ``within`` leaflets,
    all of this chart unless there are more than can be reckoned with.
    """

    rates: Rates
    tries: tuple[Try, ...]
    chart: Chart
    rightly: float
    wrongly: float
    by_chance: float
    within: int


def learning_chart(cases: Sequence[Summary], rates: Rates | None) -> LearningChart | Reason:
    """The chart over all leaflets of the series from its first case, or why there is none."""
    if rates is None:
        return Reason("the acceptable and the unacceptable failure rate must be agreed in writing first")
    found = tries(cases)
    p0, p1, length = float(rates.acceptable), float(rates.unacceptable), float(rates.false_alarm_after)
    chart = gates.learning([one.failed for one in found], p0, p1, length)
    if isinstance(chart, Reason):
        return chart
    lengths = _lengths(p0, p1, length)
    if isinstance(lengths, Reason):
        return lengths
    shown = len(found) if chart.signal is None else chart.signal + 1
    within = min(shown, MOST_STEPS)
    by_chance = learned_within(within, p1, p0, p1, chart.limit)
    if isinstance(by_chance, Reason):
        return by_chance
    cut = Chart(chart.path[:shown], chart.limit, chart.signal, chart.source)
    return LearningChart(rates, found[:shown], cut, *lengths, by_chance, within)


@lru_cache(maxsize=8)
def _lengths(p0: float, p1: float, length: float) -> tuple[float, float] | Reason:
    limit = learning_limit(p0, p1, length)
    if isinstance(limit, Reason):
        return limit
    rightly, wrongly = (learning_run_length(p, p0, p1, limit) for p in (p0, p1))
    if isinstance(rightly, Reason):
        return rightly
    return wrongly if isinstance(wrongly, Reason) else (rightly, wrongly)


def learning_words(found: LearningChart) -> tuple[str, ...]:
    """What the chart says, what was agreed, and its weakness, one sentence each."""
    rates, n = found.rates, len(found.tries)
    failures = sum(one.failed for one in found.tries)
    if found.chart.signal is None:
        now = found.chart.path[-1] if found.chart.path else 0.0
        said = (
            f"The limit is {found.chart.limit:.2f}; the sum stands at {now:.2f} after {n} leaflets, "
            f"{failures} of them failed. It has not reached the limit: too few successes yet to say so, which is "
            "not the same as failing."
        )
    else:
        at = found.tries[found.chart.signal]
        cusp = CUSP_WORDS.get(at.cusp, at.cusp)
        said = (
            f"The limit is {found.chart.limit:.2f}. The sum reached it at leaflet {n} ({at.case}, {cusp}), "
            f"{failures} of them failed. This chart has done its work; the failure chart takes over."
        )
    acceptable, unacceptable = in_hundred(rates.acceptable), in_hundred(rates.unacceptable)
    return (
        f"{said} {failed_words(found.tries)}",
        f"Agreed on {rates.agreed}: acceptable p0 {acceptable}, unacceptable p1 {unacceptable}, limit chosen for "
        f"{rates.false_alarm_after} leaflets to a wrong signal ({rates.reason}). The chart is about the team and "
        "never about a person. Other choices may give another verdict on the same cases.",
        f"Its weakness: it is slow and it can be wrong. A team whose failures truly happen in {acceptable} "
        f"reaches the limit after {found.rightly:.0f} leaflets on average; one whose failures truly happen in "
        f"{unacceptable} reaches it too, wrongly, after {found.wrongly:.0f} on average. Within {found.within} leaflets "
        f"that would happen to {_in_hundred_series(found.by_chance)}. Cases before the first of this ledger are "
        "not counted.",
    )


def _in_hundred_series(chance: float) -> str:
    share = 100 * chance
    return "fewer than 1 in 100 such series" if share < 1 else f"about {share:.0f} in 100 such series"
