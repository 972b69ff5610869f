"""The small charts of a series: rescues, how the record was made, what it lacks, and the shift between two sets."""

from __future__ import annotations

from collections.abc import Sequence

from labcheck.caselog.clockwords import MINUTE, span_words
from labcheck.debrief.arms import Arms, TimeArms
from labcheck.debrief.arms_words import shift_words, signed_words
from labcheck.debrief.page.markup import Markup, el, number, picture, titled
from labcheck.debrief.page.placing import text_width
from labcheck.debrief.page.style import BAR, BAR_OTHER, INK, LINE, PAPER
from labcheck.debrief.series_facts import Accuracy, RescueCount, day_of
from labcheck.debrief.summary import Summary
from labcheck.reference.statistics.ranks import Shift

WIDTH = 720.0
SIZE = 12.0
ROW = 24.0
NAMES = 230.0
TITLES, HALF = 300.0, 155.0
MOST_DRAWN = 60
MODES = (("live", BAR), ("late", "url(#hatch)"), ("transcribed", BAR_OTHER), ("corrections", INK))


def _hatching() -> Markup:
    """The hatching that stands for late entries: it must be seen without colour."""
    line = el("path", {"d": "M0 0 L0 6", "stroke": INK, "stroke-width": 2})
    back = el("rect", {"width": 6, "height": 6, "fill": PAPER})
    shape = {
        "id": "hatch",
        "width": 6.0,
        "height": 6.0,
        "patternUnits": "userSpaceOnUse",
        "patternTransform": "rotate(45)",
    }
    return el("defs", None, el("pattern", shape, back, line))


def rescue_picture(name: str, counts: Sequence[RescueCount]) -> Markup:
    """In how many cases each rescue was opened, as bars out of all cases."""
    parts: list[Markup] = []
    for row, one in enumerate(counts):
        y = 6 + row * ROW
        words = f"{one.title}: {one.count} of {one.n} cases"
        parts.append(_text(0, y + 13, _short(one.title, NAMES - 8), "start"))
        parts.append(_bar(NAMES, y, (WIDTH - NAMES - 90) * one.count / one.n, BAR, words))
        x = NAMES + (WIDTH - NAMES - 90) * one.count / one.n + 6
        parts.append(_text(x, y + 13, f"{one.count} of {one.n}", "start", "strong"))
    said = "Bailouts: " + "; ".join(f"{one.title} {one.count} of {one.n}" for one in counts)
    return picture(name, said, WIDTH, 10 + ROW * len(counts), *parts)


def making_picture(name: str, rows: Sequence[tuple[str, Accuracy]], *, first: bool) -> Markup:
    """Entries live, late, transcribed and corrections as parts of one bar, for the series and its quarters.

    ``first`` on the page: this drawing holds the hatching that the others use too.
    """
    parts: list[Markup] = [_hatching()] if first else []
    x = NAMES
    for mode, fill in MODES:
        parts.append(_bar(x, 2, 16, fill, mode, 12))
        parts.append(_text(x + 22, 12, mode, "start"))
        x += 22 + text_width(mode, SIZE) + 18
    for row, (title, found) in enumerate(rows):
        y = 26 + row * ROW
        parts.append(_text(0, y + 13, title, "start"))
        left = NAMES
        counts = (found.live, found.late, found.transcribed, found.corrections)
        for (mode, fill), count in zip(MODES, counts, strict=True):
            width = (WIDTH - NAMES - 4) * count / max(1, found.entries)
            if count:
                parts.append(
                    _bar(left, y, width, fill, f"{title}, {mode}: {count} of {found.entries} entries")
                )
            left += width
    whole = rows[0][1]
    said = (
        f"How the entries were made: live {whole.live}, late {whole.late}, transcribed {whole.transcribed}, "
        f"corrections {whole.corrections} of {whole.entries}"
    )
    return picture(name, said, WIDTH, 30 + ROW * len(rows), *parts)


