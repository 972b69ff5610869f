"""The parts of the page that hold today against own earlier cases, and published series for context."""

from __future__ import annotations

from collections.abc import Mapping

from labcheck.caselog.case import Case
from labcheck.checklist.words import CUSP_WORDS
from labcheck.debrief.comparing import (
    Compared,
    compared,
    lasted_words,
    median_words,
    own_words,
    place_words,
    trend_words,
)
from labcheck.debrief.facts import interval_rows, row_cells, stage_rows
from labcheck.debrief.history import History
from labcheck.debrief.outcomes import Outcomes, chart_words, failure_chart, leaflets, technical
from labcheck.debrief.page.charts import count_picture, day_words, failure_picture, run_chart, strip
from labcheck.debrief.page.markup import Markup, el, table, text, time
from labcheck.reference.figures import Reason
from labcheck.reference.published import COUNTS, TIMES, Spread, Technique
from labcheck.reference.statistics import gates

MOST_IN_TABLE = 20
"""Earlier cases whose figures are printed; the charts draw more of them."""
TECHNIQUES: Mapping[str, Technique] = {
    "electrosurgical": Technique.ELECTROSURGICAL,
    "mechanical_splitter": Technique.SPLITTER,
    "coronary_protection": Technique.PROTECTION,
    "anterior_mitral": Technique.MITRAL,
}
"""The shipped techniques that published series are about."""


def today_words(history: History) -> str:
    """What became of every target, technical success, and the rescues."""
    present = history.present
    cusps = [f"{_cusp(one.cusp)}: {_result(one.answer, one.value)}" for one in present.leaflets]
    technical_today = "not known yet" if present.technical == "pending" else present.technical
    rescues = ", ".join(rescue.title for rescue in present.rescues) or "none"
    ends = f"technical success at exit: {technical_today}; bailouts: {rescues}"
    return f"Today: {'; '.join(cusps) or 'no target'}; {ends}."


def _cusp(cusp: str) -> str:
    return CUSP_WORDS.get(cusp, cusp)


def intervals(case: Case, history: History) -> Markup:
    """Today's intervals against own history, then the stages."""
    rows: list[tuple[Markup | str, ...]] = []
    for n, row in enumerate(interval_rows(case)):
        one = compared(history, row.id, row.title)
        start, end, lasted, noted = row_cells(row)
        when = el("div", {"class": "quiet time"}, f"{start} to {end}") if row.start else Markup("")
        place = el("div", None, place_words(one) or below_words(one))
        rows.append((text(noted) + when, time(lasted), _own(one), strip(f"strip{n}", one) + place))
    head = ("interval", "today", "own earlier cases", "earlier cases (strokes) and today (diamond)")
    stages: list[tuple[Markup | str, ...]] = []
    for row in stage_rows(case):
        one = compared(history, row.id, row.title)
        start, end, lasted, noted = row_cells(row)
        own = own_words(one, interval=False) if row.kind == "stage" and one.earlier else ""
        stages.append((noted, time(lasted), time(f"{start} to {end}"), own))
    return el(
        "section",
        {"class": "fresh"},
        el("h2", None, "Intervals"),
        *(el("p", {"class": "quiet"}, line) for line in history_lines(history)),
        table("Intervals of the checklist, today and in own earlier cases", head, rows, "wrap"),
        table("Stages", ("stage", "today", "from, to", "own earlier cases"), stages, "wrap"),
    )


def _own(one: Compared) -> Markup:
    interval = one.against.median_interval if one.against is not None else None
    said = el("div", None, own_words(one, interval=False))
    if interval is None:
        return said
    return said + el("div", {"class": "quiet"}, median_words(interval))


def below_words(one: Compared) -> str:
    n = len(one.earlier)
    return "values only, below five" if 0 < n < gates.HISTORY_FROM else ""


def history_lines(history: History) -> list[str]:
    """What the comparison is with, and what it is not with."""
    n = len(history.earlier)
    kind = "rehearsal" if history.rehearsals else "case"
    present = history.present
    same = f"same technique, {len(present.cusps)} {'cusp' if len(present.cusps) == 1 else 'cusps'}, same checklist"
    lines = [
        f"Compared with {n} earlier {kind}{'' if n == 1 else 's'} ({same}). The present case is not among them."
    ]
    if n < gates.HISTORY_FROM:
        lines.append(
            "Below five earlier cases only their values are shown, and nothing is computed from them."
        )
    if history.left_out:
        left = "; ".join(f"{why}: {count}" for why, count in history.left_out)
        lines.append(f"Left out: {left}.")
    lines += [
        f"Revisions {', '.join(join.revisions)} of the checklist are compared as one: {join.reason}."
        for join in history.agreed.join
        if join.checklist == present.checklist and present.revision in join.revisions
    ]
    lines.append("Quartiles are linear (type 7).")
    return lines


