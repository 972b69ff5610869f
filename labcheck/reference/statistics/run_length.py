"""How long a reset failure CUSUM runs before it signals, computed as a Markov chain rather than looked up.

The two scores are put on one lattice by a fraction close to their quotient, so the chain has a few hundred
states. The error of the fraction moves an average run length by about one per cent at most.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from itertools import islice

from labcheck.reference.figures import Reason
from labcheck.reference.sources import Mark, Source
from labcheck.reference.statistics.cusum import Scores, failure_scores

RUN_LENGTH = Source("run length of the reset chart by Markov chain, own computation", Mark.DERIVED)

_LARGEST_DENOMINATOR = 24
_FINE_LATTICE = 1700
_LARGEST_LATTICE = 2500
_STEPS = 6_000
_SETTLED = 1e-10
_LONGEST = 1e9


@dataclass(frozen=True, slots=True)
class RunLengthRow:
    """One limit: average run length at both rates, and the chance of a signal within `n` cases at both."""

    limit: float
    average_acceptable: float
    average_unacceptable: float
    n: int
    false_alarm: float
    detection: float


@dataclass(frozen=True, slots=True)
class _Lattice:
    down: int
    up: int
    top: int


def average_run_length(failure_rate: float, p0: float, p1: float, limit: float) -> float | Reason:
    """The mean number of cases until a signal when failures truly happen at `failure_rate`."""
    lattice = _lattice(failure_rate, p0, p1, limit)
    return lattice if isinstance(lattice, Reason) else _average(lattice, failure_rate)


def signal_within(n: int, failure_rate: float, p0: float, p1: float, limit: float) -> float | Reason:
    """The chance of a signal within n cases when failures truly happen at `failure_rate`."""
    lattice = _lattice(failure_rate, p0, p1, limit)
    if isinstance(lattice, Reason):
        return lattice
    if not 0 <= n <= _STEPS:
        return Reason("the number of cases is out of range")
    still, _ = next(islice(_steps(lattice, failure_rate), n, None))
    return 1.0 - still


def run_length_table(
    p0: float, p1: float, limits: Sequence[float], n: int
) -> tuple[RunLengthRow, ...] | Reason:
    """Rows for several limits, to show what a choice of limit costs."""
    rows: list[RunLengthRow] = []
    for limit in limits:
        figures = (
            average_run_length(p0, p0, p1, limit),
            average_run_length(p1, p0, p1, limit),
            signal_within(n, p0, p0, p1, limit),
            signal_within(n, p1, p0, p1, limit),
        )
        found = [figure for figure in figures if not isinstance(figure, Reason)]
        if len(found) < 4:
            return next(figure for figure in figures if isinstance(figure, Reason))
        rows.append(RunLengthRow(limit, found[0], found[1], n, found[2], found[3]))
    return tuple(rows)


@lru_cache(maxsize=64)
def limit_for_run_length(p0: float, p1: float, cases: float) -> float | Reason:
    """The smallest limit, to 0.01, at which a chart at the acceptable rate runs `cases` on average before it
    gives a false alarm."""
    if not 1.0 <= cases <= 100_000:
        return Reason("the run length must lie between 1 and 100,000 cases")
    high = 25
    while high < 2000:
        average = average_run_length(p0, p0, p1, high / 100)
        if isinstance(average, Reason):
            return average
        if average >= cases:
            break
        high = min(2000, 2 * high)
    low = 1 if high == 25 else high // 2
    while low < high:
        middle = (low + high) // 2
        average = average_run_length(p0, p0, p1, middle / 100)
        if isinstance(average, Reason):
            return average
        if average >= cases:
            high = middle
        else:
            low = middle + 1
    return low / 100


def _lattice(failure_rate: float, p0: float, p1: float, limit: float) -> _Lattice | Reason:
    scores = failure_scores(p0, p1)
    if isinstance(scores, Reason):
        return scores
    if not 0.0 < failure_rate < 1.0:
        return Reason("the true failure rate must lie between 0 and 1")
    if not 0.0 < limit <= 20.0:
        return Reason("the limit must lie above 0 and not beyond 20")
    return _fitted(scores, limit)


def _fitted(scores: Scores, limit: float) -> _Lattice | Reason:
    """The finest lattice of a bearable size on which one success and one failure are whole steps."""
    success, failure = -scores.success, scores.failure
    for denominator in range(_LARGEST_DENOMINATOR, 0, -1):
        quotient = Fraction(failure / success).limit_denominator(denominator)
        if quotient == 0:
            continue
        top = max(1, math.ceil(limit / (success / quotient.denominator) - 1e-9))
        if top <= _FINE_LATTICE or (denominator == 1 and top <= _LARGEST_LATTICE):
            return _Lattice(quotient.denominator, quotient.numerator, top)
    return Reason("the two failure rates are too close together for this limit")


def _steps(lattice: _Lattice, failure_rate: float) -> Iterator[tuple[float, float]]:
    """For 0, 1, 2 ... cases, the chance that no signal has come yet and the chance that the next case
    brings it."""
    down, up, top = lattice.down, lattice.up, lattice.top
    stay = 1.0 - failure_rate
    kept = max(0, top - up)
    state = [1.0] + [0.0] * (top - 1)
    while True:
        yield math.fsum(state), failure_rate * math.fsum(state[kept:])
        after = [stay * math.fsum(state[: down + 1]), *(stay * mass for mass in state[down + 1 :])]
        after += [0.0] * (top - len(after))
        for level, mass in enumerate(state[:kept], start=up):
            after[level] += failure_rate * mass
        state = after


def _average(lattice: _Lattice, failure_rate: float) -> float | Reason:
    """The sum of the chances of no signal; once the hazard is steady the rest is a geometric series."""
    total, before = 0.0, 0.0
    for step, (still, next_signal) in enumerate(_steps(lattice, failure_rate)):
        hazard = next_signal / still if still > 0 else 1.0
        if hazard > 0 and step > lattice.top // lattice.up + 10 and abs(hazard - before) < _SETTLED * hazard:
            total += still / hazard
            return total if total < _LONGEST else Reason("the run length is beyond any series")
        if step > _STEPS or still < 1e-15:
            break
        total, before = total + still, hazard
    return total if still < 1e-15 else Reason("the run length did not settle")
