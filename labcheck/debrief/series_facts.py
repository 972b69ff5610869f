"""What a series of cases comes to: rescues, how its record was made, and how complete it is.

Counted once for the lines and for the page. No person appears in any of it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import pairwise
from statistics import median

from labcheck.caselog.clockwords import SECOND, span_words
from labcheck.debrief.summary import Summary
from labcheck.reference.figures import Reason
from labcheck.reference.statistics import gates

PARTS = 4
"""A series long enough for a run chart is also told in quarters, so that a drift of the record is seen."""


def count_words(count: int, n: int) -> str:
    """ "3 of 40" with its interval where there may be one."""
    found = gates.success(count, n)
    return f"{count} of {n}" if isinstance(found, Reason) else found.text()


def day_of(case: Summary) -> str:
    """The day a case was opened, by its own clock."""
    return f"{_opened(case):%Y-%m-%d}"


def year_of(case: Summary) -> int:
    """The year a case was opened in."""
    return _opened(case).year


def _opened(case: Summary) -> datetime:
    return datetime.fromtimestamp(case.opened_us // SECOND + case.off_s, UTC)


@dataclass(frozen=True, slots=True)
class RescueCount:
    """In how many of ``n`` cases a rescue was opened, and how long those ran that were closed, microseconds."""

    title: str
    count: int
    n: int
    spans: tuple[int, ...]

    @property
    def ran(self) -> str:
        """Their times below five, their median from five on; empty where none was closed."""
        if not self.spans:
            return ""
        if len(self.spans) < gates.HISTORY_FROM:
            return f"ran {', '.join(span_words(us) for us in self.spans)}"
        return f"ran {span_words(round(median(self.spans)))} in the median, n={len(self.spans)}"


def rescue_counts(cases: Sequence[Summary]) -> tuple[RescueCount, ...]:
    """Every rescue that was opened, the most frequent first; opened twice in a case it is one case."""
    titles = {rescue.id: rescue.title.partition(",")[0] for case in cases for rescue in case.rescues}
    counts = Counter(id_ for case in cases for id_ in {rescue.id for rescue in case.rescues})
    return tuple(
        RescueCount(titles[id_], count, len(cases), _spans(cases, id_))
        for id_, count in sorted(counts.items(), key=lambda one: (-one[1], one[0]))
    )


def _spans(cases: Sequence[Summary], id_: str) -> tuple[int, ...]:
    return tuple(r.us for case in cases for r in case.rescues if r.id == id_ and r.us >= 0)


def without_rescue(cases: Sequence[Summary]) -> int:
    """Cases in which no rescue was opened."""
    return sum(1 for case in cases if not case.rescues)


@dataclass(frozen=True, slots=True)
class Accuracy:
    """How the record was made. Entries are not independent, so shares stand as counts and get no interval.

    ``lags_s``: of late entries, whole seconds, ascending. ``walls`` of ``times`` durations are by wall clock only.
    """

    entries: int
    live: int
    late: int
    transcribed: int
    corrections: int
    voided: int
    amended: int
    lags_s: tuple[int, ...]
    flagged: int
    walls: int
    times: int

    def share(self, count: int) -> str:
        """A count of entries, from a hundred entries on also for every hundred."""
        if self.entries < 100:
            return f"{count} of {self.entries}"
        return f"{100 * count / self.entries:.1f} in 100 ({count} of {self.entries})"

    @property
    def lag_words(self) -> str:
        """The median lag from five late entries on, below that the lags themselves."""
        if not self.lags_s:
            return "no late entry"
        if len(self.lags_s) < gates.HISTORY_FROM:
            return ", ".join(span_words(lag * SECOND) for lag in self.lags_s)
        return f"median {span_words(round(median(self.lags_s) * SECOND))}, n={len(self.lags_s)}"


def accuracy(cases: Sequence[Summary]) -> Accuracy:
    """How the record of these cases was made."""
    makings = [case.making for case in cases]
    live, late, transcribed, amended = (sum(m.modes[i] for m in makings) for i in range(4))
    return Accuracy(
        entries=sum(case.entries for case in cases),
        live=live,
        late=late,
        transcribed=transcribed,
        corrections=amended,
        voided=sum(m.voided for m in makings),
        amended=sum(m.amended for m in makings),
        lags_s=tuple(sorted(lag for m in makings for lag in m.lags_s)),
        flagged=sum(m.flagged for m in makings),
        walls=sum(one.wall for case in cases for one in case.times),
        times=sum(len(case.times) for case in cases),
    )


def quarters(cases: Sequence[Summary]) -> tuple[tuple[str, Sequence[Summary]], ...]:
    """The series in four parts of as many cases each as can be, oldest first; none where it is too short."""
    n = len(cases)
    if n < gates.RUN_CHART_FROM:
        return ()
    edges = [n * part // PARTS for part in range(PARTS + 1)]
    return tuple((f"cases {low + 1} to {high}", cases[low:high]) for low, high in pairwise(edges))


@dataclass(frozen=True, slots=True)
class Wholeness:
    """``complete`` of ``n`` cases lack nothing; ``each`` is the steps without an answer, case by case."""

    n: int
    complete: int
    steps: int
    unanswered: int
    killers: int
    killer_cases: int
    stages: int
    each: tuple[int, ...]

    @property
    def halves(self) -> str:
        """The median of the earlier and of the later half; empty where the series is too short."""
        if self.n < gates.RUN_CHART_FROM:
            return ""
        half = self.n // 2
        first, second = median(self.each[:half]), median(self.each[half:])
        return f"{first:g} in the earlier half (n={half}), {second:g} in the later half (n={self.n - half})"


def wholeness(cases: Sequence[Summary]) -> Wholeness:
    """How complete the record of these cases is."""
    whole = [case.whole for case in cases]
    return Wholeness(
        n=len(cases),
        complete=sum(1 for w in whole if not w.unanswered and not w.stages),
        steps=sum(w.steps for w in whole),
        unanswered=sum(w.unanswered for w in whole),
        killers=sum(w.killers for w in whole),
        killer_cases=sum(1 for w in whole if w.killers),
        stages=sum(w.stages for w in whole),
        each=tuple(w.unanswered for w in whole),
    )
