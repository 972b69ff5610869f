"""Where panel and clock stand among the zones of a running case, in cells."""

from __future__ import annotations

from labcheck.console.zones.layout import Box

CLOCK_COLUMNS = 30
"""The right end of the stage's zone, where its clock stands: a widget of its own, since only that counts on."""

COVERED = ("steps", "figures", "tail")
"""The zones whose place an open panel takes."""


def panel_box(boxes: dict[str, Box], width: int, height: int) -> Box:
    """Where the panel stands: over the steps, figures and tail; on the smallest screens over all but one row."""
    below = [boxes[name] for name in COVERED if name in boxes]
    if "steps" not in boxes:
        return Box(0, min(2, height), width, max(0, height - 2))
    top = min(box.y for box in below)
    return Box(0, top, width, max(box.y + box.height for box in below) - top)


def parted(box: Box, right: int) -> tuple[Box, Box]:
    """The box in two, the right one so many columns wide."""
    left = box.width - right
    return Box(box.x, box.y, left, box.height), Box(box.x + left, box.y, right, box.height)
