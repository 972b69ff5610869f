"""Failure charts: the reset log-likelihood-ratio CUSUM, the non-reset chart, and the learning-curve CUSUM.

Two kinds of limit are easily confused: alpha and beta belong to the chart that is never reset, while the
limit of the reset chart is chosen by run length (see `run_length`). A published review of surgical series
found mislabelled plots and misused limits to be the usual mistake (Biau, Qual Saf Health Care 2007).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from labcheck.reference.figures import Reason
from labcheck.reference.sources import Mark, Source

STEINER_2000 = Source("Steiner, Biostatistics 2000", Mark.SEEN)
ROGERS_2004 = Source("Rogers, J Thorac Cardiovasc Surg 2004", Mark.SEEN)
BIAU_2010 = Source("learning-curve CUSUM, Biau, Stat Med 2010 and Br J Surg 2008", Mark.SEEN)
LEARNING_LIMIT = Source("limit 1.25 for 10 against 20 %", Mark.FROM_MEMORY)

LEARNING_LIMIT_10_20 = 1.25


@dataclass(frozen=True, slots=True)
class Scores:
    """What one success and one failure add to a log-likelihood-ratio sum."""

    success: float
    failure: float


@dataclass(frozen=True, slots=True)
class Chart:
    """The path of a sum that never falls below zero, and the position (from 0) at which it first
    signalled."""

    path: tuple[float, ...]
    limit: float
    signal: int | None
    source: Source


@dataclass(frozen=True, slots=True)
class NonResetChart:
    """Odds ratio, step and the two limits of the chart that is never reset; plot the path against -h0 and
    +h1."""

    odds_ratio: float
    step: float
    h0: float
    h1: float
    source: Source = ROGERS_2004

    def path(self, failed: Sequence[bool]) -> tuple[float, ...]:
        """The running sum of (failure - step)."""
        total = 0.0
        points = []
        for one in failed:
            total += int(one) - self.step
            points.append(total)
        return tuple(points)


def rates_doubt(p0: float, p1: float) -> Reason | None:
    """Why two failure rates cannot be charted against each other, or None. They are agreed in writing
    first."""
    if not 0.0 < p0 < p1 < 1.0:
        return Reason(
            "the acceptable failure rate must lie above 0 and below the unacceptable one, both below 1"
        )
    return None


def failure_scores(p0: float, p1: float) -> Scores | Reason:
    """Scores that raise the sum when failures look more like p1 than p0."""
    doubt = rates_doubt(p0, p1)
    return doubt or Scores(math.log((1 - p1) / (1 - p0)), math.log(p1 / p0))


def risk_adjusted_score(failed: bool, risk: float, odds_ratio: float) -> float | Reason:
    """The score of one case of known risk, ln(R^y / (1 - p + R p)), R the odds ratio to be noticed."""
    if not (0.0 < risk < 1.0 and odds_ratio > 0 and math.isfinite(odds_ratio)):
        return Reason("a risk-adjusted score needs a risk between 0 and 1 and an odds ratio above 0")
    return int(failed) * math.log(odds_ratio) - math.log(1 - risk + odds_ratio * risk)


def chart(scores: Sequence[float], limit: float, source: Source = STEINER_2000) -> Chart | Reason:
    """The path S = max(0, S + score) and its first signal, at equality with the limit or past it."""
    if not (limit > 0 and math.isfinite(limit)):
        return Reason("the limit must be above zero")
    total, signal = 0.0, None
    path: list[float] = []
    for i, score in enumerate(scores):
        total = max(0.0, total + score)
        path.append(total)
        if signal is None and total >= limit:
            signal = i
    return Chart(tuple(path), limit, signal, source)


def failure_chart(failed: Sequence[bool], p0: float, p1: float, limit: float) -> Chart | Reason:
    """The reset CUSUM of failures; take `limit` from `run_length.limit_for_run_length`."""
    scores = failure_scores(p0, p1)
    if isinstance(scores, Reason):
        return scores
    return chart([scores.failure if one else scores.success for one in failed], limit)


def learning_chart(failed: Sequence[bool], p0: float, p1: float, limit: float) -> Chart | Reason:
    """The learning-curve CUSUM: the roles are exchanged, so successes raise it and its signal is competence.

    Used once, at the start of a series; after its signal the ordinary chart takes over.
    """
    scores = failure_scores(p0, p1)
    if isinstance(scores, Reason):
        return scores
    return chart([-scores.failure if one else -scores.success for one in failed], limit, BIAU_2010)


def non_reset_chart(p0: float, p1: float, alpha: float, beta: float) -> NonResetChart | Reason:
    """The chart of Rogers 2004: s = ln((1-p0)/(1-p1)) / ln OR, h0 = ln((1-alpha)/beta) / ln OR, h1
    likewise."""
    doubt = rates_doubt(p0, p1)
    if doubt:
        return doubt
    if not (0.0 < alpha < 1.0 and 0.0 < beta < 1.0 and alpha + beta < 1.0):
        return Reason("alpha and beta must lie between 0 and 1 and add up to less than 1")
    odds_ratio = p1 * (1 - p0) / (p0 * (1 - p1))
    log_odds = math.log(odds_ratio)
    return NonResetChart(
        odds_ratio,
        math.log((1 - p0) / (1 - p1)) / log_odds,
        math.log((1 - alpha) / beta) / log_odds,
        math.log((1 - beta) / alpha) / log_odds,
    )
