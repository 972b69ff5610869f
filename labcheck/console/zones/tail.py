"""The tail: what became of the last press, and the latest entries, newest on top."""

from __future__ import annotations

from textual.content import Content

from labcheck.console.theme import PaintName
from labcheck.console.view import TailLine, View
from labcheck.console.zones.head import without_word
from labcheck.console.zones.rows import Piece, Rows, cells, fold, inert, rule

SAVE_WORDS: dict[str, tuple[str, PaintName]] = {
    "idle": ("", "quiet"),
    "writing": ("WRITING", "amber"),
    "slow": ("SLOW", "wanted"),
    "saved": ("SAVED", "sky"),
    "not_saved": ("NOT SAVED", "alarm"),
}
"""The word for each state of the last press and its paint; the word alone is enough."""


def render(view: View, width: int, height: int) -> Content:
    """A heading with the state of the last press, then one row an entry.

    A press that was not saved fills rows from edge to edge until it is.
    """
    rows = Rows(width, height, view.plain)
    if view.save.state == "not_saved":
        _not_saved(rows, view)
    else:
        _heading(rows, view)
    for entry in reversed(view.tail):
        if not rows.left:
            break
        _entry(rows, entry)
    return rows.content()


def _heading(rows: Rows, view: View) -> None:
    word, paint = SAVE_WORDS[view.save.state]
    pieces = [Piece("LAST", "label"), Piece("  ")]
    if word:
        shown = f" {word} " if paint in ("wanted", "alarm") else word
        pieces.append(Piece(shown, paint))
        rest = without_word(view.save.words, word)
        if rest:
            pieces.append(Piece(f" {rest}", "strong" if view.save.state == "slow" else "text"))
    if view.save.waiting:
        pieces.append(Piece(f"  {view.save.waiting} waiting to be written", "amber"))
    silent = inert(view.silent, view.plain)
    taken = sum(cells(inert(piece.text, view.plain)) for piece in pieces)
    line = rule(rows.width - taken - cells(silent) - (2 if silent else 1), view.plain)
    rows.add(*pieces, Piece(f" {line}", "rule"), right=(Piece(silent, "quiet"),) if silent else ())


def _not_saved(rows: Rows, view: View) -> None:
    words = inert(without_word(view.save.words, "not saved"), view.plain)
    waiting = f"  {view.save.waiting} presses kept here, not in the log" if view.save.waiting > 1 else ""
    if rows.height < 5:
        rows.add(Piece(f"NOT SAVED  {words}{waiting}"), fill="alarm")
        return
    rows.add(Piece(" NOT SAVED"), right=(Piece(f"{waiting} "),), fill="alarm")
    for line in fold(words or "the last press is not in the log", rows.width - 2, rows.height - 4):
        rows.add(Piece(f" {line}"), fill="alarm")


def _entry(rows: Rows, entry: TailLine) -> None:
    ends: list[Piece] = []
    if entry.late:
        ends.append(Piece(entry.late, "amber"))
    if entry.mark:
        ends.append(Piece(f"{'  ' if ends else ''}{entry.mark.upper()}", "strong"))
    words: PaintName = "quiet" if entry.mark == "void" else "text"
    rows.add(
        Piece(f"{entry.seq:>4} ", "quiet"),
        Piece(f"{entry.clock}  ", "strong" if not entry.mark else "quiet"),
        Piece(entry.words, words),
        right=ends,
    )
