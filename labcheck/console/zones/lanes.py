"""The lanes of the trace: tries on a cusp and everything else that has a letter, each at its place in time.

A token is a letter, or a try's number with ``-`` where it did not succeed and ``>`` while it is open. A token
that would stand on another moves a few columns on; where there is no room for it a ``+`` says "several".
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

from labcheck.caselog.case import Case
from labcheck.caselog.clockwords import MINUTE
from labcheck.caselog.events import AttemptOpened
from labcheck.checklist import finding
from labcheck.console.theme import PaintName
from labcheck.console.zones.canvas import Strip
from labcheck.console.zones.rows import Piece, clip, inert

if TYPE_CHECKING:
    from labcheck.caselog.trace import Bar, TraceMark, TraceRow

LENGTHS_MIN = (10, 20, 30, 45, 60, 90, 120, 150, 180, 240, 300, 360, 480, 720, 1440, 2880, 10080)
"""Lengths of the time axis, minutes. Few, so that the picture stands still between two of them."""
TICKS_MIN = (1, 2, 5, 10, 15, 30, 60, 120, 240, 720, 1440)
"""Distances between the numbers on the axis, minutes."""
CLOSED = {"left": "<", "abandoned": "x"}
"""The end of a bar that was not simply done."""
SHORT_BAR = 4
"""A bar of fewer columns is drawn as a token."""
WORDS = 26
"""Longer words do not go beside a letter; the entries tell them."""
SEVERAL = "+"
"""Stands for marks that are too close together to be told apart."""
SHIFT = 3
"""Columns a token may move to stand free."""


class Scale:
    """Microseconds to columns. ``minutes`` is the length of the axis in ``columns``."""

    __slots__ = ("columns", "minutes")

    def __init__(self, end_us: int, columns: int) -> None:
        self.columns = columns
        self.minutes = next((n for n in LENGTHS_MIN if n * MINUTE >= end_us), end_us // MINUTE + 1)

    def column(self, at_us: int) -> int:
        """The column in which that moment lies, counted from the axis start."""
        return min(self.columns - 1, max(0, at_us * self.columns // (self.minutes * MINUTE)))

    def ticks(self, zero_us: int) -> list[tuple[int, int]]:
        """Minutes from ``zero_us`` and the column each is written in, at least nine columns apart."""
        step = next((t for t in TICKS_MIN if t * self.columns >= 9 * self.minutes), self.minutes)
        before = zero_us // MINUTE // step
        minutes = range(-before * step, self.minutes, step)
        marked = [(n, self.column(zero_us + n * MINUTE)) for n in minutes]
        return [(n, at) for n, at in marked if at < self.columns - 8]


@dataclass(frozen=True, slots=True)
class Token:
    """Something small at a column; ``words`` stand beside it where there is room."""

    column: int
    text: str
    words: str
    paint: PaintName


def draw_bar(strip: Strip, bar: Bar, scale: Scale, label: str) -> None:
    """A bar with its label and a bracket at each end; of one column only a line."""
    start = scale.column(bar.from_us)
    size = max(1, scale.column(bar.to_us) - start)
    paint: PaintName = "run_open" if bar.open else "run"
    if size == 1:
        strip.put(start, ">" if bar.open else "|", paint)
        return
    close = ">" if bar.open else CLOSED.get(bar.how, "]")
    inside = label[: size - 2] if label.isascii() else clip(label, size - 2)
    strip.put(start, " " * size, paint)
    strip.put(start + 1, inside, paint)
    strip.put(start, "[", paint)
    strip.put(start + size - 1, close, paint)


def draw_lane(
    case: Case, bars: Iterable[Bar], marks: Iterable[TraceMark], scale: Scale, plain: bool, beneath: Strip | None = None
) -> Strip:  # fmt: skip
    """One lane; words that do not fit beside their token go to ``beneath`` where that is free."""
    strip = Strip(scale.columns)
    tries: list[Token] = []
    tried: list[tuple[int, int]] = []
    for bar in bars:
        if scale.column(bar.to_us) - scale.column(bar.from_us) >= SHORT_BAR:
            draw_bar(strip, bar, scale, inert(bar.label, plain))
        else:
            tries.append(_bar_token(case, bar, scale, plain))
        tried.append((bar.from_us, bar.to_us))
    # A try says its own energy; the letter beside it would say it twice.
    shown = (
        m for m in marks if m.letter != "E" or not any(start <= m.at_us <= stop for start, stop in tried)
    )
    placed = sorted(
        [*_placed(strip, tries), *_placed(strip, _mark_tokens(shown, scale, plain))],
        key=lambda token: token.column,
    )
    for token, after in pairwise([*placed, Token(scale.columns + 1, "", "", "text")]):
        _words(strip, beneath, token, after.column)
    return strip


def _bar_token(case: Case, bar: Bar, scale: Scale, plain: bool) -> Token:
    number, _, words = inert(bar.label, plain).partition(" ")
    event = case.event(bar.seq)
    if event is None or not isinstance(event.what, AttemptOpened):
        return Token(scale.column(bar.from_us), "B", inert(bar.label, plain), "strong")
    stage = finding.stage(case.checklist, event.what.stage)
    success = stage is not None and stage.attempts is not None and bar.how in stage.attempts.success
    sign = ">" if bar.open else "" if success else "-"
    return Token(scale.column(bar.from_us), f"{number}{sign}", words, "sky" if success else "strong")


def _mark_tokens(marks: Iterable[TraceMark], scale: Scale, plain: bool) -> list[Token]:
    """One token a mark; of more than can stand free, one plus for the column."""
    by_column: dict[int, list[TraceMark]] = {}
    for mark in marks:
        by_column.setdefault(scale.column(mark.at_us), []).append(mark)
    tokens: list[Token] = []
    for column in sorted(by_column):
        group = by_column[column]
        if len(group) > SHIFT:
            tokens.append(Token(column, SEVERAL, "", "strong"))
            continue
        for mark in sorted(group, key=lambda m: (m.at_us, m.seq)):
            paint: PaintName = "amber" if mark.late else "quiet" if mark.corrected else "strong"
            tokens.append(Token(column, inert(mark.letter, plain), inert(mark.words, plain), paint))
    return tokens


def _placed(strip: Strip, tokens: list[Token]) -> list[Token]:
    """The tokens as drawn, each moved on to where it stands free, or joined with the one before in a plus."""
    out: list[Token] = []
    for token in tokens:
        reached = out[-1].column + len(out[-1].text) if out else 0
        column = _free(strip, token, reached)
        if column is not None:
            strip.put(column, token.text, token.paint)
            out.append(Token(column, token.text, token.words, token.paint))
        elif out and token.column - out[-1].column <= 2 * SHIFT and len(out[-1].text) == 1:
            out[-1] = Token(out[-1].column, SEVERAL, "", "strong")
            strip.put(out[-1].column, SEVERAL, "strong")
    return out


def _free(strip: Strip, token: Token, reached: int) -> int | None:
    """The first column from ``reached`` on with a blank on both sides, else the first that is free at all.

    An amendment's sign may lean on what it amends.
    """
    size = len(token.text)
    columns = range(max(token.column, reached), token.column + SHIFT + 1)
    free = [at for at in columns if strip.free(at, at + size)]
    if token.text == "~" and free:
        return free[0]
    apart = (at for at in free if strip.free(max(0, at - 1), min(at + size + 1, strip.width)))
    return next(apart, free[0] if free else None)


def _words(strip: Strip, beneath: Strip | None, token: Token, after: int) -> None:
    size = len(token.words)
    if not size or size > WORDS:
        return
    start = token.column + len(token.text) + 1
    if start + size < after and strip.free(start, min(start + size + 1, strip.width)):
        strip.put(start, token.words, "quiet")
    elif beneath is not None and beneath.free(token.column - 1, token.column + size + 1):
        beneath.put(token.column, token.words, "quiet")


def title_piece(title: str, gutter: int, plain: bool) -> Piece:
    """A lane's name in the gutter."""
    return Piece(f"{clip(inert(title, plain), gutter - 1):<{gutter}}", "label")


def letters_of(rows: Iterable[TraceRow]) -> set[str]:
    """The letters that occur."""
    return {mark.letter for row in rows for mark in row.marks}
