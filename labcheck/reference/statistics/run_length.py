"""How long a reset failure CUSUM runs before it signals, computed as a Markov chain rather than looked up.

The two scores are put on one lattice by a fraction close to their quotient, so the chain has a few hundred
states. The error of the fraction moves an average run length by about one per cent at most.
"""

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from itertools import count, islice

from labcheck.reference.figures import Reason
from labcheck.reference.sources import Mark, Source
from labcheck.reference.statistics.cusum import Scores, failure_scores

RUN_LENGTH = Source("run length of the reset chart by Markov chain, own computation", Mark.DERIVED)

_LARGEST_DENOMINATOR = 24
_FINE_LATTICE = 1700
_LARGEST_LATTICE = 2500
_HIGHEST_LIMIT = 2000
"""Limits in hundredths."""
MOST_STEPS = 6_000
_RENEWED = 64
"""Cases after which the walk is written afresh, long before its scale leaves what a float holds."""
_SETTLED = 1e-10
_EQUAL = 1e-9
"""Run lengths this close are the same: rounding must not decide."""
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
class Lattice:
    """Steps of the sum in whole units: how far one outcome takes it down, the other up, and where it signals."""

    down: int
    up: int
    top: int


def average_run_length(failure_rate: float, p0: float, p1: float, limit: float) -> float | Reason:
    """The mean number of cases until a signal when failures truly happen at `failure_rate`."""
    lattice = lattice_of(failure_rate, p0, p1, limit)
    return lattice if isinstance(lattice, Reason) else average_of(lattice, failure_rate)


def signal_within(n: int, failure_rate: float, p0: float, p1: float, limit: float) -> float | Reason:
    """The chance of a signal within n cases when failures truly happen at `failure_rate`."""
    lattice = lattice_of(failure_rate, p0, p1, limit)
    if isinstance(lattice, Reason):
        return lattice
    if not 0 <= n <= MOST_STEPS:
        return Reason("the number of cases is out of range")
    still, _ = next(islice(walk(lattice, failure_rate), n, None))
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
    scores = failure_scores(p0, p1)
    if isinstance(scores, Reason):
        return scores
    drift = -(p0 * scores.failure + (1 - p0) * scores.success)
    return smallest_limit(
        lambda limit: average_run_length(p0, p0, p1, limit), cases, drift, 0.4 * scores.failure
    )


def smallest_limit(
    average: Callable[[float], float | Reason], cases: float, drift: float, overshoot: float
) -> float | Reason:
    """The smallest limit, to 0.01, at which `average` reaches so many cases.

    `drift`: how much a case takes from the sum on average; `overshoot`: by how much a sum passes its limit. Both
    only make the first guess a good one.
    """
    if not 1.0 <= cases <= 100_000:
        return Reason("the run length must lie between 1 and 100,000 cases")
    found: dict[int, float] = {0: 1.0}
    short, long = 0, 0
    at = _first_guess(cases, drift, overshoot)
    while long != short + 1 and short < _HIGHEST_LIMIT:
        length = average(at / 100)
        if isinstance(length, Reason):
            return length
        flat = length in found.values()
        found[at] = length
        short, long = (short, at) if length >= cases * (1 - _EQUAL) else (at, long)
        at = _next_guess(found, short, long, cases, flat)
    return (long or short) / 100


def _next_guess(found: dict[int, float], short: int, long: int, cases: float, flat: bool) -> int:
    """The next limit in hundredths to try between one that is too short and one that is long enough (0: none yet).

    Run lengths grow about as the power of the limit, so the guess is where the logarithms would meet. On a
    lattice several limits may run equally long (`flat`); then what is left is halved.
    """
    if not long:
        return min(short + max(1, round(100 * math.log(cases / found[short]))), _HIGHEST_LIMIT)
    if flat or not short:
        guess = (short + long) // 2 if flat else long - max(1, round(100 * math.log(found[long] / cases)))
    else:
        low, high = math.log(found[short]), math.log(found[long])
        guess = short + math.ceil((math.log(cases) - low) / (high - low) * (long - short))
    return min(max(guess, short + 1), long - 1)


