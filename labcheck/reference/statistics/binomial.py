"""The binomial distribution and the beta quantile behind the exact intervals; standard library only."""

import math

_TINY = 1e-300
_CLOSE = 1e-16
_ROUNDS = 10_000


def probability(count: int, n: int, p: float) -> float:
    """P(X = count) for X binomial (n, p)."""
    if not 0 <= count <= n:
        return 0.0
    if p <= 0.0:
        return 1.0 if count == 0 else 0.0
    if p >= 1.0:
        return 1.0 if count == n else 0.0
    ways = math.lgamma(n + 1) - math.lgamma(count + 1) - math.lgamma(n - count + 1)
    return math.exp(ways + count * math.log(p) + (n - count) * math.log1p(-p))


def at_most(count: int, n: int, p: float) -> float:
    """P(X <= count) for X binomial (n, p)."""
    if count < 0:
        return 0.0
    if count >= n:
        return 1.0
    return 1.0 - beta_probability(p, count + 1.0, float(n - count))


def at_least(count: int, n: int, p: float) -> float:
    """P(X >= count) for X binomial (n, p)."""
    if count <= 0:
        return 1.0
    if count > n:
        return 0.0
    return beta_probability(p, float(count), n - count + 1.0)


def beta_probability(x: float, a: float, b: float) -> float:
    """The regularised incomplete beta function, by its continued fraction on the side where it converges
    fast."""
    if x <= 0.0:
        return 0.0
    if x >= 1.0:
        return 1.0
    if x > (a + 1.0) / (a + b + 2.0):
        return 1.0 - beta_probability(1.0 - x, b, a)
    scale = math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b)
    front = math.exp(scale + a * math.log(x) + b * math.log1p(-x)) / a
    return front * _fraction(x, a, b)


def _fraction(x: float, a: float, b: float) -> float:
    """Evaluated from the front by the method of Lentz (1976), two terms a round."""
    c, d = 1.0, 1.0 / _away_from_zero(1.0 - (a + b) * x / (a + 1.0))
    value = d
    for m in range(1, _ROUNDS):
        even = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m))
        odd = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))
        for term in (even, odd):
            d = 1.0 / _away_from_zero(1.0 + term * d)
            c = _away_from_zero(1.0 + term / c)
            change = c * d
            value *= change
        if abs(change - 1.0) < _CLOSE * 4:
            break
    return value


def _away_from_zero(value: float) -> float:
    return value if abs(value) > _TINY else _TINY


def beta_quantile(probability_below: float, a: float, b: float) -> float:
    """The x at which the beta distribution (a, b) reaches a probability.

    Newton steps, each kept inside the interval that still holds the answer and replaced by halving when it
    leaves; good to about the last two digits.
    """
    low, high, x = 0.0, 1.0, a / (a + b)
    scale = math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b)
    for _ in range(200):
        over = beta_probability(x, a, b) - probability_below
        low, high = (x, high) if over < 0 else (low, x)
        density = math.exp(scale + (a - 1.0) * math.log(x) + (b - 1.0) * math.log1p(-x))
        step = over / density if density > _TINY else math.inf
        nearer = x - step if low < x - step < high else 0.5 * (low + high)
        if abs(nearer - x) <= 2e-16 * x or high - low <= 2e-16 * high:
            return nearer
        x = min(max(nearer, _TINY), 1.0 - 2.0**-53)
    return x
