"""The debrief in a terminal's window, page by page: what the console mounts and a remote shell can show.

Plain text: no colour, no control signs, no line wider than asked. Everything fits 80 columns.
"""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from labcheck.caselog.case import Case
from labcheck.caselog.clockwords import clock_words
from labcheck.caselog.deviations import deviations
from labcheck.caselog.trace import Trace, TraceRow, trace
from labcheck.debrief.comparing import compared, own_words, place_words, trend_words
from labcheck.debrief.facts import (
    KINDS,
    about_lines,
    attempt_rows,
    bailout_rows,
    deviation_lines,
    interval_rows,
    record_lines,
    row_cells,
)
from labcheck.debrief.history import History, alone
from labcheck.debrief.lines import GLUE, inert
from labcheck.debrief.outcomes import leaflets, technical
from labcheck.debrief.series import sparkline
from labcheck.debrief.summary import summarise
from labcheck.debrief.timeline import timeline

NARROWEST, LOWEST = 40, 8
UNREAD = "own earlier cases are not read here: labcheck debrief compares with them"
TITLE_WIDTH = 8
DENSE = "+"
"""Stands where several marks fall on one place; the timeline has them all."""


@dataclass(frozen=True, slots=True)
class Page:
    """One page of the screen: its title and lines, ``number`` of ``of`` counted from 1."""

    title: str
    number: int
    of: int
    lines: tuple[str, ...]


def screen_lines(
    case: Case, width: int, height: int, history: History | None = None, page: int = 1, unread: str = UNREAD
) -> tuple[str, ...]:
    """One page of the debrief: exactly ``height`` lines of at most ``width`` columns; the last page if beyond.

    ``unread``: why own history is not there, or why it is not whole.
    """
    found = screen_pages(case, width, height, history, unread)
    chosen = found[min(max(page, 1), len(found)) - 1]
    mark = " REHEARSAL" if case.rehearsal else ""
    head = _cut(f"DEBRIEF {case.key}{mark}  {chosen.title}  page {chosen.number} of {chosen.of}", width)
    blank = ("",) * (max(height, LOWEST) - 1 - len(chosen.lines))
    return (head, *chosen.lines, *blank)


def screen_pages(
    case: Case, width: int, height: int, history: History | None = None, unread: str = UNREAD
) -> tuple[Page, ...]:
    """All pages: course, intervals, trends, deviations, attempts and rescues, timeline."""
    width, room = max(width, NARROWEST), max(height, LOWEST) - 1
    beside = history or alone(summarise(case, ""))
    # A history that was not read must not pass for one that is empty.
    known = [f"{len(beside.earlier)} comparable earlier cases; today is not among them"] if history else []
    said = [line for words in (*known, *([unread] if unread else [])) for line in _wrap(words, width)]
    parts: tuple[tuple[str, Callable[[], list[str]]], ...] = (
        ("course", lambda: _course(case, beside, width)),
        ("intervals", lambda: said + _intervals(case, beside, width, counted=history is not None)),
        ("trend", lambda: _trends(case, beside, width) or _no_trend(history, said, width)),
        ("another way", lambda: _deviations(case, width)),
        ("attempts and bailouts", lambda: _tries(case, width)),
        ("timeline", lambda: _timeline(case, width)),
    )
    cut: list[tuple[str, tuple[str, ...]]] = []
    for title, make in parts:
        lines = [_cut(inert(line), width) for line in make()]
        cut += [(title, tuple(lines[at : at + room])) for at in range(0, max(1, len(lines)), room)]
    return tuple(Page(title, n, len(cut), lines) for n, (title, lines) in enumerate(cut, 1))


def _cut(line: str, width: int) -> str:
    return line if len(line) <= width else line[: width - 1] + "~"


def _wrap(text: str, width: int, indent: str = "  ") -> list[str]:
    """Lines of that width; a per cent sign stays with its number."""
    glued = text.replace(" %", f"{GLUE}%")
    lines = textwrap.wrap(glued, width, subsequent_indent=indent, break_on_hyphens=False)
    return [line.replace(GLUE, " ") for line in lines] or [""]


