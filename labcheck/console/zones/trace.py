"""The trace: the case so far, to scale, so that a forgotten press shows as an empty or far too long stretch.

The scale is chosen from a few round lengths and changes only when the case outgrows one, so that the
picture does not creep. Runs are bars with a bracket at each end: ``]`` done, ``<`` left for another stage,
``x`` abandoned, ``>`` still open. Marks are letters; a small letter was corrected, ``+`` is several at once.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from textual.content import Content

from labcheck.caselog.clockwords import MINUTE, span_words
from labcheck.console.theme import PaintName
from labcheck.console.view import View
from labcheck.console.zones.canvas import Strip
from labcheck.console.zones.rows import Piece, Rows, clip, inert

if TYPE_CHECKING:
    from labcheck.caselog.trace import Bar, Trace, TraceMark, TraceRow

LENGTHS_MIN = (10, 20, 30, 45, 60, 90, 120, 150, 180, 240, 300, 360, 480, 720, 1440, 2880, 10080)
"""Lengths of the time axis, minutes."""
TICKS_MIN = (1, 2, 5, 10, 15, 30, 60, 120, 240, 720, 1440)
"""Distances between the numbers on the axis, minutes."""
GUTTER = 8
"""Columns for the lanes' names."""
CLOSED = {"done": "]", "left": "<", "abandoned": "x"}
NOTHING_AFTER_US = 2 * MINUTE
"""An empty stretch from this length on says how long it is, where the words fit."""


def render(view: View, width: int, height: int) -> Content:
    """The lanes that fit: all with axis and legend where there is room, else the case and one lane of marks."""
    rows = Rows(width, height, view.plain)
    trace = view.trace
    if trace is None or not trace.rows or width < GUTTER + 20:
        rows.add(Piece(f"{'case':<{GUTTER}}", "quiet"), Piece("nothing recorded yet", "quiet"))
        return rows.content()
    scale = Scale(trace.end_us, width - GUTTER - 1)
    first, *others = trace.rows
    doubled = height >= len(trace.rows) + 3
    if height >= len(trace.rows) + 1:
        _axis(rows, view, scale)
    _runs(rows, first, scale, trace.end_us, doubled)
    if height < len(trace.rows):
        marks = [mark for row in trace.rows for mark in row.marks]
        _lane(rows, "marks", (), marks, scale, trace.end_us)
    else:
        for row in others:
            _lane(rows, row.title, row.bars, row.marks, scale, trace.end_us)
    if rows.left:
        _legend(rows, trace)
    return rows.content()


