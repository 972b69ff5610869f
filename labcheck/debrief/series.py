"""A set of cases looked back on together, as plain text: times, successes, rescues, and how good the record is.

Counts stand with their interval, times with their n, and what the gates forbid is not shown. No person appears.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence

from labcheck.debrief.agreed import NOTHING, Agreed
from labcheck.debrief.comparing import Compared, own_words, trend_words
from labcheck.debrief.learning import learning_chart, learning_words
from labcheck.debrief.lines import bullets, heading, inert, wrapped
from labcheck.debrief.outcomes import chart_words, failure_chart, leaflets, technical
from labcheck.debrief.series_facts import (
    accuracy,
    count_words,
    day_of,
    rescue_counts,
    wholeness,
    without_rescue,
)
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
        _learning(cases, agreed),
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
        *wrapped(
            f"from {day_of(cases[0])} to {day_of(last)}; checklist {last.checklist}, revision {revisions}"
        ),
        *(line for why, n in left_out for line in wrapped(f"left out, {why}: {n}")),
        *wrapped("Facts for the team's own learning: no ranking, no advice. Verify locally."),
    ]


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


def _learning(cases: Sequence[Summary], agreed: Agreed) -> list[str]:
    """The learning curve, only where its rates are agreed: without them nobody has asked for it."""
    chart = learning_chart(cases, agreed.rates_of(cases[-1].technique))
    if isinstance(chart, Reason):
        return []
    return [*heading("Past the learning phase?"), *bullets(learning_words(chart))]


def _rescues(cases: Sequence[Summary]) -> Iterator[str]:
    """Cases in which each rescue was opened; a rescue opened twice in a case is one case."""
    yield f"cases without any: {count_words(without_rescue(cases), len(cases))}"
    for one in rescue_counts(cases):
        ran = f"; {one.ran}" if one.ran else ""
        yield f"{one.title}: {count_words(one.count, one.n)} cases{ran}"


def _accuracy(cases: Sequence[Summary]) -> Iterator[str]:
    found = accuracy(cases)
    yield (
        f"entries {found.entries}: live {found.live}, late {found.late}, transcribed {found.transcribed}, "
        f"corrections {found.corrections}"
    )
    yield f"late entries: {found.share(found.late)}"
    yield f"corrections: {found.share(found.corrections)}; entries voided {found.voided}, amended {found.amended}"
    if found.lags_s:
        yield f"lag of late entries: {found.lag_words}"
    yield f"entries more than 20 min after the event: {found.flagged} of {found.entries}"
    yield f"durations known by the wall clock only: {found.walls} of {found.times}"


def _completeness(cases: Sequence[Summary]) -> Iterator[str]:
    found = wholeness(cases)
    yield f"cases without a missing step or stage: {count_words(found.complete, found.n)}"
    yield f"steps without an answer: {found.unanswered} of {found.steps}"
    yield f"killer steps without an answer: {found.killers}, in {found.killer_cases} cases"
    yield f"stages overtaken or not finished without a decision: {found.stages}"
    if found.halves:
        yield f"steps without an answer a case, median: {found.halves}"
