"""The bottom row: the keys that matter now, made from the key table by whoever made the view."""

from __future__ import annotations

from textual.content import Content

from labcheck.console.view import View
from labcheck.console.zones.rows import Piece, Rows, cells

SPACINGS = ((1, 3), (1, 2), (1, 1), (0, 2), (0, 1))
"""Blanks around a key's name, and between two keys: the widest that lets all stand on the rows there are."""


def render(view: View, width: int, height: int) -> Content:
    """Each key in reverse with its word; as many as fit, in the order given, on one row or two."""
    rows = Rows(width, height, view.plain)
    words = sum(cells(key.key) + cells(key.word) + 1 for key in view.keys)
    count, room = len(view.keys), width * height - height
    pad, gap = next(((p, g) for p, g in SPACINGS if words + (2 * p + g) * count - g <= room), SPACINGS[-1])
    line: list[Piece] = []
    used = 0
    for key in view.keys:
        size = cells(key.key) + 2 * pad + 1 + cells(key.word)
        before = gap if line else 1
        if used + before + size > width and line:
            rows.add(*line)
            if not rows.left:
                return rows.content()
            line, used, before = [], 0, 1
        line += [
            Piece(" " * before), Piece(f"{' ' * pad}{key.key}{' ' * pad}", "held"), Piece(f" {key.word}", "text"),
        ]  # fmt: skip
        used += before + size
    rows.add(*line)
    return rows.content()