def _course(case: Case, history: History, width: int) -> list[str]:
    out = [line for one in about_lines(case) for line in _wrap(one, width)]
    drawn = trace(case, None)
    room = width - TITLE_WIDTH
    out += ["", _axis(drawn, room)]
    for row in drawn.rows:
        out += [_row(row.title, _bars(row, drawn, room)), _row("", _marks(row, drawn, room))]
    out += ["", *_wrap("letters: E energy R reading D drug B bailout x undone ~ amended, + several", width)]
    present = history.present
    cusps = [
        f"{one.cusp.replace('_', ' ')} {one.value.replace('_', ' ') or one.answer}"
        for one in present.leaflets
    ]
    out += _wrap(f"today: {'; '.join(cusps)}; technical success at exit: {present.technical}", width)
    return out + [line for one in record_lines(case)[:1] for line in _wrap(one, width)]


def _row(title: str, drawn: str) -> str:
    return f"{title[: TITLE_WIDTH - 1]:{TITLE_WIDTH}}{drawn}"


def _column(at_us: int, drawn: Trace, room: int) -> int:
    return min(room - 1, at_us * (room - 1) // max(1, drawn.end_us))


def _axis(drawn: Trace, room: int) -> str:
    end = drawn.start.model_copy(update={"wall_us": drawn.start.wall_us + drawn.end_us})
    left, right = clock_words(drawn.start), clock_words(end)
    return _row("", f"{left}{right:>{max(1, room - len(left))}}")


def _bars(row: TraceRow, drawn: Trace, room: int) -> str:
    """Every run between brackets with as much of its name as fits; a sign where it is shorter than that."""
    cells = [" "] * room
    for bar in row.bars:
        left, right = _column(bar.from_us, drawn, room), _column(bar.to_us, drawn, room)
        wide = right - left
        if wide < 2:
            cells[left] = "|" if cells[left] in " ]" else DENSE
            continue
        inside = bar.label[: wide - 1]
        shown = f"[{inside}{'.' * (wide - 1 - len(inside))}]"
        cells[left : right + 1] = list(shown)
    return "".join(cells)


def _marks(row: TraceRow, drawn: Trace, room: int) -> str:
    cells = [" "] * room
    for mark in row.marks:
        at = _column(mark.at_us, drawn, room)
        cells[at] = mark.letter if cells[at] in (" ", mark.letter) else DENSE
    return "".join(cells)


def _intervals(case: Case, history: History, width: int, *, counted: bool) -> list[str]:
    out: list[str] = []
    for row in interval_rows(case):
        one = compared(history, row.id, row.title)
        start, end, lasted, noted = row_cells(row)
        out += _wrap(f"{lasted:>9}  {noted}, {start} to {end}", width, " " * 11)
        said = "; ".join(part for part in (own_words(one), place_words(one)) if part)
        if one.today is not None and one.earlier:
            out += [" " * 11 + line for line in _wrap(said, width - 11, "")]
    found = (leaflets(history.earlier), technical(history.earlier)) if counted else ()
    return out + [line for one in found for line in _wrap(f"before today, {one.what}: {one.text()}", width)]


def _trends(case: Case, history: History, width: int) -> list[str]:
    out: list[str] = []
    for row in interval_rows(case):
        one = compared(history, row.id, row.title)
        if one.chartable:
            values = [*one.earlier, *([one.today] if one.today is not None else [])]
            out += [
                row.title,
                f"  {sparkline(values[-(width - 4) :])}",
                *_wrap(f"  {trend_words(one)}", width),
            ]
    return out


def _no_trend(history: History | None, said: list[str], width: int) -> list[str]:
    return said if history is None else _wrap("no trend yet: a run chart needs 8 earlier cases", width)


def _deviations(case: Case, width: int) -> list[str]:
    found = deviations(case)
    out: list[str] = []
    for kind, title in KINDS:
        lines = deviation_lines(found, kind)
        out.append(f"{title} ({len(lines)})")
        out += [part for line in lines for part in _wrap(f"  - {line}", width, "    ")]
    return out


def _tries(case: Case, width: int) -> list[str]:
    def told(rows: Sequence[tuple[str, ...]]) -> list[str]:
        return [line for row in rows for line in _wrap("  ".join(row), width, "    ")] or ["  none"]

    return ["Attempts", *told(tuple(attempt_rows(case))), "", "Bailouts", *told(tuple(bailout_rows(case)))]


def _timeline(case: Case, width: int) -> list[str]:
    out: list[str] = []
    for line in timeline(case):
        words = "  ".join(part for part in (line.mark, line.late, line.words) if part)
        out += _wrap(f"{line.seq:>4} {line.time} {words}", width, " " * 14)
        out += [part for note in line.notes for part in _wrap(f"{'':14}^ {note}", width, " " * 16)]
    return out
