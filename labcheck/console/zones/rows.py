"""Rows of cells: how a zone puts text into a rectangle without ever letting the text act.

Text of the case (notes, reasons, checklist lines in any language) is drawn as it is read: no markup, no
control or direction signs, clipped by cells and not by characters.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from functools import lru_cache
from typing import NamedTuple

from rich.cells import cell_len, set_cell_size
from textual.content import Content, Span

from labcheck.console.theme import PaintName, style

CUT = ".."
"""Stands where text was cut off; the single-character ellipsis is two cells wide on some terminals."""
_DROPPED = frozenset({"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"})


class Piece(NamedTuple):
    """Some text in one paint; without a paint it takes its row's."""

    text: str
    paint: PaintName | None = None


@lru_cache(maxsize=4096)
def inert(text: str, plain: bool = False) -> str:
    """The text with nothing in it that could act on the terminal; in ASCII alone where ``plain``.

    Line ends and tabs become a blank, other control and direction signs go. What ASCII cannot write
    becomes "?", letters with an accent lose it.
    """
    if text.isascii() and text.isprintable():
        return text
    spaced = " ".join(text.split()) if not text.isprintable() else text
    if plain:
        opened = unicodedata.normalize("NFKD", spaced)
        kept = "".join(c for c in opened if not unicodedata.combining(c))
        spaced = kept.encode("ascii", "replace").decode("ascii")
    else:
        spaced = unicodedata.normalize("NFC", spaced)
    return "".join(c for c in spaced if unicodedata.category(c) not in _DROPPED)


def cells(text: str) -> int:
    """How many columns the text takes."""
    return len(text) if text.isascii() else cell_len(text)


def clip(text: str, width: int) -> str:
    """The text, or its beginning and two dots, in at most ``width`` columns."""
    if cells(text) <= width:
        return text
    if width <= len(CUT):
        return CUT[: max(0, width)]
    room = width - len(CUT)
    begun = text[:room] if text.isascii() else set_cell_size(text, room)
    return begun.rstrip() + CUT


def fold(text: str, width: int, most: int) -> list[str]:
    """The text broken between words into at most ``most`` lines of ``width`` columns, the last one clipped."""
    if most <= 1 or cells(text) <= width:
        return [clip(text, width)]
    lines: list[str] = []
    words = text.split(" ")
    while words and len(lines) < most - 1:
        line = words.pop(0)
        while words and cells(line) + 1 + cells(words[0]) <= width:
            line = f"{line} {words.pop(0)}"
        lines.append(clip(line, width))
    if words:
        lines.append(clip(" ".join(words), width))
    return lines


def rule(width: int, plain: bool) -> str:
    """A thin line; the dashed one is a single cell everywhere, the full one is not."""
    return ("-" if plain else "\u254c") * max(0, width)


class Rows:
    """Collects at most ``height`` rows of ``width`` columns. ``content`` gives them as one inert Content."""

    __slots__ = ("_done", "_offset", "_spans", "_text", "height", "plain", "width")

    def __init__(self, width: int, height: int, plain: bool = False) -> None:
        self.width = max(0, width)
        self.height = max(0, height)
        self.plain = plain
        self._text: list[str] = []
        self._spans: list[Span] = []
        self._offset = 0
        self._done = 0

    @property
    def left(self) -> int:
        """How many rows may still be added."""
        return self.height - self._done

    def add(self, *pieces: Piece, right: Iterable[Piece] = (), fill: PaintName | None = None) -> None:
        """One row: ``pieces`` from the left, ``right`` at the right end, which is never clipped first.

        ``fill`` paints the whole row. A row beyond the height is not drawn.
        """
        if self._done >= self.height:
            return
        right = tuple(right)
        if self._plain_and_short(pieces, right):
            self._begin()
            size = 0
            for text, paint in pieces:
                self._draw(text, paint or fill)
                size += len(text)
            end_width = sum(len(text) for text, _ in right)
            if self.width > size + end_width and (right or fill):
                self._draw(" " * (self.width - size - end_width), fill)
            for text, paint in right:
                self._draw(text, paint or fill)
            return
        ends = [Piece(inert(p.text, self.plain), p.paint) for p in right]
        end_width = sum(cells(p.text) for p in ends)
        room = self.width - end_width - (1 if ends else 0)
        self._begin()
        used = sum(self._put(piece, room, fill) for piece in self._fitted(pieces, room))
        blank = self.width - used - end_width
        if blank > 0 and (ends or fill):
            self._draw(" " * blank, fill)
        room = self.width
        for piece in self._fitted(ends, room):
            room -= self._put(piece, room, fill)

    def _plain_and_short(self, pieces: tuple[Piece, ...], right: tuple[Piece, ...]) -> bool:
        """Whether there is nothing to make inert and nothing to clip: most rows, most of all the block letters."""
        text = "".join([piece[0] for piece in pieces] + [piece[0] for piece in right])
        return len(text) + (1 if right else 0) <= self.width and text.isascii() and text.isprintable()

    def blank(self, count: int = 1) -> None:
        """Empty rows."""
        for _ in range(count):
            self.add()

    def head(self, label: str, words: str = "", right: str = "") -> None:
        """A zone's heading: its name, a thin line to the right end, words on both sides of the line."""
        label, words, right = (inert(t, self.plain) for t in (label, words, right))
        beside = clip(words, self.width - cells(label) - cells(right) - 4)
        taken = cells(label) + cells(beside) + cells(right) + (3 if beside else 1) + (1 if right else 0)
        pieces = [Piece(label, "label")]
        if beside:
            pieces.append(Piece(f"  {beside}", "strong"))
        pieces.append(Piece(f" {rule(self.width - taken, self.plain)}", "rule"))
        if right:
            pieces.append(Piece(f" {right}", "quiet"))
        self.add(*pieces)

    def content(self) -> Content:
        """Everything that was added, padded with empty rows to the height."""
        missing = self.height - max(self._done, 1)
        text = "".join(self._text) + "\n" * missing
        return Content(text, self._spans, strip_control_codes=False)

    def _begin(self) -> None:
        if self._done:
            self._text.append("\n")
            self._offset += 1
        self._done += 1

    def _fitted(self, pieces: Iterable[Piece], room: int) -> Iterable[Piece]:
        """The pieces that still have room, the last of them clipped."""
        for text, paint in pieces:
            if room <= 0:
                return
            shown = clip(inert(text, self.plain), room)
            room -= cells(shown)
            yield Piece(shown, paint)

    def _put(self, piece: Piece, room: int, fill: PaintName | None) -> int:
        if room <= 0:
            return 0
        self._draw(piece.text, piece.paint or fill)
        return cells(piece.text)

    def _draw(self, text: str, paint: PaintName | None) -> None:
        if not text:
            return
        end = self._offset + len(text)
        if paint is not None:
            self._spans.append(Span(self._offset, end, style(paint)))
        self._text.append(text)
        self._offset = end
