"""A set of cases looked back on together, as plain text: times, successes, rescues, and how good the record is.

Counts stand with their interval, times with their n, and what the gates forbid is not shown. No person appears.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from statistics import median

from labcheck.caselog.clockwords import SECOND, span_words
from labcheck.debrief.agreed import NOTHING, Agreed
from labcheck.debrief.comparing import Compared, own_words, trend_words
from labcheck.debrief.lines import bullets, heading, inert, wrapped
from labcheck.debrief.outcomes import chart_words, failure_chart, leaflets, technical
from labcheck.debrief.summary import Summary
from labcheck.reference.figures import Reason
from labcheck.reference.statistics import gates

BLOCKS = "▁▂▃▄▅▆▇█"
MOST_BLOCKS = 48


def series_lines(
    cases: Sequence[Summary], agreed: Agreed = NOTHING, left_out: Sequence[tuple[str, int]] = ()
) -> list[str]:
    """One comparable series, oldest first, as lines of at most 80 columns."""
    parts = (
        _title(cases, left_out),
        [*heading("Times"), *bullets(_times(cases))],
        [*heading("Successes"), *bullets(_successes(cases, agreed))],
        [*heading("Bailouts"), *bullets(_rescues(cases))],
        [*heading("How good the times of the record are"), *bullets(_accuracy(cases))],
        [*heading("How complete the record is"), *bullets(_completeness(cases))],
    )
    return [inert(line) for part in parts for line in part]


def _title(cases: Sequence[Summary], left_out: Sequence[tuple[str, int]]) -> list[str]:
    last = cases[-1]
    cusps = "1 cusp" if len(last.cusps) == 1 else f"{len(last.cusps)} cusps"
    mark = "  REHEARSALS, NOT REAL CASES" if last.rehearsal else ""
    revisions = ", ".join(dict.fromkeys(case.revision for case in cases))
    return [
        f"SERIES  {last.technique.replace('_', ' ')}, {cusps}, n={len(cases)}{mark}",
        *wrapped(f"from {_day(cases[0])} to {_day(last)}; checklist {last.checklist}, revision {revisions}"),
        *(line for why, n in left_out for line in wrapped(f"left out, {why}: {n}")),
        *wrapped("Facts for the team's own learning: no ranking, no advice. Verify locally."),
    ]


def _day(case: Summary) -> str:
    return f"{datetime.fromtimestamp(case.opened_us // SECOND + case.off_s, UTC):%Y-%m-%d}"


def times_of(cases: Sequence[Summary]) -> tuple[Compared, ...]:
    """Every interval and stage that any of the cases finished, in the order of the latest case that has it."""
    titles: dict[str, str] = {}
    values: dict[str, list[float]] = {}
    wall: Counter[str] = Counter()
    for case in cases:
        for one in case.times:
            titles[one.id] = one.title
            values.setdefault(one.id, []).append(one.minutes)
            wall[one.id] += one.wall
    order = dict.fromkeys(one.id for case in (cases[-1], *cases) for one in case.times)
    return tuple(_compared(id_, titles[id_], values[id_], wall[id_]) for id_ in order)


def _compared(id_: str, title: str, minutes: list[float], wall: int) -> Compared:
    trend = gates.trend(minutes)
    kept = tuple(minutes)
    return Compared(id_, title, None, None, None if isinstance(trend, Reason) else trend, kept, wall, True)


def _times(cases: Sequence[Summary]) -> Iterator[str]:
    for one in times_of(cases):
        if one.id.startswith("stage:"):
            continue
        said = f"{one.title}: {own_words(one)}"
        words = trend_words(one)
        yield f"{said}. Over time: {words}" if words else said
        if one.chartable:
            yield f"{sparkline(one.earlier)}  {one.title}, oldest left, log scale"


def sparkline(minutes: Sequence[float]) -> str:
    """The last times as block letters on a log scale."""
    logs = [math.log(value) for value in minutes[-MOST_BLOCKS:]]
    low, high = min(logs), max(logs)
    spread = max(high - low, 1e-9)
    return "".join(BLOCKS[round((value - low) / spread * (len(BLOCKS) - 1))] for value in logs)


def _successes(cases: Sequence[Summary], agreed: Agreed) -> Iterator[str]:
    for found in (leaflets(cases), technical(cases)):
        yield f"{found.what}: {found.text()}"
    chart = failure_chart(cases, agreed.rates_of(cases[-1].technique))
    if isinstance(chart, Reason):
        yield f"no failure chart: {chart.text}"
    else:
        yield from chart_words(chart)


def _rescues(cases: Sequence[Summary]) -> Iterator[str]:
    """Cases in which each rescue was opened; a rescue opened twice in a case is one case."""
    titles = {rescue.id: rescue.title.partition(",")[0] for case in cases for rescue in case.rescues}
    counts = Counter(id_ for case in cases for id_ in {rescue.id for rescue in case.rescues})
    without = sum(1 for case in cases if not case.rescues)
    yield f"cases without any: {_of(without, len(cases))}"
    for id_, count in sorted(counts.items(), key=lambda one: (-one[1], one[0])):
        spans = [r.us for case in cases for r in case.rescues if r.id == id_ and r.us >= 0]
        yield f"{titles[id_]}: {_of(count, len(cases))} cases{_ran(spans)}"


def _ran(spans: Sequence[int]) -> str:
    if not spans:
        return ""
    if len(spans) < gates.HISTORY_FROM:
        return f"; ran {', '.join(span_words(us) for us in spans)}"
    return f"; ran {span_words(round(median(spans)))} in the median, n={len(spans)}"


def _of(count: int, n: int) -> str:
    found = gates.success(count, n)
    return f"{count} of {n}" if isinstance(found, Reason) else found.text()


def _accuracy(cases: Sequence[Summary]) -> Iterator[str]:
    """Entries are not independent of each other, so their shares stand as counts and get no interval."""
    live, late, transcribed, amended = (sum(case.making.modes[i] for case in cases) for i in range(4))
    total = sum(case.entries for case in cases)
    yield f"entries {total}: live {live}, late {late}, transcribed {transcribed}, corrections {amended}"
    yield (
        f"late entries for every 100 entries: {100 * late / total:.1f} ({late} of {total})"
        if total >= 100
        else f"late: {late} of {total} entries"
    )
    lags = sorted(lag for case in cases for lag in case.making.lags_s)
    if len(lags) >= gates.HISTORY_FROM:
        yield f"lag of late entries, median {span_words(round(median(lags) * SECOND))}, n={len(lags)}"
    elif lags:
        yield f"lags of late entries: {', '.join(span_words(lag * SECOND) for lag in lags)}"
    flagged = sum(case.making.flagged for case in cases)
    yield f"entries more than 20 min after the event: {flagged} of {total}"
    voided, changed = (
        sum(case.making.voided for case in cases),
        sum(case.making.amended for case in cases),
    )
    yield f"entries voided {voided}, amended {changed}"
    walls = sum(one.wall for case in cases for one in case.times)
    times = sum(len(case.times) for case in cases)
    yield f"durations known by the wall clock only: {walls} of {times}"


def _completeness(cases: Sequence[Summary]) -> Iterator[str]:
    whole = [case.whole for case in cases]
    complete = sum(1 for w in whole if not w.unanswered and not w.stages)
    yield f"cases without a missing step or stage: {_of(complete, len(cases))}"
    yield f"steps without an answer: {sum(w.unanswered for w in whole)} of {sum(w.steps for w in whole)}"
    killers = [w.killers for w in whole if w.killers]
    yield f"killer steps without an answer: {sum(killers)}, in {len(killers)} cases"
    yield f"stages overtaken or not finished without a decision: {sum(w.stages for w in whole)}"
    unanswered = [float(w.unanswered) for w in whole]
    if len(unanswered) >= gates.RUN_CHART_FROM:
        half = len(unanswered) // 2
        yield (
            f"steps without an answer a case, median: {median(unanswered[:half]):g} in the earlier half "
            f"(n={half}), {median(unanswered[half:]):g} in the later half (n={len(unanswered) - half})"
        )
