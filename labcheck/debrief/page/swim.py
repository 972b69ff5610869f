"""Drawing the swim lanes to scale. Where a stretch is too dense for its labels, it is drawn again, larger, below."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from labcheck.caselog.case import Case
from labcheck.caselog.clockwords import MINUTE, span_words
from labcheck.caselog.trace import Trace, trace
from labcheck.debrief.page.lanes import Lane, LaneBar, LaneMark, lanes, when_words
from labcheck.debrief.page.markup import Markup, el, number, picture, titled
from labcheck.debrief.page.placing import Label, Placed, levels, rows_for, staggered, text_width
from labcheck.debrief.page.scaling import LEFT, RIGHT, SIZE, WIDTH, Scale, details_of
from labcheck.debrief.page.style import BAR, BAR_OTHER, INK, LANE, LINE, PAPER

BAR_HEIGHT = 17.0
LEVEL = 14.0
PRESSURE_HEIGHT = 46.0
MOST_IN_ONE_PLACE = 12
"""Labels under one point of a lane; more become one label, and the timeline has them all."""
TICKS_MIN = (1 / 60, 1 / 12, 1 / 6, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 360, 1440)
MOST_TICKS = 14


def drawings(case: Case) -> tuple[Markup, ...]:
    """The overview and, where the case is dense, its details: figures with captions, widest first."""
    drawn = trace(case, None)
    found = lanes(case, drawn)
    whole = Scale(0, max(drawn.end_us, MINUTE))
    details = details_of(found, whole)
    figures = [_figure(case, drawn, found, whole, details, 0)]
    figures += [_figure(case, drawn, found, part, (), n) for n, part in enumerate(details, 1)]
    return tuple(figures)


def _figure(
    case: Case, drawn: Trace, found: Sequence[Lane], scale: Scale, details: Sequence[Scale], n: int
) -> Markup:
    top = 34.0
    parts: list[Markup] = []
    inside = [_within(lane, scale) for lane in found]
    for lane in (one for one in inside if not n or one.bars or one.marks):
        height, drawing = _lane(lane, scale, details, top, striped=len(parts) % 2 == 0)
        parts.append(drawing)
        top += height
    parts.insert(0, _axis(drawn, scale, top))
    parts += [_bracket(d, scale, top, m) for m, d in enumerate(details, 1)]
    height = top + (22 if details else 8)
    begin, end = when_words(drawn.start, scale.from_us), when_words(drawn.start, scale.to_us)
    name = f"Detail {n}" if n else "The whole case"
    words = f"{name}: swim lanes of case {case.key} from {begin} to {end}"
    hint = "" if n else ". Letter and number are those of the timeline below; pressures stand as values"
    more = ", drawn larger below: " + ", ".join(f"detail {m}" for m in range(1, len(details) + 1))
    caption = f"{name}, {begin} to {end}{more if details else ''}{hint}"
    svg = picture(f"swim{n}", words, WIDTH, height, *(() if n else (_patterns(),)), *parts)
    return el("figure", None, svg, el("figcaption", None, caption))


def _within(lane: Lane, scale: Scale) -> Lane:
    return replace(
        lane,
        bars=tuple(b for b in lane.bars if b.to_us >= scale.from_us and b.from_us <= scale.to_us),
        marks=tuple(m for m in lane.marks if scale.holds(m.at_us)),
    )


def _patterns() -> Markup:
    """Hatching for what was left or abandoned: it must be seen without colour."""
    line = el("path", {"d": "M0 0 L0 6", "stroke": LINE, "stroke-width": 1.5})
    back = el("rect", {"width": 6, "height": 6, "fill": PAPER})
    shape = {
        "id": "hatch",
        "width": 6.0,
        "height": 6.0,
        "patternUnits": "userSpaceOnUse",
        "patternTransform": "rotate(45)",
    }
    return el("defs", None, el("pattern", shape, back, line))


def _axis(drawn: Trace, scale: Scale, bottom: float) -> Markup:
    """Time since access, or since the case was opened, with the times of day at both ends."""
    zero = drawn.access_us or 0
    spread = scale.to_us - scale.from_us
    step = next((t for t in TICKS_MIN if spread / (t * MINUTE) <= MOST_TICKS), TICKS_MIN[-1] * 7)
    step_us = round(step * MINUTE)
    first = -((zero - scale.from_us) // step_us)
    parts = []
    for tick in range(first, first + MOST_TICKS + 3):
        at = zero + tick * step_us
        if not scale.holds(at):
            continue
        x = scale.x(at)
        label = span_words(tick * step_us) if step < 1 else f"{round(tick * step)}"
        parts.append(el("line", {"x1": x, "y1": 26, "x2": x, "y2": bottom, "stroke": "#d3d7db"}))
        side = "end" if x + text_width(label, SIZE) / 2 > WIDTH else "middle"
        parts.append(_text(x, 22, label, side, "quiet"))
    since = "since access" if drawn.access_us is not None else "since opening"
    unit = "min:s" if step < 1 else "min"
    parts += [_text(4, 9, since, "start", "quiet"), _text(4, 22, unit, "start", "quiet")]
    ends = ((LEFT, scale.from_us, "start"), (RIGHT, scale.to_us, "end"))
    parts += [_text(x, 9, when_words(drawn.start, at), side, "quiet") for x, at, side in ends]
    return el("g", {"class": "axis"}, *parts)


def _bracket(detail: Scale, scale: Scale, top: float, n: int) -> Markup:
    left, right = scale.x(detail.from_us), scale.x(detail.to_us)
    path = f"M{number(left)} {number(top)} v6 H{number(right)} v-6"
    return titled(
        f"drawn larger in detail {n}",
        el("path", {"d": path, "fill": "none", "stroke": INK, "stroke-width": 1.5}),
        _text((left + right) / 2, top + 18, f"detail {n}", "middle", "strong"),
    )


def _lane(
    lane: Lane, scale: Scale, details: Sequence[Scale], top: float, *, striped: bool
) -> tuple[float, Markup]:
    """A lane's height and drawing."""
    bursts = [b for b in lane.bars if b.shape == "burst"]
    bars = [b for b in lane.bars if b.shape != "burst"]
    # A bar's drawn end may lie behind its true end, because the shortest is still drawn two units wide.
    edges = [(scale.x(b.from_us), max(scale.x(b.to_us), scale.x(b.from_us) + 2)) for b in bars]
    rows = rows_for(edges)
    bar_zone = (max(rows, default=-1) + 1) * (BAR_HEIGHT + 2) or (BAR_HEIGHT if not lane.marks else 4)
    heights = [m.value for m in lane.marks if m.value is not None]
    base = top + 5 + bar_zone + (PRESSURE_HEIGHT if heights else 0)
    unfit = [
        LaneMark(b.from_us, b.label, b.words)
        for b in bars
        if scale.holds(b.from_us) and not _fits(b, scale) and not any(d.holds(b.from_us) for d in details)
    ]
    shown = [m for m in lane.marks if not any(d.holds(m.at_us) for d in details)]
    labelled = _gathered(sorted([*shown, *unfit], key=lambda m: scale.x(m.at_us)), scale)
    placed = staggered((Label(scale.x(m.at_us), m.label, SIZE) for m in labelled), LEFT, RIGHT)
    height = max(base - top + 6 + levels(placed) * LEVEL + 5, 34.0 if ", " in lane.title else 0.0)
    parts: list[Markup] = []
    if striped:
        parts.append(el("rect", {"x": 0, "y": top, "width": WIDTH, "height": height, "fill": LANE}))
    for row, line in enumerate(lane.title.split(", ")):
        parts.append(_text(4, top + 5 + BAR_HEIGHT * 0.75 + row * 13, line, "start", ""))
    parts += [
        _bar(b, e, top + 5 + r * (BAR_HEIGHT + 2), scale) for b, e, r in zip(bars, edges, rows, strict=True)
    ]
    parts += [_burst(b, top + 5, scale) for b in bursts]
    if heights:
        parts += _pressures(lane.marks, scale, top + 8, PRESSURE_HEIGHT - 8)
    parts += _leaders(labelled, placed, scale, base, set(map(id, unfit)), LANE if striped else PAPER)
    told = set(map(id, labelled))
    parts += [_tick(m, scale.x(m.at_us), base) for m in lane.marks if id(m) not in told]
    return height, el("g", {"class": "lane"}, *parts)


