"""The console's own colours: a dark ground, one blue, one orange, and words that never need either.

Every pair in ``PAIRS`` reaches 7:1 (WCAG 2.1, success criterion 1.4.6), because the room is dim and the
nurse may wear lead glasses. Blue and orange stay apart for every common kind of colour vision; there is no
red and no green. What a colour says is always said by a word, by reverse video or by a bracket as well.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from textual.color import Color
from textual.style import Style
from textual.theme import Theme

NIGHT = "#0a0e13"
"""The ground of the screen."""
DUSK = "#141c26"
"""The ground of the bands: head, present stage, panels."""
PAPER = "#f1f4f8"
"""Text, and whatever is read from far away."""
MIST = "#b6c2d0"
"""Text that can wait."""
SKY = "#8fcdff"
"""Blue: what is so. The stage, the runs of the trace, a saved entry."""
AMBER = "#ffb75e"
"""Orange: what is wanted or not yet true. The next call, energy, an unsaved press."""
REED = "#6d7d90"
"""Lines that carry no text."""

PaintName = Literal[
    "text",
    "strong",
    "quiet",
    "sky",
    "amber",
    "rule",
    "held",
    "alarm",
    "wanted",
    "done",
    "run",
    "run_open",
    "block_stage",
    "block_clock",
    "block_amber",
    "label",
]


@dataclass(frozen=True, slots=True)
class Paint:
    """A colour pair and the attributes that carry it where there is no colour.

    ``ground`` None leaves the zone's own ground. ``swap`` is reverse video; ``solid`` fills the cell.
    """

    ink: str
    ground: str | None = None
    bold: bool = False
    swap: bool = False
    solid: bool = False


PAINTS: dict[PaintName, Paint] = {
    "text": Paint(PAPER),
    "strong": Paint(PAPER, bold=True),
    "quiet": Paint(MIST),
    "label": Paint(SKY, bold=True),
    "sky": Paint(SKY),
    "amber": Paint(AMBER, bold=True),
    "rule": Paint(REED),
    "held": Paint(PAPER, NIGHT, bold=True, swap=True),
    "wanted": Paint(AMBER, NIGHT, bold=True, swap=True),
    "alarm": Paint(AMBER, NIGHT, bold=True, swap=True),
    "done": Paint(MIST),
    "run": Paint(SKY, "#1a2a3c"),
    "run_open": Paint(SKY, NIGHT, bold=True, swap=True),
    "block_stage": Paint(PAPER, PAPER, bold=True, solid=True),
    "block_clock": Paint(SKY, SKY, bold=True, solid=True),
    "block_amber": Paint(AMBER, AMBER, bold=True, solid=True),
}

GROUNDS = (NIGHT, DUSK)
"""Where a paint without a ground of its own may lie."""


@lru_cache(maxsize=len(PAINTS))
def style(name: PaintName) -> Style:
    """The paint as a Textual style."""
    paint = PAINTS[name]
    return Style(
        foreground=Color.parse(paint.ink),
        background=Color.parse(paint.ground) if paint.ground else None,
        bold=paint.bold or None,
        reverse=(paint.swap or paint.solid) or None,
    )


def pairs() -> tuple[tuple[str, str, str], ...]:
    """(paint, ink, ground) for every pair that text or a block letter is ever drawn in."""
    found: list[tuple[str, str, str]] = []
    for name, paint in PAINTS.items():
        if name == "rule":
            continue
        grounds = GROUNDS if paint.ground is None or paint.solid else (paint.ground,)
        found.extend((name, paint.ink, ground) for ground in grounds)
    return tuple(found)


THEME = Theme(
    name="labcheck",
    primary=SKY,
    secondary=MIST,
    accent=AMBER,
    warning=AMBER,
    error=AMBER,
    success=SKY,
    foreground=PAPER,
    background=NIGHT,
    surface=NIGHT,
    panel=DUSK,
    boost=DUSK,
    dark=True,
    text_alpha=1.0,
    variables={
        "block-cursor-background": PAPER,
        "block-cursor-foreground": NIGHT,
        "block-cursor-text-style": "bold",
        "block-cursor-blurred-background": DUSK,
        "block-cursor-blurred-foreground": PAPER,
        "block-hover-background": DUSK,
        "border": REED,
        "border-blurred": REED,
        "input-cursor-background": PAPER,
        "input-cursor-foreground": NIGHT,
        "input-cursor-text-style": "none",
        "input-selection-background": "#2b4a66",
        "button-foreground": PAPER,
        "button-color-foreground": NIGHT,
        "button-focus-text-style": "bold reverse",
        "footer-background": DUSK,
        "footer-foreground": PAPER,
        "footer-key-foreground": SKY,
        "footer-description-foreground": PAPER,
        "foreground-muted": MIST,
        "foreground-disabled": MIST,
        "text-muted": MIST,
        "text-disabled": MIST,
        "scrollbar": REED,
        "scrollbar-background": NIGHT,
        "scrollbar-hover": MIST,
        "scrollbar-active": MIST,
        "scrollbar-corner-color": NIGHT,
    },
)
"""For ``App.register_theme``. In style sheets: $background night, $panel dusk, $foreground paper, $secondary and
$text-muted mist, $primary sky, $accent amber, $border reed."""

ZONE_CSS = """
.zone {
    position: absolute;
    background: $background;
    color: $foreground;
    text-wrap: nowrap;
    text-overflow: clip;
}
#zone-head, #zone-now, #zone-clock, #zone-keys {
    background: $panel;
}
"""
"""For the zone widgets (class ``zone``, id ``zone-<name>``); ``layout.places`` gives offset and size."""
