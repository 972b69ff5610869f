"""The small charts: today beside earlier cases, times in order, the failure chart, a count with its interval.

They draw the numbers that the words beside them say, and nothing that the gates do not allow.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from labcheck.caselog.clockwords import date_words
from labcheck.caselog.stamps import Moment
from labcheck.debrief.comparing import Compared, lasted_words, trend_words
from labcheck.debrief.outcomes import FailureChart, Outcomes, Try
from labcheck.debrief.page.markup import Markup, el, number, picture, titled
from labcheck.debrief.page.placing import text_width
from labcheck.debrief.page.style import INK, LINE, PAPER
from labcheck.debrief.summary import Summary

WIDTH, HEIGHT = 520.0, 192.0
LEFT, RIGHT, TOP, BOTTOM = 10.0, 368.0, 22.0, 158.0
SIZE = 15.0
SOLID, DASHED = "none", "6 3"
MOST_DRAWN = 60
"""Earlier cases drawn in a run chart; median and limits are from all of them."""
MOST_LEAFLETS = 120


def strip(name: str, one: Compared) -> Markup:
    """Earlier times as strokes and today as a diamond, on one line from zero to the longest."""
    if one.today is None and not one.earlier:
        return el("span", {"class": "quiet"}, "")
    values = [*one.earlier, *([one.today] if one.today is not None else [])]
    high = max(values)
    parts = [el("line", {"x1": 4, "y1": 12, "x2": 226, "y2": 12, "stroke": LINE})]
    for value in one.earlier[-MOST_DRAWN:]:
        x = 6 + 214 * value / high
        stroke = el("line", {"x1": x, "y1": 6, "x2": x, "y2": 18, "stroke": INK, "stroke-width": 1})
        parts.append(titled(f"earlier case: {lasted_words(value)}", stroke))
    if one.against is not None and one.against.quartiles is not None:
        q = one.against.quartiles
        left, right = (6 + 214 * v / high for v in (q.lower, q.upper))
        box = {"x": left, "y": 8, "width": max(1.0, right - left), "height": 8, "fill": "none", "stroke": INK}
        words = f"quartiles {lasted_words(q.lower)} to {lasted_words(q.upper)}, own median {lasted_words(q.median)}"
        parts.append(titled(words, el("rect", box)))
    if one.today is not None:
        parts.append(_diamond(6 + 214 * one.today / high, 12, 6, f"today {lasted_words(one.today)}"))
    said = f"{one.title}: {len(one.earlier)} earlier cases" + (
        f" and today, {lasted_words(one.today)}" if one.today is not None else ""
    )
    return picture(name, said, 230, 24, *parts, klass="strip")


def run_chart(name: str, one: Compared, cases: Sequence[Summary]) -> Markup:
    """Times in order of the cases on a log scale, with median and limits where there are enough cases."""
    trend = one.trend
    if trend is None or trend.median is None:
        raise ValueError(f"{one.id}: too few earlier cases for a run chart")
    shown = one.earlier[-MOST_DRAWN:]
    labels = _case_labels(one, cases)
    levels = [trend.median, *shown, *([one.today] if one.today is not None else [])]
    if trend.limits is not None:
        levels += [trend.limits.lower, trend.limits.upper]
    low, high = math.log(min(levels)), math.log(max(levels))
    count = len(shown) + 1

    def at(i: int) -> float:
        return LEFT + (RIGHT - LEFT) * (i + 0.5) / count

    def y(value: float) -> float:
        return BOTTOM - (BOTTOM - TOP) * (math.log(value) - low) / max(high - low, 1e-9)

    first = len(one.earlier) - len(shown)
    outside = {i - first for i in trend.outside}
    marks = [(y(trend.median), f"median {lasted_words(trend.median)}", SOLID)]
    if trend.limits is not None:
        marks.append((y(trend.limits.upper), f"limit {lasted_words(trend.limits.upper)}", DASHED))
        marks.append((y(trend.limits.lower), f"limit {lasted_words(trend.limits.lower)}", DASHED))
    if one.today is not None:
        marks.append((y(one.today), f"today {lasted_words(one.today)}", ""))
    parts = _levels(marks)
    line = " ".join(f"{number(at(i))},{number(y(v))}" for i, v in enumerate(shown))
    parts.append(el("polyline", {"points": line, "fill": "none", "stroke": LINE}))
    for i, value in enumerate(shown):
        words = f"{labels[i]}: {lasted_words(value)}" + (", outside the limits" if i in outside else "")
        parts.append(_point(at(i), y(value), i in outside, words, one.id, value))
    if one.today is not None:
        parts.append(_diamond(at(len(shown)), y(one.today), 7, f"today {lasted_words(one.today)}"))
    parts.append(
        _label(
            LEFT,
            BOTTOM + 26,
            f"{len(shown)} of {len(one.earlier)} {_cases(one)}, oldest left; log scale",
            "start",
            "quiet",
        )
    )
    said = f"{one.title}, run chart: {len(one.earlier)} {_cases(one)}; {trend_words(one)}"
    return picture(name, said, WIDTH, HEIGHT, *parts)


def _cases(one: Compared) -> str:
    return "cases" if one.whole_series else "earlier cases"


def _case_labels(one: Compared, cases: Sequence[Summary]) -> list[str]:
    having = [case for case in cases if case.lasted(one.id) is not None]
    return [f"{case.case} on {day_words(case)}" for case in having[-MOST_DRAWN:]]


def day_words(case: Summary) -> str:
    """The day a case was opened."""
    return date_words(Moment(wall_us=case.opened_us, off_s=case.off_s, tz=""))


def _levels(marks: Sequence[tuple[float, str, str]]) -> list[Markup]:
    """Level lines (height, words, dashes) with their words at the right, moved apart where two would touch.

    Without dashes only the words are set: for today's point, which is drawn by itself.
    """
    parts: list[Markup] = []
    last = -math.inf
    for height, words, dash in sorted(marks):
        if dash:
            look = {"x1": LEFT, "y1": height, "x2": RIGHT, "y2": height, "stroke": INK, "stroke-width": 1}
            parts.append(el("line", {**look, **({"stroke-dasharray": dash} if dash != SOLID else {})}))
        at = max(height + 5, last + SIZE + 1)
        parts.append(_label(RIGHT + 5, at, words, "start", "" if dash else "strong"))
        last = at
    return parts


def failure_picture(name: str, found: FailureChart) -> Markup:
    """The sum after every leaflet against its limit; a failure is a cross, today's leaflets are diamonds."""
    words = f"Failure chart over {len(found.tries)} leaflets"
    return sum_picture(name, words, found.chart.path, found.chart.limit, found.tries)