def _gathered(marks: Sequence[LaneMark], scale: Scale) -> list[LaneMark]:
    """The marks with one label for what stands in one place in numbers, "N181 to N299, 119 entries"."""
    out: list[LaneMark] = []
    heap: list[LaneMark] = []
    for mark in (*marks, None):
        if heap and (mark is None or scale.x(mark.at_us) - scale.x(heap[0].at_us) >= 1):
            out += heap if len(heap) <= MOST_IN_ONE_PLACE else [_heap(heap)]
            heap = []
        if mark is not None:
            heap.append(mark)
    return out


def _heap(marks: Sequence[LaneMark]) -> LaneMark:
    first, last = marks[0], marks[-1]
    label = f"{first.label} to {last.label}, {len(marks)} entries"
    words = f"{len(marks)} entries in one place, from {first.words} to {last.words}"
    return LaneMark(first.at_us, label, words)


def _fits(bar: LaneBar, scale: Scale) -> bool:
    return scale.x(bar.to_us) - scale.x(bar.from_us) >= text_width(bar.label, SIZE) + 6


def _bar(bar: LaneBar, edge: tuple[float, float], y: float, scale: Scale) -> Markup:
    left, right = edge
    fill = "url(#hatch)" if bar.broken else BAR_OTHER if bar.shape == "rescue" else BAR
    shape = {"x": left, "y": y, "width": right - left, "height": BAR_HEIGHT, "fill": fill, "stroke": INK}
    box = el("rect", {**shape, "stroke-width": 0.8, **({"stroke-dasharray": "4 2"} if bar.open else {})})
    if not _fits(bar, scale):
        return titled(bar.words, box)
    label = _text(
        left + 3, y + BAR_HEIGHT * (0.6 if bar.shape == "attempt" else 0.72), bar.label, "start", ""
    )
    if bar.broken:
        halo = {
            "x": left + 1.5,
            "y": y + 1.5,
            "width": text_width(bar.label, SIZE) + 2,
            "height": BAR_HEIGHT - 3,
        }
        return titled(bar.words, box, el("rect", {**halo, "fill": PAPER}), label)
    return titled(bar.words, box, label)


