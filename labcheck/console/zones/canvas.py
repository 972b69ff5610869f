"""A grid of cells for what is placed by column and not by word: the trace."""

from __future__ import annotations

from rich.cells import cell_len

from labcheck.console.theme import PaintName
from labcheck.console.zones.rows import Piece


def in_cells(text: str) -> list[str]:
    """The text one entry a column: a wide character is followed by "", a combining one joins its base."""
    if text.isascii():
        return list(text)
    out: list[str] = []
    for character in text:
        size = cell_len(character)
        if size == 0 and out:
            out[-1] += character
        elif size:
            out += [character] + [""] * (size - 1)
    return out


class Strip:
    """One row of ``width`` cells. What is put outside is not drawn; what is put later covers what was there."""

    __slots__ = ("_paints", "_texts", "width")

    def __init__(self, width: int) -> None:
        self.width = width
        self._texts: list[str] = [" "] * width
        self._paints: list[PaintName | None] = [None] * width

    def put(self, at: int, text: str, paint: PaintName | None) -> None:
        """Draw the text from column ``at``. Half a wide character, of this text or an older one, is a blank."""
        found = in_cells(text)
        for offset, cell in enumerate(found):
            column = at + offset
            if not 0 <= column < self.width:
                continue
            self._part(column)
            wide = offset + 1 < len(found) and found[offset + 1] == ""
            cut = (wide and column + 1 == self.width) or (cell == "" and column == 0)
            self._texts[column] = " " if cut else cell
            self._paints[column] = paint

    def _part(self, column: int) -> None:
        """Make two blanks of a wide character that is about to be half covered."""
        if self._texts[column] == "" and column:
            self._texts[column - 1] = self._texts[column] = " "
        if column + 1 < self.width and self._texts[column + 1] == "":
            self._texts[column + 1] = " "

    def free(self, start: int, stop: int) -> bool:
        """Whether nothing but blanks or dots stands in the columns ``start`` to ``stop``."""
        return start >= 0 and stop <= self.width and all(t in " ." for t in self._texts[start:stop])

    def pieces(self) -> list[Piece]:
        """The row as pieces, neighbours of one paint joined."""
        out: list[Piece] = []
        begun = 0
        for column in range(1, self.width + 1):
            if column == self.width or self._paints[column] != self._paints[begun]:
                out.append(Piece("".join(self._texts[begun:column]), self._paints[begun]))
                begun = column
        return out