def trends(case: Case, history: History) -> Markup:
    """Run charts of the intervals that have enough earlier cases."""
    figures = []
    few = []
    for n, row in enumerate(interval_rows(case)):
        one = compared(history, row.id, row.title)
        if not one.chartable:
            few.append(f"{row.title} ({len(one.earlier)})")
            continue
        words = el("figcaption", None, trend_words(one))
        figures.append(
            el("figure", None, el("h3", None, row.title), run_chart(f"run{n}", one, history.earlier), words)
        )
    parts: list[Markup] = [el("h2", None, "Over time")]
    if figures:
        parts.append(
            el(
                "p",
                {"class": "quiet"},
                "Limits are computed on the logarithms of the times, from the earlier "
                f"cases alone: provisional from {gates.LIMITS_PROVISIONAL_FROM} cases, firm from "
                f"{gates.LIMITS_FIRM_FROM}. A value on the median ends a run.",
            )
        )
        parts.append(el("div", {"class": "pair"}, *figures))
    if few:
        parts.append(
            el(
                "p",
                {"class": "quiet"},
                f"No run chart below {gates.RUN_CHART_FROM} earlier cases: {', '.join(few)}.",
            )
        )
    if history.earlier:
        parts.append(_values(case, history))
    return el("section", None, *parts)


def _values(case: Case, history: History) -> Markup:
    """The last earlier cases in figures: what the charts draw, for those who cannot see them."""
    rows_of = interval_rows(case)
    shown = history.earlier[-MOST_IN_TABLE:]
    rows: list[tuple[Markup | str, ...]] = []
    for one in shown:
        times = (one.lasted(row.id) for row in rows_of)
        cells = (
            lasted_words(found.minutes) + (" w" if found.wall else "") if found else "-" for found in times
        )
        rows.append((one.case, time(day_words(one)), *map(time, cells)))
    head = ("case", "day", *(row.title for row in rows_of))
    walls = "; w: known by the wall clock only" if any(t.wall for one in shown for t in one.times) else ""
    caption = f"The last {len(shown)} of {len(history.earlier)} earlier cases in figures, newest below{walls}"
    return table(caption, head, rows, "long")


def success(history: History) -> Markup:
    """Counts with their interval before today, today's result, the failure chart, and published series."""
    counts = (leaflets(history.earlier), technical(history.earlier))
    title = el("h2", None, "How often it went as meant")
    figures = (_outcomes(f"count{n}", found) for n, found in enumerate(counts))
    parts: list[Markup] = [el("div", {"class": "together"}, title, *figures)]
    parts.append(el("p", None, today_words(history)))
    parts.append(el("h3", None, "Are failures accumulating?"))
    rates = history.agreed.rates_of(history.present.technique)
    chart = failure_chart((*history.earlier, history.present), rates, history.present.case)
    if isinstance(chart, Reason):
        parts.append(el("p", None, f"No failure chart: {chart.text}."))
    else:
        figure = (
            el("figure", {"class": "half"}, failure_picture("cusum", chart)) if chart.tries else Markup("")
        )
        parts += [figure, *(el("p", None, line) for line in chart_words(chart))]
    return el("section", None, *parts, published(history.present.technique))


def _result(answer: str, value: str) -> str:
    said = {"yes": "modified", "no": "not modified"}.get(answer, "not known")
    return f"{said} ({value.replace('_', ' ')})" if value else said


def _outcomes(name: str, found: Outcomes) -> Markup:
    said = el("p", None, f"Before today, {found.what}: ", el("strong", None, found.text()))
    if found.success.interval is None:
        return said
    return said + el("figure", {"class": "half"}, count_picture(name, found))


def published(technique: str) -> Markup:
    """Published series of the technique, as context: never a target, never beside a bare percentage."""
    chosen = TECHNIQUES.get(technique)
    counts = [
        (f"{c.count} of {c.n} {c.per}s", c.what, c.source.line()) for c in COUNTS if c.technique == chosen
    ]
    times = [
        (
            f"{t.minutes:g} min"
            + (f" ({t.low:g} to {t.high:g}, {t.spread.value})" if t.spread is not Spread.NONE else ""),
            f"{t.what}, {f'n={t.n}' if t.n is not None else 'n not known'}",
            t.source.line(),
        )
        for t in TIMES
        if t.technique == chosen
    ]
    if not counts and not times:
        return el("p", {"class": "quiet"}, "No published series of this technique is kept here.")
    rows: list[tuple[Markup | str, ...]] = [*counts, *times]
    return el("h3", None, "Published series, for context only") + table(
        "Other hospitals, other patients, other definitions: context and never a target",
        ("figure", "of what", "source"),
        rows,
        "wrap",
    )
