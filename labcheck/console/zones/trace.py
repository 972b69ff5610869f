"""The trace: the case so far, to scale, so that a forgotten press shows as an empty or far too long stretch.

Stages are bars with a bracket at each end: ``]`` done, ``<`` left for another stage, ``x`` abandoned, ``>``
still open. Minutes count from the access once there is one.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.content import Content

from labcheck.caselog.case import Case
from labcheck.caselog.clockwords import MINUTE, span_words
from labcheck.caselog.events import StageOpened
from labcheck.checklist import finding
from labcheck.checklist.unfolding import cusp_word
from labcheck.console.view import View
from labcheck.console.zones.canvas import Strip
from labcheck.console.zones.lanes import Scale, draw_bar, draw_lane, letters_of, title_piece
from labcheck.console.zones.rows import Piece, Rows, cells, inert

if TYPE_CHECKING:
    from labcheck.caselog.trace import Bar, Trace, TraceRow

GUTTER = 8
"""Columns for the lanes' names."""
NOTHING_FROM_US = 2 * MINUTE
"""An empty stretch from this length on says how long it is, where the words fit."""
MEANINGS = {
    "E": "energy", "R": "reading", "S": "sample sent", "D": "drug", "V": "device", "F": "fault", "N": "note",
    "M": "mark", "B": "bailout", "b": "bailout over", "A": "cusp abandoned", "O": "order changed",
    "C": "decision", "H": "hold passed", "P": "handover", "K": "clock", "U": "pacing or the like",
    "x": "void", "~": "amended", "+": "added after the seal", "Z": "sealed",
}  # fmt: skip
"""What the letters of the trace stand for, in the legend's words."""
SIGNS = "1- 2 tries, - without success   + several"


def render(view: View, width: int, height: int) -> Content:
    """The lanes that fit: all with axis and legend where there is room, else the case and one lane of marks."""
    rows = Rows(width, height, view.plain)
    trace = view.trace
    if trace is None or not trace.rows or width < GUTTER + 20:
        rows.add(title_piece("case", GUTTER, view.plain), Piece("nothing recorded yet", "quiet"))
        return rows.content()
    scale = Scale(trace.end_us, width - GUTTER - 1)
    first, *others = trace.rows
    spare = height - len(trace.rows)
    if spare >= 1:
        _axis(rows, trace, scale)
    _runs(rows, view.case, first, scale, trace.end_us, doubled=spare >= 3)
    if spare < 0:
        bars = [bar for row in others for bar in row.bars]
        marks = [mark for row in trace.rows for mark in row.marks]
        strip = draw_lane(view.case, bars, marks, scale, view.plain)
        _add(rows, "marks", strip, scale, trace.end_us)
        return rows.content()
    for number, row in enumerate(others):
        beneath = Strip(scale.columns) if spare >= 4 and number + 1 == len(others) else None
        strip = draw_lane(view.case, row.bars, row.marks, scale, view.plain, beneath)
        _add(rows, row.title, strip, scale, trace.end_us)
        if beneath is not None:
            rows.add(Piece(" " * GUTTER), *beneath.pieces())
    if rows.left:
        _legend(rows, trace)
    return rows.content()


def _axis(rows: Rows, trace: Trace, scale: Scale) -> None:
    strip = Strip(scale.columns)
    for minute, column in scale.ticks(trace.access_us or 0):
        strip.put(column, f"{minute}", "quiet")
    strip.put(scale.columns - 4, " min", "quiet")
    rows.add(Piece(" " * GUTTER), *strip.pieces())


def _runs(rows: Rows, case: Case, row: TraceRow, scale: Scale, end_us: int, *, doubled: bool) -> None:
    names, lengths = Strip(scale.columns), Strip(scale.columns)
    _empty(names, row.bars, scale, end_us)
    for bar in row.bars:
        draw_bar(names, bar, scale, inert(_stage_label(case, bar), rows.plain))
        words = span_words(bar.to_us - bar.from_us)
        if scale.column(bar.to_us) - scale.column(bar.from_us) > len(words):
            lengths.put(scale.column(bar.from_us) + 1, words, "quiet")
    _add(rows, row.title, names, scale, end_us)
    if doubled:
        rows.add(Piece(" " * GUTTER), *lengths.pieces())


def _stage_label(case: Case, bar: Bar) -> str:
    """The stage's short name as it stands in block letters, with the cusp's first letter."""
    event = case.event(bar.seq)
    if event is None or not isinstance(event.what, StageOpened):
        return bar.label
    stage = finding.stage(case.checklist, event.what.stage)
    cusp = cusp_word(event.what.cusp)[:1].upper()
    return f"{stage.big.lower() if stage else bar.label} {cusp}".rstrip()


def _empty(strip: Strip, bars: tuple[Bar, ...], scale: Scale, end_us: int) -> None:
    """Dots from the start to now, and in a long stretch without a stage the words that say so."""
    strip.put(0, "." * (scale.column(end_us) + 1), "quiet")
    reached = 0
    for start, stop in [*((b.from_us, b.to_us) for b in bars), (end_us, end_us)]:
        words = f" no stage {span_words(start - reached)} "
        begun = scale.column(reached)
        if start - reached >= NOTHING_FROM_US and scale.column(start) - begun >= len(words) + 2:
            strip.put(begun + 1, words, "amber")
        reached = max(reached, stop)


def _add(rows: Rows, title: str, strip: Strip, scale: Scale, end_us: int) -> None:
    """The lane with the thin line that stands for now."""
    now = scale.column(end_us)
    if strip.free(now, now + 1):
        strip.put(now, "|" if rows.plain else "\u254e", "rule")
    rows.add(title_piece(title, GUTTER, rows.plain), *strip.pieces())


def _legend(rows: Rows, trace: Trace) -> None:
    """What the letters that occur stand for, as many as fit."""
    room = rows.width - GUTTER
    pieces: list[Piece] = [Piece(" " * GUTTER)]
    found = letters_of(trace.rows)
    for letter in (known for known in MEANINGS if known in found):
        words = f" {MEANINGS[letter]}   "
        room -= len(letter) + len(words)
        if room < cells(SIGNS):
            break
        pieces += [Piece(letter, "strong"), Piece(words, "quiet")]
    if any(row.bars for row in trace.rows[1:]) or len(pieces) > 1:
        pieces.append(Piece(SIGNS, "quiet"))
    rows.add(*pieces)
