"""The widget a zone is shown in. It keeps the drawn lines and repaints only those that changed.

A press changes two or three rows of a screen of sixty; sending a whole zone again would be most of the time
between a key and its acknowledgement.
"""

from __future__ import annotations

from collections.abc import Callable

from rich.segment import Segment
from textual import events
from textual.content import Content, Span
from textual.geometry import Region
from textual.strip import Strip
from textual.style import Style
from textual.widget import Widget

KEPT = 256
"""Rows kept drawn per zone."""

Draw = Callable[[int, int], Content]
"""Gives the content for a width and a height in cells."""


class Zone(Widget):
    """A rectangle of lines. ``show`` takes the function that draws it; it is called again after a resize."""

    ALLOW_SELECT = False
    can_focus = False

    def __init__(self, zone_id: str) -> None:
        super().__init__(id=zone_id)
        self._draw_zone: Draw | None = None
        self._content: Content | None = None
        self._lines: list[Content] = []
        self._strips: dict[int, Strip] = {}
        self._drawn: dict[tuple[str, tuple[Span, ...]], Strip] = {}

    @property
    def plain(self) -> str:
        """What stands in the zone, without styles."""
        return self._content.plain if self._content is not None else ""

    def show(self, draw: Draw) -> None:
        """Draw anew and repaint the rows that differ."""
        self._draw_zone = draw
        width, height = self.size
        if width and height:
            self._take(draw(width, height))

    def forget(self) -> None:
        """Drop what was drawn: a zone that comes back into sight must not show how things stood before."""
        self._strips.clear()
        self._content, self._lines = None, []
        self.refresh()

    def _take(self, content: Content) -> None:
        if self._content is not None and self._content.is_same(content):
            return
        self._content = content
        before, self._lines = self._lines, content.split("\n", allow_blank=True)
        rows = max(len(before), len(self._lines))
        changed = [y for y in range(min(rows, self.size.height)) if not _same(before, self._lines, y)]
        for y in changed:
            self._strips.pop(y, None)
        if changed:
            width = self.size.width
            self.refresh(*(Region(0, y, width, 1) for y in changed))

    def _on_resize(self, event: events.Resize) -> None:
        self._strips.clear()
        self._drawn.clear()
        self._content, self._lines = None, []
        if self._draw_zone is not None:
            self.show(self._draw_zone)
        self.refresh()

    def notify_style_update(self) -> None:
        """Styles were applied again (theme, NO_COLOR): every drawn row is stale."""
        super().notify_style_update()
        self._strips.clear()
        self._drawn.clear()

    def render_lines(self, crop: Region) -> list[Strip]:
        """The rows of a rectangle. A zone has no border, no padding and no opacity, so the rows are all there is."""
        strips = [self.render_line(y) for y in crop.line_range]
        filters = self.get_line_filters()
        if filters:
            ground = self.background_colors[1]
            for line_filter in filters:
                strips = [strip.apply_filter(line_filter, ground) for strip in strips]
        if crop.column_span != (0, self.size.width):
            strips = [strip.crop(*crop.column_span) for strip in strips]
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
        key = (line.plain, tuple(line.spans))
        strip = self._drawn.get(key)
        if strip is None:
            if len(self._drawn) >= KEPT:
                self._drawn.clear()
            strip = self._drawn[key] = self._strip(line)
        return strip

    def _strip(self, line: Content) -> Strip:
        width, ground = self.size.width, self.visual_style
        text, at = line.plain, 0
        segments: list[Segment] = []
        for start, end, paint in sorted(line.spans, key=_start):
            if start > at:
                segments.append(Segment(text[at:start], ground.rich_style))
            if end > max(start, at):
                style = paint if isinstance(paint, Style) else self._get_style(paint)
                segments.append(Segment(text[max(start, at) : end], (ground + style).rich_style))
            at = max(at, end)
        if at < len(text):
            segments.append(Segment(text[at:], ground.rich_style))
        return Strip(segments).adjust_cell_length(width, ground.rich_style)


def _same(before: list[Content], after: list[Content], y: int) -> bool:
    if y >= len(before) or y >= len(after):
        return False
    return before[y].is_same(after[y])


def _start(span: Span) -> int:
    return span.start