def _burst(bar: LaneBar, y: float, scale: Scale) -> Markup:
    left = scale.x(bar.from_us)
    width = max(2.0, scale.x(bar.to_us) - left)
    return titled(
        bar.words, el("rect", {"x": left, "y": y + BAR_HEIGHT - 5, "width": width, "height": 5, "fill": INK})
    )


def _leaders(
    marks: Sequence[LaneMark],
    placed: Sequence[Placed],
    scale: Scale,
    base: float,
    unfit: set[int],
    behind: str,
) -> list[Markup]:
    """Leader lines first and labels on the lane's own ground over them, so that no line crosses a label."""
    lines, labels = [], []
    for mark, one in zip(marks, placed, strict=True):
        x, y = scale.x(mark.at_us), base + 6 + one.level * LEVEL
        middle = one.left + one.label.width / 2
        path = f"M{number(x)} {number(base)} V{number(base + 4)} L{number(middle)} {number(y + 3)}"
        dash = {"stroke-dasharray": "2 2"} if mark.late else {}
        lines.append(el("path", {"d": path, "fill": "none", "stroke": LINE, "stroke-width": 0.8, **dash}))
        back = {"x": one.left - 1, "y": y, "width": one.label.width + 2, "height": LEVEL - 2, "fill": behind}
        said = _text(middle, y + 9.5, mark.label, "middle", "strong" if mark.value is not None else "")
        labels.append(titled(mark.words, el("rect", back), said))
    ticks = [_tick(m, scale.x(m.at_us), base) for m in marks if id(m) not in unfit]
    return [*lines, *ticks, *labels]


def _tick(mark: LaneMark, x: float, base: float) -> Markup:
    """A filled dot; hollow where it was corrected, a square where it was entered late."""
    fill = PAPER if mark.corrected else INK
    look: dict[str, object] = {"fill": fill, "stroke": INK, "stroke-width": 1}
    if mark.late:
        return titled(
            mark.words, el("rect", {"x": x - 2.5, "y": base - 2.5, "width": 5, "height": 5, **look})
        )
    return titled(mark.words, el("circle", {"cx": x, "cy": base, "r": 2.4, **look}))


def _pressures(marks: Sequence[LaneMark], scale: Scale, top: float, height: float) -> list[Markup]:
    """Every pressure at its height, from zero to the highest, not joined: they are not one and the same pressure."""
    values = [(m, m.value) for m in marks if m.value is not None]
    high = max(max(value for _, value in values), 1.0)
    out = [el("line", {"x1": LEFT, "y1": top, "x2": RIGHT, "y2": top, "stroke": "#d3d7db"})]
    out.append(_text(LEFT - 4, top + 4, f"{high:g}", "end", "quiet"))
    out.append(_text(LEFT - 4, top + height + 4, "0", "end", "quiet"))
    for mark, value in values:
        x, y = scale.x(mark.at_us), top + height * (1 - max(0.0, value) / high)
        stem = el("line", {"x1": x, "y1": y, "x2": x, "y2": top + height, "stroke": LINE})
        dot = el("path", {"d": f"M{number(x)} {number(y - 4)} l4 4 l-4 4 l-4 -4 z", "fill": INK})
        out.append(titled(mark.words, stem, dot))
    return out


def _text(x: float, y: float, words: str, anchor: str, klass: str) -> Markup:
    look: dict[str, object] = {"x": x, "y": y, "font-size": SIZE, "text-anchor": anchor}
    if klass:
        look["class"] = klass
    return el("text", look, words)