class Scale:
    """Microseconds to columns. ``minutes`` is the length of the axis in ``columns``."""

    __slots__ = ("columns", "minutes")

    def __init__(self, end_us: int, columns: int) -> None:
        self.columns = columns
        self.minutes = next((n for n in LENGTHS_MIN if n * MINUTE >= end_us), end_us // MINUTE + 1)

    def column(self, at_us: int) -> int:
        """The column in which that moment lies, counted from the axis start."""
        return min(self.columns - 1, max(0, at_us * self.columns // (self.minutes * MINUTE)))

    def ticks(self) -> range:
        """The minutes that are written on the axis, at least nine columns apart."""
        step = next((t for t in TICKS_MIN if t * self.columns >= 9 * self.minutes), self.minutes)
        return range(0, self.minutes, step)


def _axis(rows: Rows, view: View, scale: Scale) -> None:
    strip = Strip(scale.columns)
    for minute in scale.ticks():
        strip.put(scale.column(minute * MINUTE), f"{minute}", "quiet")
    strip.put(scale.columns - 4, " min", "quiet")
    silent = inert(view.silent, view.plain)
    if silent and not view.quiet:
        start = scale.column(view.trace.end_us if view.trace else 0) + 2
        if start + len(silent) + 1 < scale.columns - 4:
            strip.put(start, f" {silent} ", "quiet")
    rows.add(Piece(" " * GUTTER), *strip.pieces())


def _runs(rows: Rows, row: TraceRow, scale: Scale, end_us: int, doubled: bool) -> None:
    names, lengths = Strip(scale.columns), Strip(scale.columns)
    _empty(names, row.bars, scale, end_us)
    for bar in row.bars:
        _bar(names, bar, scale, inert(bar.label, rows.plain))
        if doubled:
            _bar(lengths, bar, scale, span_words(bar.to_us - bar.from_us), framed=False)
    names.put(scale.column(end_us) + 1, _now_sign(rows.plain), "rule")
    rows.add(_title(row.title, rows.plain), *names.pieces())
    if doubled:
        rows.add(Piece(" " * GUTTER), *lengths.pieces())


def _empty(strip: Strip, bars: tuple[Bar, ...], scale: Scale, end_us: int) -> None:
    """Dots from the start to now, and in a long stretch without a run the words that say so."""
    strip.put(0, "." * (scale.column(end_us) + 1), "quiet")
    reached = 0
    for start, stop in [*((b.from_us, b.to_us) for b in bars), (end_us, end_us)]:
        words = f" no stage {span_words(start - reached)} "
        begun = scale.column(reached)
        if start - reached >= NOTHING_AFTER_US and scale.column(start) - begun >= len(words) + 2:
            strip.put(begun + 1, words, "amber")
        reached = max(reached, stop)


def _bar(strip: Strip, bar: Bar, scale: Scale, label: str, *, framed: bool = True) -> None:
    start = scale.column(bar.from_us)
    size = max(1, scale.column(bar.to_us) - start)
    paint: PaintName = "run_open" if bar.open else "run"
    if not framed:
        if size > len(label):
            strip.put(start + 1, label, "quiet")
        return
    close = ">" if bar.open else CLOSED.get(bar.how or "", "]")
    if size == 1:
        strip.put(start, ">" if bar.open else "|", paint)
        return
    inside = label[: size - 2] if label.isascii() else clip(label, size - 2)
    shown = Strip(size)
    shown.put(0, " " * size, paint)
    shown.put(1, inside, paint)
    shown.put(0, "[", paint)
    shown.put(size - 1, close, paint)
    at = start
    for text, found in shown.pieces():
        strip.put(at, text, found)
        at += size


def _lane(
    rows: Rows, title: str, bars: tuple[Bar, ...], marks: tuple[TraceMark, ...] | list[TraceMark],
    scale: Scale, end_us: int,
) -> None:  # fmt: skip
    """One lane: bars, then the letters, then their words wherever a whole one fits before the next letter."""
    strip = Strip(scale.columns)
    for bar in bars:
        _bar(strip, bar, scale, inert(bar.label, rows.plain))
    placed: dict[int, TraceMark | None] = {}
    for mark in sorted(marks, key=lambda m: m.at_us):
        column = scale.column(mark.at_us)
        if column in placed and column + 1 not in placed and column + 1 < scale.columns:
            column += 1
        placed[column] = None if column in placed else mark
    edges = [*sorted(placed), scale.columns + 1]
    for column, after in pairwise(edges):
        _mark(strip, placed[column], column, after, rows.plain)
    now = scale.column(end_us) + 1
    if strip.free(now, now + 1):
        strip.put(now, _now_sign(rows.plain), "rule")
    rows.add(_title(title, rows.plain), *strip.pieces())


def _mark(strip: Strip, mark: TraceMark | None, column: int, after: int, plain: bool) -> None:
    if mark is None:
        strip.put(column, "+", "strong")
        return
    letter = inert(mark.letter, plain)
    strip.put(column, letter, "amber" if mark.late else "quiet" if mark.corrected else "strong")
    words = inert(mark.words, plain)
    start, stop = column + len(letter) + 1, column + len(letter) + 1 + len(words)
    if words and stop < after and strip.free(start, min(stop + 1, strip.width)):
        strip.put(start, words, "quiet")


def _legend(rows: Rows, trace: Trace) -> None:
    """What the letters that occur stand for, each once."""
    rows.add(Piece(" " * GUTTER), Piece("] done  < left  > open  small letter: corrected  + several", "quiet"))


def _title(title: str, plain: bool) -> Piece:
    shown = clip(inert(title, plain), GUTTER - 1)
    return Piece(f"{shown:<{GUTTER}}", "label")


def _now_sign(plain: bool) -> str:
    return "|" if plain else "\u254e"
