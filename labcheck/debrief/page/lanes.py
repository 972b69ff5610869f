"""What the swim lanes hold, before anything is placed: the case log's trace, sorted into lanes that can be read.

Times are microseconds from the start of the trace.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from labcheck.caselog.case import Case
from labcheck.caselog.clockwords import clock_words, seconds_words, span_words
from labcheck.caselog.stamps import Moment, span
from labcheck.caselog.tallies import number_words
from labcheck.caselog.trace import Bar, Trace, TraceMark
from labcheck.checklist import finding

Shape = Literal["stage", "attempt", "burst", "rescue"]
PRESSURE_UNIT = "mmHg"
GRADIENT = "gradient"
"""Readings in this unit are the haemodynamics: they get a lane in which their values can be read."""

_LANE_OF_LETTER = {
    "R": "readings", "S": "readings", "D": "given", "V": "given", "B": "rescues",
    "x": "corrections", "~": "corrections", "+": "corrections", "Z": "corrections",
}  # fmt: skip
_TITLES = {
    "case": "stages",
    "rescues": "rescues, runs",
    "pressure": "pressure, mmHg",
    "readings": "readings",
    "given": "drugs, devices",
    "said": "decisions, notes",
    "corrections": "corrections",
}


@dataclass(frozen=True, slots=True)
class LaneBar:
    """A run on a lane. ``broken``: left or abandoned; ``open``: it never ended."""

    label: str
    from_us: int
    to_us: int
    words: str
    shape: Shape
    broken: bool = False
    open: bool = False


@dataclass(frozen=True, slots=True)
class LaneMark:
    """A mark and its label. ``value``: a pressure, drawn at its height."""

    at_us: int
    label: str
    words: str
    late: bool = False
    corrected: bool = False
    value: float | None = None


@dataclass(frozen=True, slots=True)
class Lane:
    """One lane."""

    id: str
    title: str
    bars: tuple[LaneBar, ...]
    marks: tuple[LaneMark, ...]


def lanes(case: Case, drawn: Trace) -> tuple[Lane, ...]:
    """The lanes that hold something: stages, every cusp, rescues, pressures, readings, drugs, notes, corrections."""
    out: list[Lane] = []
    for row in drawn.rows:
        bars = tuple(_bar(drawn.start, bar, row.id) for bar in row.bars)
        if row.id != "other":
            bursts = tuple(_bursts(case, row.id, drawn.start, drawn.end_us))
            marks = tuple(_mark(drawn.start, mark) for mark in row.marks)
            title = _TITLES["case"] if row.id == "case" else f"{row.title} cusp"
            out.append(Lane(row.id, title, (*bars, *bursts), marks))
        else:
            out += _other(case, drawn, bars, row.marks)
    return tuple(lane for lane in out if lane.bars or lane.marks or lane.id != "other")


def _other(
    case: Case, drawn: Trace, bars: tuple[LaneBar, ...], marks: tuple[TraceMark, ...]
) -> Iterator[Lane]:
    pressures = _pressures(case)
    sorted_: dict[str, list[LaneMark]] = {}
    for mark in marks:
        if mark.letter == "R" and mark.seq in pressures:
            value, shown = pressures[mark.seq]
            sorted_.setdefault("pressure", []).append(_mark(drawn.start, mark, shown, value))
        else:
            lane = _LANE_OF_LETTER.get(mark.letter, "said")
            sorted_.setdefault(lane, []).append(_mark(drawn.start, mark))
    for lane in ("rescues", "pressure", "readings", "given", "said", "corrections"):
        own = bars if lane == "rescues" else ()
        if own or lane in sorted_:
            yield Lane(lane, _TITLES[lane], own, tuple(sorted_.get(lane, ())))


def _pressures(case: Case) -> dict[int, tuple[float, str]]:
    """Entry -> value in mmHg and how it is written.

    Gradients are in mmHg too, but an 11 among blood pressures would be misread: they stay with the readings.
    """
    out = {}
    for taken in case.readings:
        reading = finding.reading(case.checklist, taken.what.reading)
        if reading is None or reading.unit != PRESSURE_UNIT or reading.id.endswith(GRADIENT):
            continue
        if taken.what.value is not None:
            out[taken.seq] = (float(taken.what.value), number_words(taken.what.value))
    return out


def when_words(start: Moment, at_us: int) -> str:
    """The time of day so long after the start of the trace."""
    return clock_words(start.model_copy(update={"wall_us": max(0, start.wall_us + at_us)}))


def _bar(start: Moment, bar: Bar, row: str) -> LaneBar:
    shape: Shape = "stage" if row == "case" else "rescue" if row == "other" else "attempt"
    lasted = span_words(bar.to_us - bar.from_us)
    ended = "NOT ENDED" if bar.open else when_words(start, bar.to_us)
    said = f", {bar.how}" if bar.how in ("left", "abandoned") else ""
    wall = ", placed by the wall clock" if bar.wall else ""
    words = f"[{bar.seq}] {bar.words}: {when_words(start, bar.from_us)} to {ended}, {lasted}{said}{wall}"
    return LaneBar(
        bar.label, bar.from_us, bar.to_us, words, shape, bar.how in ("left", "abandoned"), bar.open
    )


def _bursts(case: Case, cusp: str, start: Moment, end_us: int) -> Iterator[LaneBar]:
    for attempt in case.attempts:
        for burst in attempt.bursts if attempt.cusp == cusp else ():
            from_us = max(0, span(start, burst.start).us)
            to_us = max(from_us, span(start, burst.end).us) if burst.end is not None else end_us
            lasted = seconds_words(to_us - from_us) if burst.end is not None else "NEVER OFF"
            setting = f", {burst.watts} W" if burst.watts is not None else ""
            words = f"[{burst.seq}] energy, attempt {attempt.number}: {when_words(start, from_us)}, {lasted}"
            yield LaneBar("", from_us, to_us, words + setting, "burst", open=burst.end is None)


def _mark(start: Moment, mark: TraceMark, label: str = "", value: float | None = None) -> LaneMark:
    late = ", entered late" if mark.late else ""
    corrected = ", corrected" if mark.corrected and mark.letter not in "x~" else ""
    words = f"[{mark.seq}] {when_words(start, mark.at_us)} {mark.words}{late}{corrected}"
    return LaneMark(mark.at_us, label or f"{mark.letter}{mark.seq}", words, mark.late, mark.corrected, value)
