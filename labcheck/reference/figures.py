"""The three things a calculation can answer: a figure with its unit, a limit, or the reason there is neither.

Nothing in this package raises for what a person could type or leave out. A missing, odd or implausible input
becomes a `Reason`, which is one line fit for a screen, and never a number.
"""

from dataclasses import dataclass
from decimal import Decimal

from labcheck.reference.sources import Source


@dataclass(frozen=True, slots=True)
class Reason:
    """Why a figure cannot be given, in one line."""

    text: str


@dataclass(frozen=True, slots=True)
class Figure:
    """A computed value, its unit and the formula it came from. Unrounded; `text` rounds for a screen."""

    value: Decimal
    unit: str
    source: Source

    def text(self, places: int) -> str:
        """Value and unit with `places` decimals, never in exponent form."""
        return f"{self.value:.{places}f} {self.unit}"


@dataclass(frozen=True, slots=True)
class Limit:
    """A level that a tally is held against.

    `value` is reached when the tally is equal to it or past it. `repeat_every`, in the same unit, is the
    distance between further notices after the first, or None when the notice is given once.
    """

    name: str
    value: Decimal
    unit: str
    source: Source
    repeat_every: Decimal | None = None

    def text(self, places: int) -> str:
        """Value and unit with `places` decimals, never in exponent form."""
        return f"{self.value:.{places}f} {self.unit}"


@dataclass(frozen=True, slots=True)
class Range:
    """The inputs a formula accepts: from `low` to `high`, both included, in `unit`."""

    subject: str
    low: Decimal
    high: Decimal
    unit: str

    def check(self, value: object) -> Decimal | Reason:
        """The value as a Decimal when it lies in the range, else the reason. Floats are refused on purpose:
        1.3 as a float is not 1.3, and a threshold could be missed by the difference."""
        if value is None:
            return Reason(f"{self.subject} is not recorded")
        if isinstance(value, bool) or not isinstance(value, int | Decimal):
            return Reason(f"{self.subject} must be a decimal number of {self.unit}")
        number = Decimal(value)
        if not number.is_finite():
            return Reason(f"{self.subject} is not a finite number")
        if not self.low <= number <= self.high:
            return Reason(
                f"{self.subject} {shown(number)} {self.unit} is outside {self.low} to {self.high} "
                f"{self.unit}; check the number and its unit"
            )
        return number


def shown(number: Decimal) -> str:
    """A number in a message, kept short however many digits were typed."""
    text = str(number)
    return text if len(text) <= 12 else f"{number:.3e}"
