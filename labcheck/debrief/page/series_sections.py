"""One comparable series on the page: every part with the table that says the same as its drawing."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby

from labcheck.checklist.words import CUSP_WORDS
from labcheck.debrief.agreed import Agreed
from labcheck.debrief.comparing import Compared, lasted_words, own_words, trend_words
from labcheck.debrief.learning import learning_chart, learning_words
from labcheck.debrief.outcomes import (
    FailureChart,
    Outcomes,
    chart_words,
    failure_chart,
    leaflets,
    technical,
)
from labcheck.debrief.page.charts import (
    MOST_DRAWN,
    MOST_LEAFLETS,
    count_picture,
    failure_picture,
    run_chart,
    sum_picture,
)
from labcheck.debrief.page.markup import Markup, bullets, el, table, time
from labcheck.debrief.page.series_charts import lacking_picture, making_picture, rescue_picture
from labcheck.debrief.series import times_of
from labcheck.debrief.series_facts import (
    Accuracy,
    accuracy,
    count_words,
    day_of,
    quarters,
    rescue_counts,
    wholeness,
    without_rescue,
    year_of,
)
from labcheck.debrief.summary import Summary
from labcheck.reference.figures import Reason
from labcheck.reference.statistics import gates

Rows = list[tuple[Markup | str, ...]]


def series(n: int, cases: Sequence[Summary], agreed: Agreed) -> Markup:
    """The whole series; ``n`` tells the drawings of several series apart."""
    times = [one for one in times_of(cases) if not one.id.startswith("stage:")]
    last = cases[-1]
    cusps = "1 cusp" if len(last.cusps) == 1 else f"{len(last.cusps)} cusps"
    revisions = ", ".join(dict.fromkeys(case.revision for case in cases))
    about = (
        f"n={len(cases)}, from {day_of(cases[0])} to {day_of(last)}; checklist {last.checklist}, "
        f"revision {revisions}"
    )
    return el(
        "section",
        {"class": "fresh"} if n else None,
        el("h2", None, f"Series: {last.technique.replace('_', ' ')}, {cusps}"),
        el("p", {"class": "quiet"}, about),
        *(el("p", {"class": "quiet"}, words) for words in _joins(last, agreed)),
        _glance(cases),
        _times(n, cases, times),
        _success(n, cases, agreed),
        _rescues(n, cases),
        _record(n, cases),
        _wholeness(n, cases),
        _values(cases, times),
    )


def _joins(last: Summary, agreed: Agreed) -> Iterator[str]:
    for join in agreed.join:
        if join.checklist == last.checklist and last.revision in join.revisions:
            yield f"Revisions {', '.join(join.revisions)} of the checklist are compared as one: {join.reason}."


def _glance(cases: Sequence[Summary]) -> Markup:
    """The first table: a line for every question, and nothing that the parts below do not say too."""
    made, whole = accuracy(cases), wholeness(cases)
    rows: Rows = [(one.what, one.text()) for one in (leaflets(cases), technical(cases))]
    rows += [
        ("cases without any bailout", count_words(without_rescue(cases), len(cases))),
        ("entries made late", made.share(made.late)),
        ("lag of late entries", made.lag_words),
        ("cases without a missing step or stage", count_words(whole.complete, whole.n)),
    ]
    return table("At a glance", ("what", "in this series"), rows, "wrap together")


def _times(n: int, cases: Sequence[Summary], times: Sequence[Compared]) -> Markup:
    rows: Rows = [
        (one.title, own_words(one), trend_words(one) or "too few cases for a trend") for one in times
    ]
    figures = [
        el("figure", None, el("h4", None, one.title), run_chart(f"s{n}run{m}", one, cases))
        for m, one in enumerate(times)
        if one.chartable
    ]
    parts = [el("h3", {"class": "part"}, "Times")]
    if figures:
        parts.append(
            el(
                "p",
                {"class": "quiet"},
                "Limits are computed on the logarithms of the times, over the whole series: provisional from "
                f"{gates.LIMITS_PROVISIONAL_FROM} cases, firm from {gates.LIMITS_FIRM_FROM}. A square lies outside "
                "them. A value on the median ends a run. Quartiles are linear (type 7).",
            )
        )
        parts.append(el("div", {"class": "pair"}, *figures))
    else:
        parts.append(el("p", {"class": "none"}, f"No run chart below {gates.RUN_CHART_FROM} cases."))
    parts.append(table("Times in words", ("interval", "this series", "over time"), rows, "wrap together"))
    return el("section", None, *parts)


def _success(n: int, cases: Sequence[Summary], agreed: Agreed) -> Markup:
    found = (leaflets(cases), technical(cases))
    rows: Rows = [_outcome_row(one) for one in found]
    parts: list[Markup] = [el("h3", {"class": "part"}, "How often it went as meant")]
    drawn = [one for one in found if one.success.interval is not None]
    if drawn:
        figures = (
            el("figure", None, count_picture(f"s{n}count{m}", one), el("figcaption", None, one.what))
            for m, one in enumerate(drawn)
        )
        parts.append(el("div", {"class": "pair"}, *figures))
    head = ("what", "count, Wilson interval", "exact interval (Clopper-Pearson)", "not known yet")
    parts.append(table("Successes", head, rows, "wrap together"))
    years = _years(cases)
    if len(years) > 1:
        parts.append(
            table(
                "By year",
                ("year", "cases", "target leaflets modified", "technical success"),
                years,
                "together",
            )
        )
    return el("section", None, *parts, _failures(n, cases, agreed), _learning(n, cases, agreed))


def _outcome_row(one: Outcomes) -> tuple[Markup | str, ...]:
    exact = gates.exact_success(one.success.count, one.success.n)
    said = (
        exact.text
        if isinstance(exact, Reason)
        else f"{exact.level * 100:.0f} % interval {100 * exact.low:.1f} to {100 * exact.high:.1f} %"
    )
    return one.what, one.success.text(), said, str(one.pending)


def _years(cases: Sequence[Summary]) -> Rows:
    rows: Rows = []
    for year, some in groupby(cases, key=year_of):
        those = tuple(some)
        rows.append((str(year), str(len(those)), leaflets(those).text(), technical(those).text()))
    return rows


def _failures(n: int, cases: Sequence[Summary], agreed: Agreed) -> Markup:
    chart = failure_chart(cases, agreed.rates_of(cases[-1].technique))
    title = el("h4", None, "Are failures accumulating?")
    if isinstance(chart, Reason):
        return el("div", None, title, el("p", None, f"No failure chart: {chart.text}."))
    figure = failure_picture(f"s{n}cusum", chart) if chart.tries else Markup("")
    words = (el("p", None, line) for line in chart_words(chart))
    return el("div", None, title, el("figure", {"class": "half"}, figure), *words, _failed(chart))


def _failed(chart: FailureChart) -> Markup:
    """The failed leaflets that the chart draws, with the sum after each: between them it falls evenly to zero."""
    first = max(0, len(chart.tries) - MOST_LEAFLETS)
    rows: Rows = [
        (str(at + 1), one.case, CUSP_WORDS.get(one.cusp, one.cusp), f"{chart.chart.path[at]:.2f}")
        for at, one in enumerate(chart.tries)
        if one.failed and at >= first
    ]
    caption = f"Failed leaflets among the last {len(chart.tries) - first} of {len(chart.tries)}"
    return table(caption, ("leaflet", "case", "cusp", "sum after it"), rows)


def _learning(n: int, cases: Sequence[Summary], agreed: Agreed) -> Markup:
    """Only where the rates are agreed: without them nobody has asked for it."""
    found = learning_chart(cases, agreed.rates_of(cases[-1].technique))
    if isinstance(found, Reason) or not found.tries:
        return Markup("")
    said = f"Learning-curve chart over {len(found.tries)} leaflets; a success takes it up, a failure down"
    figure = sum_picture(f"s{n}learning", said, found.chart.path, found.chart.limit, found.tries)
    words = (el("p", None, line) for line in learning_words(found))
    title = el("h4", None, "Past the learning phase? (a success takes the sum up, a failure down)")
    return el("div", None, title, el("figure", {"class": "half"}, figure), *words)


def _rescues(n: int, cases: Sequence[Summary]) -> Markup:
    counts = rescue_counts(cases)
    rows: Rows = [("none at all", count_words(without_rescue(cases), len(cases)), "")]
    rows += [(one.title, count_words(one.count, one.n), one.ran) for one in counts]
    figure = el("figure", None, rescue_picture(f"s{n}rescues", counts)) if counts else Markup("")
    return el(
        "section",
        None,
        el("h3", {"class": "part"}, "Bailouts"),
        figure,
        table("Cases in which a bailout was opened", ("bailout", "cases", "how long"), rows, "wrap together"),
    )


def _record(n: int, cases: Sequence[Summary]) -> Markup:
    """How good the times of the record are."""
    whole = accuracy(cases)
    parts = [("all cases", whole), *((name, accuracy(some)) for name, some in quarters(cases))]
    rows: Rows = [(name, *_accuracy_cells(found)) for name, found in parts]
    head = (
        "of",
        "entries",
        "live",
        "late",
        "transcribed",
        "corrections",
        "lag of late entries",
        "over 20 min",
    )
    return el(
        "section",
        None,
        el("h3", {"class": "part"}, "How good the times of the record are"),
        el("figure", None, making_picture(f"s{n}made", parts, first=n == 0)),
        table("How the entries were made", head, rows, "wrap together"),
        bullets(
            [
                f"late entries: {whole.share(whole.late)}; corrections: {whole.share(whole.corrections)}",
                f"entries voided {whole.voided}, amended {whole.amended}",
                f"durations known by the wall clock only: {whole.walls} of {whole.times}",
            ]
        ),
    )


def _accuracy_cells(found: Accuracy) -> tuple[str, ...]:
    counts = (found.entries, found.live, found.late, found.transcribed, found.corrections)
    return (*map(str, counts), found.lag_words, str(found.flagged))


def _wholeness(n: int, cases: Sequence[Summary]) -> Markup:
    found = wholeness(cases)
    lines = [
        f"cases without a missing step or stage: {count_words(found.complete, found.n)}",
        f"steps without an answer: {found.unanswered} of {found.steps}",
        f"killer steps without an answer: {found.killers}, in {found.killer_cases} cases",
        f"stages overtaken or not finished without a decision: {found.stages}",
    ]
    if found.halves:
        lines.append(f"steps without an answer a case, median: {found.halves}")
    return el(
        "section",
        None,
        el("h3", {"class": "part"}, "How complete the record is"),
        el("figure", None, lacking_picture(f"s{n}lacking", cases)),
        bullets(lines),
    )


def _values(cases: Sequence[Summary], times: Sequence[Compared]) -> Markup:
    """The drawn cases in figures, for those who cannot see the charts."""
    shown = cases[-MOST_DRAWN:]
    rows: Rows = []
    for case in shown:
        cells = [case.lasted(one.id) for one in times]
        answers = [leaflet.answer for leaflet in case.leaflets]
        rows.append(
            (
                case.case,
                time(day_of(case)),
                *(time(lasted_words(c.minutes) + (" w" if c.wall else "") if c else "-") for c in cells),
                time(f"{answers.count('yes')} of {len(answers)}"),
                str(len(case.rescues)),
                time(f"{case.making.modes[1]} of {case.entries}"),
                time(f"{case.whole.unanswered} of {case.whole.steps}"),
            )
        )
    head = (
        "case",
        "day",
        *(one.title for one in times),
        "leaflets modified",
        "bailouts",
        "late entries",
        "steps without an answer",
    )
    walls = "; w: known by the wall clock only" if any(t.wall for case in shown for t in case.times) else ""
    caption = f"The last {len(shown)} of {len(cases)} cases in figures, newest below{walls}"
    return table(caption, head, rows, "long dense")
