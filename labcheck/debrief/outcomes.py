"""How often it went as meant: counts with their interval, and the failure chart once its rates are agreed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from labcheck.checklist.words import CUSP_WORDS
from labcheck.debrief.agreed import Rates
from labcheck.debrief.summary import Summary
from labcheck.reference.figures import Reason
from labcheck.reference.statistics import gates
from labcheck.reference.statistics.cusum import Chart
from labcheck.reference.statistics.run_length import average_run_length, limit_for_run_length

DAY_US = 86_400_000_000
MOST_TOLD = 12
PACE_FROM = 8
"""Leaflets over more than 90 days before a pace is worked out from them (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Outcomes:
    """Successes of those with an answer, and how many have none yet."""

    what: str
    success: gates.Success
    pending: int

    def text(self) -> str:
        """ "35 of 37 (95 % interval 82.3 to 98.5 %)", and what is not known."""
        left = f"; {self.pending} not known" if self.pending else ""
        return f"{self.success.text()}{left}"


def leaflets(cases: Sequence[Summary]) -> Outcomes:
    """Target leaflets that were modified, of those targeted."""
    answers = [leaflet.answer for case in cases for leaflet in case.leaflets]
    return _counted("target leaflets modified", answers)


def technical(cases: Sequence[Summary]) -> Outcomes:
    """Cases with technical success at exit from the room."""
    return _counted("cases with technical success at exit from the room", [c.technical for c in cases])


def _counted(what: str, answers: Sequence[str]) -> Outcomes:
    yes, no = answers.count("yes"), answers.count("no")
    found = gates.success(yes, yes + no)
    if isinstance(found, Reason):
        raise ValueError(found.text)
    return Outcomes(what, found, len(answers) - yes - no)


@dataclass(frozen=True, slots=True)
class Try:
    """One leaflet of the failure chart."""

    case: str
    cusp: str
    failed: bool
    today: bool


@dataclass(frozen=True, slots=True)
class FailureChart:
    """The chart with what it was drawn from. ``after_acceptable`` and ``after_unacceptable``: leaflets on average
    to a signal when failures truly happen at the one and at the other rate.
    """

    rates: Rates
    tries: tuple[Try, ...]
    chart: Chart
    after_acceptable: float
    after_unacceptable: float
    months: float | None


def tries(cases: Sequence[Summary], today: str = "") -> tuple[Try, ...]:
    """Every leaflet with an answer, in the order of the cases; ``today``: the key of the present case."""
    return tuple(
        Try(case.case, leaflet.cusp, leaflet.answer == "no", case.case == today)
        for case in cases
        for leaflet in case.leaflets
        if leaflet.answer in ("yes", "no")
    )


def failure_chart(cases: Sequence[Summary], rates: Rates | None, today: str = "") -> FailureChart | Reason:
    """The reset chart over the leaflets of the cases, or why there is none."""
    if rates is None:
        return Reason("the acceptable and the unacceptable failure rate must be agreed in writing first")
    found = tries(cases, today)
    p0, p1, length = float(rates.acceptable), float(rates.unacceptable), float(rates.false_alarm_after)
    chart = gates.failures([one.failed for one in found], p0, p1, length)
    if isinstance(chart, Reason):
        return chart
    runs = _run_lengths(p0, p1, length)
    if isinstance(runs, Reason):
        return runs
    return FailureChart(rates, found, chart, *runs, _months(cases, found, runs[1]))


@lru_cache(maxsize=8)
def _run_lengths(p0: float, p1: float, length: float) -> tuple[float, float] | Reason:
    limit = limit_for_run_length(p0, p1, length)
    if isinstance(limit, Reason):
        return limit
    acceptable, unacceptable = (average_run_length(p, p0, p1, limit) for p in (p0, p1))
    if isinstance(acceptable, Reason):
        return acceptable
    return unacceptable if isinstance(unacceptable, Reason) else (acceptable, unacceptable)


def _months(cases: Sequence[Summary], found: Sequence[Try], after: float) -> float | None:
    """How long ``after`` leaflets take at the pace of these cases; None where that would be a guess."""
    if len(found) < PACE_FROM or len(cases) < 2:
        return None
    days = (cases[-1].opened_us - cases[0].opened_us) / DAY_US
    return after / (len(found) / days) / 30.44 if days > 90 else None


def in_hundred(rate: object) -> str:
    """A rate as "5 in 100 leaflets": a percentage without an interval is never shown."""
    return f"{float(str(rate)) * 100:g} in 100 leaflets"


def failed_words(found: Sequence[Try]) -> str:
    """Which leaflets failed, the last of them where they are many: the chart in words."""
    failed = [(n, one) for n, one in enumerate(found, 1) if one.failed]
    if not failed:
        return "No leaflet failed."
    told = ", ".join(
        f"{n} ({one.case}, {CUSP_WORDS.get(one.cusp, one.cusp)}{', today' if one.today else ''})"
        for n, one in failed[-MOST_TOLD:]
    )
    last = f"the last {MOST_TOLD} of {len(failed)}: " if len(failed) > MOST_TOLD else ""
    return f"Failed leaflets by their number in the series: {last}{told}."


def chart_words(found: FailureChart) -> tuple[str, ...]:
    """What the chart says, what was agreed, and its weakness, one sentence each."""
    rates, path = found.rates, found.chart.path
    failures = sum(one.failed for one in found.tries)
    now = path[-1] if path else 0.0
    reached = (
        f"The limit is {found.chart.limit:.2f}; the sum stands at {now:.2f} after {len(path)} leaflets, "
        f"{failures} of them failed."
    )
    if found.chart.signal is not None:
        at = found.tries[found.chart.signal]
        cusp = CUSP_WORDS.get(at.cusp, at.cusp)
        reached += (
            f" It reached the limit at leaflet {found.chart.signal + 1} ({at.case}, {cusp}): look at the "
            "cases, not only at the line."
        )
    else:
        reached += " It has not reached the limit."
    reached += f" {failed_words(found.tries)}"
    weak = (
        f"Its weakness: it is slow. If failures truly rose from {in_hundred(rates.acceptable)} to "
        f"{in_hundred(rates.unacceptable)}, it would take {found.after_unacceptable:.0f} leaflets on average to say so"
    )
    weak += (
        f", about {found.months:.0f} months at the pace of these cases."
        if found.months is not None and found.months >= 1
        else "."
    )
    weak += (
        f" With nothing wrong it gives a false alarm every {found.after_acceptable:.0f} leaflets on average."
    )
    return (
        reached,
        f"Agreed on {rates.agreed}: acceptable p0 {in_hundred(rates.acceptable)}, unacceptable p1 "
        f"{in_hundred(rates.unacceptable)}, limit chosen for {rates.false_alarm_after} leaflets to a false alarm "
        f"({rates.reason}). Other choices may give another verdict on the same cases.",
        weak,
        "A quiet chart is no proof that all is well.",
    )
