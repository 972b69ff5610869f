"""How long a one-sided tabular CUSUM of normal values runs before it signals, by a small Markov chain.

The sum is cut into equal cells (Brook and Evans, Biometrika 1972, from memory); the answers of two cuttings
are extrapolated, which leaves an error below one in a thousand for the limits in use.
"""

from statistics import NormalDist

from labcheck.reference.figures import Reason
from labcheck.reference.sources import Mark, Source

BROOK_EVANS = Source("Brook and Evans, Biometrika 1972", Mark.FROM_MEMORY)

_CELLS = 40


def normal_run_length(shift: float, allowance: float, limit: float) -> float | Reason:
    """The mean number of values to a signal; shift, allowance and limit in standard deviations."""
    if not (-3.0 <= shift <= 5.0 and 0.0 <= allowance <= 3.0 and 0.0 < limit <= 10.0):
        return Reason("shift, allowance or limit is out of range")
    coarse, fine = (_with_cells(shift, allowance, limit, cells) for cells in (_CELLS, 2 * _CELLS))
    return fine + (fine - coarse) / 3


def _with_cells(shift: float, allowance: float, limit: float, cells: int) -> float:
    width = 2 * limit / (2 * cells - 1)
    below = NormalDist(shift - allowance).cdf
    rows: list[list[float]] = []
    for i in range(cells):
        row = [-below((0.5 - i) * width)]
        row += [below((j - i - 0.5) * width) - below((j - i + 0.5) * width) for j in range(1, cells)]
        row[i] += 1.0
        rows.append([*row, 1.0])
    return _first_unknown(rows)


def _first_unknown(rows: list[list[float]]) -> float:
    """The first unknown of a system, by elimination from the last; safe without exchanges because every row
    sum of the chain is below one."""
    for k in range(len(rows) - 1, 0, -1):
        pivot = rows[k]
        for i in range(k):
            factor = rows[i][k] / pivot[k]
            rows[i] = [a - factor * b for a, b in zip(rows[i], pivot, strict=True)]
    return rows[0][-1] / rows[0][0]
