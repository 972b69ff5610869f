"""The figures: watches and tallies as short sentences, with a word where one has reached a level."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from textual.content import Content

from labcheck.caselog.clockwords import clock_words
from labcheck.caselog.limit_words import VERIFY, tag
from labcheck.console import keys
from labcheck.console.theme import PaintName
from labcheck.console.view import View
from labcheck.console.zones.rows import CUT, Piece, Rows, cells, clip, fold, inert

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
TOGETHER = "\0"
"""Stands for the blank between author and year while a sentence is broken into rows."""


def render(view: View, width: int, height: int) -> Content:
    """A heading, at most one reminder, then one sentence a figure, in the checklist's order.

    Where not all fit, those at a level come first. In a quiet stage the zone stands still and says since which entry.
    """
    rows = Rows(width, height, view.plain)
    key = keys.by_id("sources").shown
    cited = any(figure.source for figure in view.figures)
    log = view.case.log
    stands = f"as of {clock_words(log[-1].entered)}" if view.quiet and log else ""
    reminder = None if view.quiet else view.prompt
    silence = keys.by_id("silence")
    if reminder is not None and height < 6:
        right = f"{silence.shown} {silence.word}"
        words = _cited(reminder.words, reminder.source, width - len("FIGURES") - len("REMINDER  ") - len(right) - 4, 1)
        rows.head("FIGURES", f"REMINDER  {words[0]}", right)
    else:
        rows.head("FIGURES", stands, f"{f'{VERIFY}; ' if cited else ''}sources: {key}")
    if reminder is not None and height >= 6:
        right = f"{silence.shown} {silence.word}"
        first, *more = _cited(reminder.words, reminder.source, width - WORD - len(right) - 1, 2)
        rows.add(
            Piece(f"{'REMINDER':<{WORD}}", "strong"), Piece(first, "strong"), right=(Piece(right, "quiet"),)
        )
        for line in more:
            rows.add(Piece(" " * WORD), Piece(line, "strong"))
    shown, left_out = _chosen(view.figures, rows.left)
    spare = rows.left - len(shown) - (1 if left_out else 0)
    for figure in shown:
        spare -= _sentence(rows, figure, spare)
    if left_out:
        note = f", {VERIFY}" if cited and reminder is not None else ""
        rows.add(Piece(f"{'':<{WORD}}"), Piece(f"and {left_out} more{note}: {key}", "quiet"))
    elif cited and reminder is not None and height < 6:
        rows.add(Piece(f"{'':<{WORD}}"), Piece(f"limits: {VERIFY}, sources: {key}", "quiet"))
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


def _cited(said: str, source: str, room: int, most: int, plain: bool = False) -> list[str]:
    """The sentence in at most so many rows, with the short source of the limit in it, which is never cut off.

    Where the room is short the level's own number in brackets goes first.
    """
    words = inert(said, plain)
    if not source or VERIFY in words:
        return fold(words, room, most if cells(words) > room else 1)
    short = inert(tag(source), plain).replace(" ", TOGETHER)
    bracketed = re.fullmatch(r"(.*) \(([^()]*)\)", words)
    wanted = [f"{bracketed[1]} ({bracketed[2]}; {short})", f"{bracketed[1]} ({short})"] if bracketed else []
    for line in wanted or [f"{words} ({short})"]:
        lines = fold(line, room, most if cells(line) > room else 1)
        if not lines[-1].endswith(CUT):
            return [line.replace(TOGETHER, " ") for line in lines]
    lines = fold(words, room, most)
    lines[-1] = f"{clip(lines[-1], room - len(short) - 3)} ({short})".replace(TOGETHER, " ")
    return lines


def _sentence(rows: Rows, figure: Figure, spare: int) -> int:
    """One figure; gives how many rows it took beyond its first."""
    word, word_paint, paint = LEVELS[figure.level]
    room = rows.width - WORD
    folded = _cited(figure.words, figure.source, room, 2 if spare > 0 else 1, rows.plain)
    chip = f" {word} " if word_paint == "wanted" else word
    rows.add(Piece(chip, word_paint), Piece(" " * (WORD - cells(chip))), Piece(folded[0], paint))
    for line in folded[1:]:
        rows.add(Piece(" " * WORD), Piece(line, paint))
    return len(folded) - 1
