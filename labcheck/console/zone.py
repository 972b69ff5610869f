"""The widget a zone is shown in. It keeps the drawn lines and repaints only those that changed.

A press changes two or three rows of a screen of sixty; sending a whole zone again would be most of the time
between a key and its acknowledgement.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import zip_longest
from typing import Any

from rich.segment import Segment
from textual import events
from textual.content import Content, Span
from textual.geometry import Region
from textual.strip import Strip
from textual.style import Style
from textual.widget import Widget

KEPT = 256
"""Rows kept drawn per zone."""

Row = tuple[str, tuple[Span, ...]]
"""One line of a zone: its text, and where it is painted how."""

Draw = Callable[[int, int], Content]
"""Gives the content for a width and a height in cells."""


class Zone(Widget):
    """A rectangle of lines. ``show`` takes the function that draws it; it is called again after a resize.

    ``window``: the zone shows the columns from the first number on of lines that are as wide as the second. Two
    zones side by side show one drawing then, and what changes in one is not sent again with the other: the
    terminal library sends a row from where its widget begins.
    """

    ALLOW_SELECT = False
    can_focus = False

    def __init__(self, zone_id: str) -> None:
        super().__init__(id=zone_id)
        self.window: tuple[int, int] | None = None
        self._draw_zone: Draw | None = None
        self._content: Content | None = None
        self._lines: list[Row] = []
        self._strips: dict[int, Strip] = {}
        self._drawn: dict[Row, Strip] = {}
        self._filtered: tuple[tuple[Any, ...], list[Strip]] | None = None

    @property
    def plain(self) -> str:
        """What stands in the zone, without styles."""
        return self._content.plain if self._content is not None else ""

    def show(self, draw: Draw) -> None:
        """Draw anew and repaint the rows that differ."""
        self._draw_zone = draw
        width, height = self.size
        if width and height:
            self._take(draw(self.window[1] if self.window else width, height))

    def forget(self) -> None:
        """Drop what was drawn: a zone that comes back into sight must not show how things stood before."""
        self._strips.clear()
        self._filtered = None
        self._content, self._lines = None, []
        self.refresh()

    def _take(self, content: Content) -> None:
        if self._content is content:
            return
        self._content = content
        before, self._lines = self._lines, _rows(content)
        regions = self._regions(before)
        if regions:
            self._filtered = None
            for region in regions:
                self._strips.pop(region.y, None)
            self.refresh(*regions)

    def _regions(self, before: list[Row]) -> list[Region]:
        """What to draw and send again, in the zone's own columns; nothing where the change is outside its window."""
        first = self.window[0] if self.window else 0
        width = self.size.width
        found = []
        for y in range(min(max(len(before), len(self._lines)), self.size.height)):
            if _same(before, self._lines, y):
                continue
            start, end = _changed(before, self._lines, y, first + width)
            start, end = max(0, start - first), min(width, end - first)
            if start < end:
                found.append(Region(start, y, end - start, 1))
        return found

    def _on_resize(self, event: events.Resize) -> None:
        self._strips.clear()
        self._filtered = None
        self._drawn.clear()
        self._content, self._lines = None, []
        if self._draw_zone is not None:
            self.show(self._draw_zone)
        self.refresh()

    def notify_style_update(self) -> None:
        """Styles were applied again (theme, NO_COLOR): every drawn row is stale."""
        super().notify_style_update()
        self._strips.clear()
        self._filtered = None
        self._drawn.clear()

    def render_lines(self, crop: Region) -> list[Strip]:
        """The rows of a rectangle. A zone has no border, no padding and no opacity, so the rows are all there is."""
        strips = self._rows_filtered(crop)
        if crop.column_span != (0, self.size.width):
            strips = [strip.crop(*crop.column_span) for strip in strips]
        return strips

    def _rows_filtered(self, crop: Region) -> list[Strip]:
        """The rows as the terminal gets them. The compositor asks for every zone whenever one has changed."""
        filters = tuple(self.get_line_filters())
        key = (crop.y, crop.height, filters)
        if self._filtered is not None and self._filtered[0] == key:
            return self._filtered[1]
        strips = [self.render_line(y) for y in crop.line_range]
        ground = self.background_colors[1]
        for line_filter in filters:
            strips = [strip.apply_filter(line_filter, ground) for strip in strips]
        self._filtered = (key, strips)
        return strips

    def render_line(self, y: int) -> Strip:
        """One row, drawn when first needed."""
        strip = self._strips.get(y)
        if strip is None:
            strip = self._strips[y] = self._row(y)
        return strip

    def _row(self, y: int) -> Strip:
        """The strip of a row. A row that was drawn before, as in a list that moved down, is taken as it is."""
        if y >= len(self._lines):
            return Strip.blank(self.size.width, self.visual_style.rich_style)
        line = self._lines[y]
        strip = self._drawn.get(line)
        if strip is None:
            if len(self._drawn) >= KEPT:
                self._drawn.clear()
            strip = self._drawn[line] = self._strip(line)
        return strip

    def _strip(self, line: Row) -> Strip:
        first, width = self.window or (0, self.size.width)
        ground = self.visual_style
        (text, spans), at = line, 0
        segments: list[Segment] = []
        for start, end, paint in sorted(spans, key=_start):
            if start > at:
                segments.append(Segment(text[at:start], ground.rich_style))
            if end > max(start, at):
                style = paint if isinstance(paint, Style) else self._get_style(paint)
                segments.append(Segment(text[max(start, at) : end], (ground + style).rich_style))
            at = max(at, end)
        if at < len(text):
            segments.append(Segment(text[at:], ground.rich_style))
        strip = Strip(segments).adjust_cell_length(width, ground.rich_style)
        return strip.crop(first, first + self.size.width) if self.window else strip


def _rows(content: Content) -> list[Row]:
    """The lines of a drawing. No paint runs over a line end: every row is painted by itself."""
    texts = content.plain.split("\n")
    painted: list[list[Span]] = [[] for _ in texts]
    y, begun = 0, 0
    for start, end, paint in sorted(content.spans, key=_start):
        while y < len(texts) - 1 and start > begun + len(texts[y]):
            begun += len(texts[y]) + 1
            y += 1
        painted[y].append(Span(start - begun, min(end - begun, len(texts[y])), paint))
    return [(text, tuple(spans)) for text, spans in zip(texts, painted, strict=True)]


def _same(before: list[Row], after: list[Row], y: int) -> bool:
    return y < len(before) and y < len(after) and before[y] == after[y]


def _changed(before: list[Row], after: list[Row], y: int, width: int) -> tuple[int, int]:
    """From which column to which the row differs; the whole row where that is not told at once."""
    if y >= len(before) or y >= len(after):
        return 0, width
    (one, one_spans), (other, other_spans) = before[y], after[y]
    if not (one.isascii() and other.isascii()) or len(one) != len(other):
        return 0, width
    first = _alike(one, other)
    last = len(one) - _alike(one[::-1], other[::-1])
    for mine, its in zip_longest(one_spans, other_spans):
        if mine != its:
            ends = [span for span in (mine, its) if span is not None]
            first = min(first, *(span.start for span in ends))
            last = max(last, *(span.end for span in ends))
    return (first, min(last, width)) if first < last else (0, width)


def _alike(one: str, other: str) -> int:
    """How many characters at the beginning are the same."""
    return next((n for n, (a, b) in enumerate(zip(one, other, strict=False)) if a != b), len(one))


def _start(span: Span) -> int:
    return span.start
