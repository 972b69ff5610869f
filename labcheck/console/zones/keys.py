"""The bottom row: the keys that matter now, made from the key table by whoever made the view."""

from __future__ import annotations

from textual.content import Content

from labcheck.console.view import View
from labcheck.console.zones.rows import Piece, Rows, cells

GAPS = (3, 2, 1)
"""Blanks between two keys: the widest that lets all of them stand on the rows there are."""


def render(view: View, width: int, height: int) -> Content:
    """Each key in reverse with its word; as many as fit, in the order given, on one row or two."""
    rows = Rows(width, height, view.plain)
    sizes = [cells(key.key) + cells(key.word) + 3 for key in view.keys]
    gap = next((g for g in GAPS if sum(sizes) + g * len(sizes) < width * height - height), GAPS[-1])
    line: list[Piece] = [Piece(" ")]
    used = 1
    for key in view.keys:
        size = cells(key.key) + 2 + 1 + cells(key.word)
        if used + size > width and len(line) > 1:
            rows.add(*line)
            if not rows.left:
                return rows.content()
            line, used = [Piece(" ")], 1
        line += [Piece(f" {key.key} ", "held"), Piece(f" {key.word}{' ' * gap}", "text")]
        used += size + gap
    rows.add(*line)
    return rows.content()