def lacking_picture(name: str, cases: Sequence[Summary]) -> Markup:
    """Steps without an answer, case by case, oldest left; a cross where a killer step is among them."""
    shown = cases[-MOST_DRAWN:]
    high = max(1, *(case.whole.unanswered for case in shown))
    left, right, top, bottom = 34.0, WIDTH - 6, 18.0, 92.0
    step = (right - left) / len(shown)
    parts = [el("line", {"x1": left, "y1": bottom, "x2": right, "y2": bottom, "stroke": INK})]
    parts += [
        _text(left - 6, top + 4, str(high), "end", "quiet"),
        _text(left - 6, bottom, "0", "end", "quiet"),
    ]
    for place, case in enumerate(shown):
        whole, x = case.whole, left + step * (place + 0.5)
        killers = f", {whole.killers} of them killer steps" if whole.killers else ""
        words = f"{case.case} on {day_of(case)}: {whole.unanswered} of {whole.steps} steps without an answer{killers}"
        y = bottom - (bottom - top) * whole.unanswered / high
        wide = max(2.0, min(10.0, step - 2))
        column = _bar(x - wide / 2, y, wide, BAR, words, max(1.5, bottom - y))
        parts.append(column)
        if whole.killers:
            path = f"M{number(x - 4)} {number(y - 10)} l8 8 m0 -8 l-8 8"
            parts.append(
                titled(words, el("path", {"d": path, "fill": "none", "stroke": INK, "stroke-width": 2}))
            )
    note = f"the last {len(shown)} of {len(cases)} cases, oldest left; cross: a killer step is among them"
    parts.append(_text(left, bottom + 18, note, "start", "quiet"))
    said = f"Steps without an answer, case by case, at most {high}"
    return picture(name, said, WIDTH, bottom + 26, *parts)


def shift_picture(name: str, arms: Arms) -> Markup:
    """How much longer the second set took, one line an interval, each to its own scale.

    Only what may be computed is drawn. Raises ``ValueError`` where that is nothing.
    """
    drawn = [(one, one.shift) for one in arms.times if isinstance(one.shift, Shift)]
    if not drawn:
        raise ValueError("no shift may be shown")
    middle, height = TITLES + HALF, 30 + ROW * len(drawn)
    parts = [
        _text(middle - 8, 12, "B shorter", "end", "quiet"),
        _text(middle + 8, 12, "B longer", "start", "quiet"),
        el("line", {"x1": middle, "y1": 16, "x2": middle, "y2": height - 4, "stroke": INK}),
    ]
    for row, (one, shift) in enumerate(drawn):
        parts += _shift_row(one, shift, middle, 36 + row * ROW)
    said = "Shift between the sets: " + "; ".join(
        f"{one.title}: B {signed_words(s.shift)}" for one, s in drawn
    )
    return picture(name, said, WIDTH, height + 6, *parts)


def _shift_row(one: TimeArms, shift: Shift, middle: float, y: float) -> list[Markup]:
    words = f"{one.title}: {shift_words(one)}"
    reach = max(abs(shift.low), abs(shift.high), 1e-6)
    low, at, high = (
        middle + (HALF - 8) * minutes / reach for minutes in (shift.low, shift.shift, shift.high)
    )
    rule = {"x1": middle - HALF + 8, "y1": y, "x2": middle + HALF - 8, "y2": y, "stroke": LINE}
    bar = {"x": low, "y": y - 4, "width": max(1.0, high - low), "height": 8, "fill": PAPER, "stroke": INK}
    diamond = f"M{number(at)} {number(y - 6)} l6 6 l-6 6 l-6 -6 z"
    ends = f"ends {span_words(round(reach * MINUTE))}"
    return [
        _text(0, y + 4, _short(one.title, TITLES - 8), "start"),
        el("line", rule),
        titled(words, el("rect", {**bar, "data-n": one.id, "data-value": f"{shift.shift:.4f}"})),
        titled(words, el("path", {"d": diamond, "fill": INK})),
        _text(WIDTH, y + 4, ends, "end", "quiet"),
    ]


def _bar(x: float, y: float, width: float, fill: str, words: str, height: float = 17.0) -> Markup:
    look = {"x": x, "y": y, "width": max(1.0, width), "height": height, "fill": fill, "stroke": INK}
    return titled(words, el("rect", {**look, "stroke-width": 0.8}))


def _short(words: str, room: float) -> str:
    """As much as fits; the table beside it has the whole."""
    if text_width(words, SIZE) <= room:
        return words
    letters = int(room / text_width("x", SIZE)) - 3
    return f"{words[:letters].rstrip()}..."


def _text(x: float, y: float, words: str, anchor: str, klass: str = "") -> Markup:
    look: dict[str, object] = {"x": x, "y": y, "font-size": SIZE, "text-anchor": anchor}
    if klass:
        look["class"] = klass
    return el("text", look, words)
