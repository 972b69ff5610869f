"""What a test sees of a drawn zone: its lines, and what is left of it without colour."""

from __future__ import annotations

from textual.content import Content
from textual.style import Style

from labcheck.console.view import View
from labcheck.console.zones.layout import RENDER, ZoneName, places

SIZES = ((60, 20), (80, 24), (100, 30), (120, 40), (200, 60))


def zone(view: View, name: ZoneName, size: tuple[int, int] = (120, 40)) -> Content:
    """A zone as it stands on a screen of that size."""
    box = places(*size)[name]
    return RENDER[name](view, box.width, box.height)


def lines(view: View, name: ZoneName, size: tuple[int, int] = (120, 40)) -> list[str]:
    """Its rows without styles."""
    return zone(view, name, size).plain.split("\n")


def screen(view: View, size: tuple[int, int]) -> str:
    """All zones of a screen, one after the other, without styles."""
    return "\n".join(zone(view, name, size).plain for name in places(*size))


def monochrome(content: Content) -> list[tuple[str, bool, bool]]:
    """The drawn text as (text, bold, reverse): all that a terminal without colour shows."""
    out: list[tuple[str, bool, bool]] = []
    for text, style in content.render(Style(), end=""):
        out.append((text, bool(style.bold), bool(style.reverse)))
    return out


def reversed_text(content: Content) -> str:
    """What stands in reverse video."""
    return "".join(text for text, _, reverse in monochrome(content) if reverse)
