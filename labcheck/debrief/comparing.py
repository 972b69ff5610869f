"""Today's times beside own earlier ones, worded once for page, sheet and screen. What may be said at which n is
decided in ``labcheck.reference.statistics.gates``.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from labcheck.caselog.clockwords import SECOND, span_words
from labcheck.debrief.history import History
from labcheck.reference.figures import Reason
from labcheck.reference.statistics import gates
from labcheck.reference.statistics.charts import long_runs
from labcheck.reference.statistics.quantiles import MedianInterval

MINUTE_US = 60 * SECOND


@dataclass(frozen=True, slots=True)
class Compared:
    """One interval or stage: today's minutes (None where it did not finish) and the earlier ones.

    ``trend`` is over the earlier cases alone, so that today cannot widen the limits it is held against.
    ``wall``: how many of the earlier ones were measured by the wall clock only. ``whole_series``: these are all
    cases of a series, with no case of today beside them.
    """

    id: str
    title: str
    today: float | None
    against: gates.AgainstHistory | None
    trend: gates.Trend | None
    earlier: tuple[float, ...]
    wall: int
    whole_series: bool = False

    @property
    def chartable(self) -> bool:
        """Whether there are enough earlier cases for a run chart."""
        return self.trend is not None and self.trend.median is not None


def compared(history: History, id_: str, title: str) -> Compared:
    """One interval or stage against the history."""
    own = history.present.lasted(id_)
    today = own.minutes if own is not None else None
    earlier = history.minutes(id_)
    against = _against(today, earlier) if today is not None else None
    trend = _trend(earlier)
    return Compared(
        id_,
        title,
        today,
        None if isinstance(against, Reason) else against,
        None if isinstance(trend, Reason) else trend,
        earlier,
        history.by_wall(id_),
    )


@lru_cache(maxsize=128)
def _against(today: float, earlier: tuple[float, ...]) -> gates.AgainstHistory | Reason:
    """Kept, because a page says the same comparison in several places."""
    return gates.against_history(today, earlier)


@lru_cache(maxsize=128)
def _trend(earlier: tuple[float, ...]) -> gates.Trend | Reason:
    return gates.trend(earlier)


def lasted_words(minutes: float) -> str:
    """A duration kept in minutes, cut to whole seconds as everywhere: "12:05"."""
    return span_words(round(minutes * MINUTE_US))


def own_words(one: Compared, *, interval: bool = True) -> str:
    """The earlier cases in one phrase: their values below five, else median and quartiles.

    ``interval``: also that of the median, where there is one.
    """
    n = len(one.earlier)
    earlier = "" if one.whole_series else " earlier"
    if n == 0:
        return f"no{earlier} case"
    if n < gates.HISTORY_FROM:
        return f"{n}{earlier}: {', '.join(map(lasted_words, one.earlier))}"
    against = one.against or _against(one.earlier[-1], one.earlier)
    if isinstance(against, Reason) or against.quartiles is None:
        return f"{n}{earlier}"
    q = against.quartiles
    said = f"median {lasted_words(q.median)}, quartiles {lasted_words(q.lower)} to {lasted_words(q.upper)}, n={n}"
    if interval and against.median_interval is not None:
        said += f"; {median_words(against.median_interval)}"
    return f"{said}; {one.wall} of them by the wall clock only" if one.wall else said


def median_words(found: MedianInterval) -> str:
    """The interval of a median with its true coverage."""
    level = f"{100 * found.coverage:.1f} % interval"
    return f"{level} of the median {lasted_words(found.low)} to {lasted_words(found.high)}"


def place_words(one: Compared) -> str:
    """Where today stands, "3rd slowest of 20 with today"; nothing below five earlier cases."""
    if one.against is None or one.against.place is None:
        return ""
    place = one.against.place
    rank, all_ = place.slower + 1, place.n + 1
    if rank == 1:
        return f"slowest of {all_} with today (if nothing changed, 1 chance in {all_})"
    if rank == all_:
        return f"fastest of {all_} with today (if nothing changed, 1 chance in {all_})"
    return f"{ordinal(rank)} slowest of {all_} with today"


def trend_words(one: Compared) -> str:
    """What the run chart says in words, and how far its limits may be trusted; nothing below eight cases."""
    trend = one.trend
    if trend is None or trend.median is None:
        return ""
    cases = "cases" if one.whole_series else "earlier cases"
    said = [f"median of {len(one.earlier)} {cases} {lasted_words(trend.median)}"]
    if trend.limits is None:
        said.append(f"no limits below {gates.LIMITS_PROVISIONAL_FROM} {cases}")
    else:
        low, high = lasted_words(trend.limits.lower), lasted_words(trend.limits.upper)
        said.append(f"{trend.standing.value} limits {low} to {high}")
        if one.today is not None:
            inside = trend.limits.lower <= one.today <= trend.limits.upper
            said.append("today inside" if inside else "TODAY OUTSIDE THE LIMITS")
        if trend.outside:
            said.append(f"{len(trend.outside)} {cases} outside")
    run = long_runs([*one.earlier, *([one.today] if one.today is not None else [])], trend.median)
    said.append(f"{RUN_WORDS} {_to_where(len(one.earlier), run)}" if run else "no run of 8 on one side")
    return "; ".join(said)


RUN_WORDS = "8 or more in a row on one side of the median,"


def _to_where(earlier: int, run: tuple[int, ...]) -> str:
    return "up to today" if run[-1] >= earlier else f"last at case {run[-1] + 1}"


def ordinal(n: int) -> str:
    """ "1st", "2nd", "11th"."""
    if n % 100 in (11, 12, 13):
        return f"{n}th"
    return f"{n}{({1: 'st', 2: 'nd', 3: 'rd'}).get(n % 10, 'th')}"
