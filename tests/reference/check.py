"""One row of the table of check values: what is computed, what is published, how near, and from where."""

from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal

from labcheck.reference.figures import Figure, Reason
from labcheck.reference.sources import Mark, Source

SEEN, SECONDARY, MEMORY = Mark.SEEN, Mark.SECONDARY, Mark.FROM_MEMORY
PRACTICE, DERIVED = Mark.COMMON_PRACTICE, Mark.DERIVED


@dataclass(frozen=True)
class Check:
    """`within` is the tolerance of a number; None asks for equality."""

    fact: str
    compute: Callable[[], object]
    expected: object
    source: Source
    within: Decimal | None = None

    def value(self) -> object:
        got = self.compute()
        return got.value if isinstance(got, Figure) else got


def number(
    fact: str, compute: Callable[[], object], expected: str, within: str, text: str, mark: Mark
) -> Check:
    return Check(fact, compute, Decimal(expected), Source(text, mark), Decimal(within))


def exact(fact: str, compute: Callable[[], object], expected: object, text: str, mark: Mark) -> Check:
    return Check(fact, compute, expected, Source(text, mark))


def refused(fact: str, compute: Callable[[], object], text: str, mark: Mark) -> Check:
    """A row whose answer must be a reason, never a number."""
    return Check(fact, lambda: isinstance(compute(), Reason), True, Source(text, mark))
