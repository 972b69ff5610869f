"""The figures: watches and tallies as short sentences, with a word where one has reached a level."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.content import Content

from labcheck.caselog.clockwords import clock_words
from labcheck.console import keys
from labcheck.console.theme import PaintName
from labcheck.console.view import View
from labcheck.console.zones.rows import Piece, Rows, cells, fold, inert

if TYPE_CHECKING:
    from labcheck.caselog.figures import Figure

LEVELS: dict[str, tuple[str, PaintName, PaintName]] = {
    "overdue": ("OVERDUE", "wanted", "strong"),
    "due": ("DUE", "wanted", "strong"),
    "notice": ("NOTICE", "amber", "strong"),
    "plain": ("", "text", "text"),
}
"""Level -> its word, the word's paint and the sentence's; the most pressing first."""
WORD = 10


def render(view: View, width: int, height: int) -> Content:
    """A heading, at most one reminder, then one sentence a figure, in the checklist's order.

    Where not all fit, those at a level come first. In a quiet stage the zone stands still and says since which entry.
    """
    rows = Rows(width, height, view.plain)
    key = keys.by_id("sources").shown
    log = view.case.log
    stands = f"as of {clock_words(log[-1].entered)}" if view.quiet and log else ""
    reminder = None if view.quiet else view.prompt
    silence = keys.by_id("silence")
    if reminder is not None and height < 6:
        rows.head("FIGURES", f"REMINDER  {reminder.words}", f"{silence.shown} {silence.word}")
    else:
        rows.head("FIGURES", stands, f"sources: {key}")
    if reminder is not None and height >= 6:
        rows.add(
            Piece(f"{'REMINDER':<{WORD}}", "strong"),
            Piece(reminder.words, "strong"),
            right=(Piece(f"{silence.shown} {silence.word}", "quiet"),),
        )
    shown, left_out = _chosen(view.figures, rows.left)
    spare = rows.left - len(shown) - (1 if left_out else 0)
    for figure in shown:
        spare -= _sentence(rows, figure, spare)
    if left_out:
        rows.add(Piece(f"{'':<{WORD}}"), Piece(f"and {left_out} more: {key}", "quiet"))
    if not view.figures:
        rows.add(Piece(f"{'':<{WORD}}"), Piece("nothing measured or given yet", "quiet"))
    return rows.content()


def _chosen(figures: tuple[Figure, ...], room: int) -> tuple[list[Figure], int]:
    """The figures that are shown, in their own order, and how many are not."""
    if len(figures) <= room:
        return list(figures), 0
    ranks = list(LEVELS)
    pressing = sorted(range(len(figures)), key=lambda n: ranks.index(figures[n].level))
    kept = set(pressing[: max(0, room - 1)])
    return [figure for n, figure in enumerate(figures) if n in kept], len(figures) - len(kept)


def _sentence(rows: Rows, figure: Figure, spare: int) -> int:
    """One figure; gives how many rows it took beyond its first."""
    word, word_paint, paint = LEVELS[figure.level]
    words = inert(figure.words, rows.plain)
    room = rows.width - WORD
    folded = fold(words, room, 2 if spare > 0 and cells(words) > room else 1)
    chip = f" {word} " if word_paint == "wanted" else word
    rows.add(Piece(chip, word_paint), Piece(" " * (WORD - cells(chip))), Piece(folded[0], paint))
    for line in folded[1:]:
        rows.add(Piece(" " * WORD), Piece(line, paint))
    return len(folded) - 1