def sum_picture(name: str, said: str, path: Sequence[float], limit: float, tries: Sequence[Try]) -> Markup:
    """A sum after each of the last leaflets against its limit, with a cross for a failure."""
    shown, last = path[-MOST_LEAFLETS:], tries[-MOST_LEAFLETS:]
    high = max([limit * 1.1, *shown])
    count = max(1, len(shown))

    def at(i: int) -> float:
        return LEFT + (RIGHT - LEFT) * (i + 0.5) / count

    def y(value: float) -> float:
        return BOTTOM - (BOTTOM - TOP) * value / high

    parts = _levels([(y(limit), f"limit {limit:.2f}", DASHED), (y(0.0), "0", SOLID)])
    line = " ".join(f"{number(at(i))},{number(y(v))}" for i, v in enumerate(shown))
    parts.append(el("polyline", {"points": line, "fill": "none", "stroke": INK}))
    for i, (value, one) in enumerate(zip(shown, last, strict=True)):
        words = f"{one.case}, {one.cusp.replace('_', ' ')}: {'failed' if one.failed else 'modified'}, sum {value:.2f}"
        if one.today:
            parts.append(_diamond(at(i), y(value), 6, f"today, {words}"))
        elif one.failed:
            parts.append(titled(words, _cross(at(i), y(value))))
        else:
            parts.append(titled(words, el("circle", {"cx": at(i), "cy": y(value), "r": 2, "fill": INK})))
    today = "; diamond: today" if any(one.today for one in last) else ""
    note = f"{len(shown)} of {len(tries)} leaflets; cross: failed{today}"
    parts.append(_label(LEFT, BOTTOM + 26, note, "start", "quiet"))
    return picture(name, said, WIDTH, HEIGHT, *parts)


def count_picture(name: str, outcomes: Outcomes) -> Markup:
    """A count out of n as a point with its interval; only where there is one."""
    found = outcomes.success
    if found.interval is None:
        raise ValueError("a count without an interval is not drawn")
    left, right = 40.0, 480.0

    def at(share: float) -> float:
        return left + (right - left) * share

    parts = [el("line", {"x1": left, "y1": 30, "x2": right, "y2": 30, "stroke": LINE})]
    for share, words in ((0.0, "none"), (0.5, "half"), (1.0, "all")):
        parts.append(el("line", {"x1": at(share), "y1": 26, "x2": at(share), "y2": 34, "stroke": LINE}))
        parts.append(_label(at(share), 48, words, "middle", "quiet"))
    low, high = at(found.interval.low), at(found.interval.high)
    bar = el(
        "rect", {"x": low, "y": 25, "width": max(1.0, high - low), "height": 10, "fill": PAPER, "stroke": INK}
    )
    dot = _diamond(at(found.count / found.n), 30, 6, found.text())
    words = found.text()
    x = min(max((low + high) / 2, text_width(words, SIZE) / 2), WIDTH - text_width(words, SIZE) / 2)
    parts += [titled(words, bar), dot, _label(x, 16, words, "middle", "strong")]
    return picture(name, f"{outcomes.what}: {outcomes.text()}", WIDTH, 54, *parts)


def _point(x: float, y: float, outside: bool, words: str, id_: str, value: float) -> Markup:
    data = {"data-n": id_, "data-value": f"{value:.4f}"}
    if outside:
        box = {
            "x": x - 4,
            "y": y - 4,
            "width": 8,
            "height": 8,
            "fill": PAPER,
            "stroke": INK,
            "stroke-width": 2,
        }
        return titled(words, el("rect", {**box, **data}))
    return titled(words, el("circle", {"cx": x, "cy": y, "r": 2.6, "fill": INK, **data}))


def _diamond(x: float, y: float, size: float, words: str) -> Markup:
    s = number(size)
    path = f"M{number(x)} {number(y - size)} l{s} {s} l-{s} {s} l-{s} -{s} z"
    return titled(words, el("path", {"d": path, "fill": INK, "stroke": PAPER, "stroke-width": 1}))


def _cross(x: float, y: float) -> Markup:
    path = f"M{number(x - 5)} {number(y - 5)} l10 10 m0 -10 l-10 10"
    return el("path", {"d": path, "fill": "none", "stroke": INK, "stroke-width": 2})


def _label(x: float, y: float, words: str, anchor: str, klass: str) -> Markup:
    look: dict[str, object] = {"x": x, "y": y, "font-size": SIZE, "text-anchor": anchor}
    if klass:
        look["class"] = klass
    return el("text", look, words)
