"""How long a learning-curve CUSUM runs: until it says "learned" rightly, and until it says so wrongly.

The same Markov chain as that of the failure chart with the steps exchanged: a success takes the sum up, a failure
down. Its limit is chosen by how long it runs, on average, when failures truly happen at the unacceptable rate and
"learned" would be wrong.
"""

from functools import lru_cache
from itertools import islice

from labcheck.reference.figures import Reason
from labcheck.reference.statistics.cusum import failure_scores
from labcheck.reference.statistics.run_length import (
    MOST_STEPS,
    Lattice,
    average_of,
    lattice_of,
    smallest_limit,
    walk,
)


def learning_run_length(failure_rate: float, p0: float, p1: float, limit: float) -> float | Reason:
    """The mean number of cases until the chart says "learned" when failures truly happen at `failure_rate`."""
    lattice = _exchanged(failure_rate, p0, p1, limit)
    return lattice if isinstance(lattice, Reason) else average_of(lattice, 1 - failure_rate)


def learned_within(n: int, failure_rate: float, p0: float, p1: float, limit: float) -> float | Reason:
    """The chance that the chart says "learned" within n cases when failures truly happen at `failure_rate`."""
    lattice = _exchanged(failure_rate, p0, p1, limit)
    if isinstance(lattice, Reason):
        return lattice
    if not 0 <= n <= MOST_STEPS:
        return Reason("the number of cases is out of range")
    still, _ = next(islice(walk(lattice, 1 - failure_rate), n, None))
    return 1.0 - still


@lru_cache(maxsize=64)
def learning_limit(p0: float, p1: float, cases: float) -> float | Reason:
    """The smallest limit, to 0.01, at which a chart at the unacceptable rate runs `cases` on average before it
    wrongly says "learned"."""
    scores = failure_scores(p0, p1)
    if isinstance(scores, Reason):
        return scores
    drift = p1 * scores.failure + (1 - p1) * scores.success
    return smallest_limit(
        lambda limit: learning_run_length(p1, p0, p1, limit), cases, drift, -0.4 * scores.success
    )


def _exchanged(failure_rate: float, p0: float, p1: float, limit: float) -> Lattice | Reason:
    found = lattice_of(failure_rate, p0, p1, limit)
    return found if isinstance(found, Reason) else Lattice(down=found.up, up=found.down, top=found.top)
