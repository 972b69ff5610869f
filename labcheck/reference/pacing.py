"""Rapid pacing: how many runs, how long in all, and the published groups."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from labcheck.reference.figures import Range, Reason
from labcheck.reference.sources import Mark, Source

FEFER_2018 = Source(
    "Fefer, J Am Heart Assoc 2018: 0, 1-2, 3 or more runs; in-hospital death 1.7, 1.7, 6.5 %", Mark.SEEN
)
MATSUO_2025 = Source("Matsuo, CJC Open 2025 (n=100): 18 s or more in all called long", Mark.SEEN)

RUNS_NOTICE = Decimal(3)
LONG_TOTAL_S = Decimal(18)

RATE = Range("pacing rate", Decimal(40), Decimal(300), "per min")
SECONDS = Range("pacing run", Decimal(0), Decimal(300), "s")


class RunGroup(StrEnum):
    """The groups of the published comparison."""

    NONE = "0"
    ONE_OR_TWO = "1-2"
    THREE_OR_MORE = ">=3"


@dataclass(frozen=True, slots=True)
class PacingRun:
    """One run of rapid pacing: rate per minute and length in seconds, either of them unknown."""

    rate_per_min: Decimal | None
    seconds: Decimal | None


@dataclass(frozen=True, slots=True)
class PacingTally:
    """Runs, their total in seconds over those with a known length, and how many have none."""

    runs: int
    group: RunGroup
    total_s: Decimal
    runs_without_length: int

    @property
    def long(self) -> bool | None:
        """Whether the total is long; None while an unknown run could still make it so."""
        if self.total_s >= LONG_TOTAL_S:
            return True
        return None if self.runs_without_length else False


def run_group(runs: int) -> RunGroup | Reason:
    """The published group for a number of runs."""
    if runs < 0:
        return Reason("the number of pacing runs cannot be below zero")
    if runs == 0:
        return RunGroup.NONE
    return RunGroup.ONE_OR_TWO if runs < RUNS_NOTICE else RunGroup.THREE_OR_MORE


def tally(runs: Sequence[PacingRun]) -> PacingTally | Reason:
    """The tally of all runs, or the first run that cannot be right."""
    total = Decimal(0)
    unknown = 0
    for number, run in enumerate(runs, start=1):
        for accepted, value in ((RATE, run.rate_per_min), (SECONDS, run.seconds)):
            checked = None if value is None else accepted.check(value)
            if isinstance(checked, Reason):
                return Reason(f"run {number}: {checked.text}")
        if run.seconds is None:
            unknown += 1
        else:
            total += run.seconds
    group = run_group(len(runs))
    return group if isinstance(group, Reason) else PacingTally(len(runs), group, total, unknown)
