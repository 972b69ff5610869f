"""The widget a zone is shown in. It keeps the drawn lines and repaints only those that changed.

A press changes two or three rows of a screen of sixty; sending a whole zone again would be most of the time
between a key and its acknowledgement.
"""

from __future__ import annotations

from collections.abc import Callable

from textual import events
from textual.content import Content
from textual.geometry import Region
from textual.strip import Strip
from textual.visual import Visual
from textual.widget import Widget

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
        self._content, self._lines = None, []
        if self._draw_zone is not None:
            self.show(self._draw_zone)
        self.refresh()

    def notify_style_update(self) -> None:
        """Styles were applied again (theme, NO_COLOR): every drawn row is stale."""
        super().notify_style_update()
        self._strips.clear()

    def render_line(self, y: int) -> Strip:
        """One row, drawn when first needed."""
        strip = self._strips.get(y)
        if strip is None:
            strip = self._strips[y] = self._strip(y)
        return strip

    def _strip(self, y: int) -> Strip:
        width, style = self.size.width, self.visual_style
        if y < len(self._lines):
            drawn = Visual.to_strips(self, self._lines[y], width, 1, style, pad=True)
            if drawn:
                return drawn[0].crop(0, width)
        return Strip.blank(width, style.rich_style)


def _same(before: list[Content], after: list[Content], y: int) -> bool:
    if y >= len(before) or y >= len(after):
        return False
    return before[y].is_same(after[y])