def _first_guess(cases: float, drift: float, overshoot: float) -> int:
    """A limit in hundredths near the one that runs so long, by Wald's approximation."""
    limit = 1.0
    for _ in range(20):
        limit = math.log(max(cases * drift, 1e-9) + limit + 1)
    return min(max(round(100 * (limit - overshoot)), 1), _HIGHEST_LIMIT)


def lattice_of(failure_rate: float, p0: float, p1: float, limit: float) -> Lattice | Reason:
    """The lattice of the failure chart, on which a success goes down and a failure up."""
    scores = failure_scores(p0, p1)
    if isinstance(scores, Reason):
        return scores
    if not 0.0 < failure_rate < 1.0:
        return Reason("the true failure rate must lie between 0 and 1")
    if not 0.0 < limit <= 20.0:
        return Reason("the limit must lie above 0 and not beyond 20")
    return _fitted(scores, limit)


def _fitted(scores: Scores, limit: float) -> Lattice | Reason:
    """The finest lattice of a bearable size on which one success and one failure are whole steps."""
    success, failure = -scores.success, scores.failure
    for denominator in range(_LARGEST_DENOMINATOR, 0, -1):
        quotient = Fraction(failure / success).limit_denominator(denominator)
        if quotient == 0:
            continue
        top = max(1, math.ceil(limit / (success / quotient.denominator) - 1e-9))
        if top <= _FINE_LATTICE or (denominator == 1 and top <= _LARGEST_LATTICE):
            return Lattice(quotient.denominator, quotient.numerator, top)
    return Reason("the two failure rates are too close together for this limit")


@lru_cache(maxsize=256)
def average_of(lattice: Lattice, up_rate: float) -> float | Reason:
    """The sum of the chances of no signal; once the hazard is steady the rest is a geometric series."""
    total, before = 0.0, 0.0
    for step, (still, next_signal) in enumerate(walk(lattice, up_rate)):
        hazard = next_signal / still if still > 0 else 1.0
        if hazard > 0 and step > lattice.top // lattice.up + 10 and abs(hazard - before) < _SETTLED * hazard:
            total += still / hazard
            return total if total < _LONGEST else Reason("the run length is beyond any series")
        if step > MOST_STEPS or still < 1e-15:
            break
        total, before = total + still, hazard
    return total if still < 1e-15 else Reason("the run length did not settle")


def walk(lattice: Lattice, up_rate: float) -> Iterator[tuple[float, float]]:
    """For 0, 1, 2 ... cases, the chance that no signal has come yet and the chance that the next case brings it.

    A step down moves every level by the same, so instead of the levels their origin is moved, and the chance
    of the steps down is kept as one scale for all of them.
    """
    down, up, top = lattice.down, lattice.up, lattice.top
    kept = max(0, top - up)
    odds = up_rate / (1.0 - up_rate)
    fresh = [0.0] * (down * _RENEWED + 1)
    state, origin, scale = [1.0, *[0.0] * (top - 1), *fresh], 0, 1.0
    still = 1.0
    for number in count():
        signal = scale * up_rate * sum(state[origin + kept : origin + top])
        yield still, signal
        failed = state[origin : origin + kept]
        state[origin + down] += sum(state[origin : origin + down])
        origin, scale = origin + down, scale * (1.0 - up_rate)
        if failed:
            first = origin + up
            state[first : first + kept] = [
                mass + odds * more for mass, more in zip(state[first : first + kept], failed, strict=True)
            ]
        if number % _RENEWED == _RENEWED - 1:
            state = [scale * mass for mass in state[origin : origin + top]] + fresh
            origin, scale, still = 0, 1.0, math.fsum(state)
        else:
            still -= signal
