"""The bottom row: the keys that matter now, made from the key table by whoever made the view."""

from __future__ import annotations

from textual.content import Content

from labcheck.console.view import View
from labcheck.console.zones.rows import Piece, Rows, cells

GAP = 3


def render(view: View, width: int, height: int) -> Content:
    """Each key in reverse with its word; as many as fit, in the order given, on one row or two."""
    rows = Rows(width, height, view.plain)
    line: list[Piece] = [Piece(" ")]
    used = 1
    for key in view.keys:
        size = cells(key.key) + 2 + 1 + cells(key.word)
        if used + size > width and len(line) > 1:
            rows.add(*line)
            if not rows.left:
                return rows.content()
            line, used = [Piece(" ")], 1
        line += [Piece(f" {key.key} ", "held"), Piece(f" {key.word}{' ' * GAP}", "text")]
        used += size + GAP
    rows.add(*line)
    return rows.content()
