"""The coronary flow checks of a case, ostium by ostium, and what is handed over for the late watch."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from labcheck.caselog.case import Case, Timed
from labcheck.caselog.citing import Told, cite
from labcheck.caselog.clockwords import ago_words, clock_words
from labcheck.caselog.entry_words import joined
from labcheck.caselog.events import ReadingTaken
from labcheck.caselog.stamps import Moment, span
from labcheck.caselog.tallies import in_time
from labcheck.checklist import finding
from labcheck.checklist.model import Reading
from labcheck.checklist.words import Ostium
from labcheck.reference.delayed import (
    JABBOUR_2018,
    LATE,
    PALMERINI_2020,
    WITHIN_A_DAY,
    WITHIN_A_WEEK,
)

OSTIA: tuple[Ostium, ...] = ("left", "right")
NORMAL = "normal"
LATE_WATCH = "late_watch"
"""The step at which the late watch is handed over, by its id in the shipped checklists."""


@dataclass(frozen=True, slots=True)
class FlowCheck:
    """The checks of one ostium, the last by when it was made. ``checks`` counts all of them."""

    ostium: Ostium
    reading: Reading
    last: Timed[ReadingTaken]
    checks: int

    @property
    def normal(self) -> bool:
        """Whether the last look found the flow normal."""
        return self.last.what.choice == NORMAL

    def words(self) -> str:
        """What was found, by what and who judged it: "partial, echo, anaesthesia"."""
        what = self.last.what
        found = finding.option(self.reading.options, what.choice or "")
        judged = finding.option(self.reading.judged_by, what.judged_by or "")
        return joined(
            [
                found.text if found is not None else what.choice,
                judged.text if judged is not None else "judged by: not said",
                (what.judge or "").replace("_", " ") or None,
            ]
        )


def flow_reading(case: Case) -> Reading | None:
    """The coded reading that the checklist takes per ostium."""
    return next((r for r in case.checklist.reading if r.per == "ostium" and r.options), None)


def flow_checks(case: Case) -> tuple[FlowCheck, ...]:
    """The ostia looked at so far, left first."""
    reading = flow_reading(case)
    if reading is None:
        return ()
    found = []
    for ostium in OSTIA:
        here = (r for r in case.readings if r.what.reading == reading.id and r.what.ostium == ostium)
        taken = in_time(case, here)
        if taken:
            found.append(FlowCheck(ostium, reading, taken[-1], len(taken)))
    return tuple(found)


def coronary_figures(case: Case, at: Moment) -> Iterator[Told]:
    """The last look at each ostium with its age; and in the stage that hands it over, the late watch."""
    for one in flow_checks(case):
        count = f", check {one.checks}" if one.checks > 1 else ""
        words = f"{one.ostium} coronary {one.words()}, {ago_words(span(one.last.at, at))}{count}"
        yield Told(f"flow:{one.ostium}", words, notice=not one.normal)
    if _handing_over(case):
        yield from late_watch_lines(case)


def _handing_over(case: Case) -> bool:
    stage = finding.stage(case.checklist, case.visit.stage) if case.visit is not None else None
    return stage is not None and finding.by_id(stage.step, LATE_WATCH) is not None


def late_watch_lines(case: Case) -> tuple[Told, ...]:
    """What goes with the patient: how each coronary was last seen, and when late obstructions came in print."""
    if flow_reading(case) is None:
        return ()
    seen = {one.ostium: one for one in flow_checks(case)}
    return (*(_seen_line(ostium, seen.get(ostium)) for ostium in OSTIA), *_windows(case))


def _seen_line(ostium: Ostium, one: FlowCheck | None) -> Told:
    id_ = f"late_watch:{ostium}"
    if one is None:
        return Told(id_, f"hand over: {ostium} coronary was not looked at", missing=True)
    at = clock_words(one.last.at, seconds=False)
    return Told(id_, f"hand over: {ostium} coronary {one.words()} at {at}", notice=not one.normal)


def _windows(case: Case) -> Iterator[Told]:
    counts = ", ".join(f"{w.published} {w.name}" for w in (WITHIN_A_DAY, WITHIN_A_WEEK, LATE))
    words = f"late watch: of 38 obstructions that came late, {counts} {cite(JABBOUR_2018)}"
    yield Told("late_watch:windows", words, JABBOUR_2018.line())
    if case.plan is not None and case.plan.protection_planned:
        words = f"after a wire without stent: 5 min to 6 h after it came out {cite(PALMERINI_2020)}"
        yield Told("late_watch:wire", words, PALMERINI_2020.line())
