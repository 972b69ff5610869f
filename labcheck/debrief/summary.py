"""One case in a few figures: what comparisons and series need of it, small enough to keep thousands of.

A summary says nothing that the log does not say; it is made from the folded case and can always be made anew.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any, NamedTuple

from labcheck.caselog.case import Case
from labcheck.caselog.clockwords import SECOND
from labcheck.caselog.deviations import missing_stages
from labcheck.caselog.endpoints import endpoints
from labcheck.caselog.entry_words import bailout_title, outcome_words
from labcheck.caselog.holds import choices
from labcheck.caselog.intervals import interval_table
from labcheck.caselog.stamps import span
from labcheck.caselog.telling import lag_flagged
from labcheck.checklist import finding
from labcheck.checklist.model import Step
from labcheck.checklist.unfolding import Slot, steps_for

MODES = ("live", "late", "transcribed", "amended")


class Lasted(NamedTuple):
    """A finished interval or stage, in microseconds. ``wall``: measured by the wall clock only."""

    id: str
    title: str
    us: int
    wall: bool

    @property
    def minutes(self) -> float:
        """The same in minutes."""
        return self.us / (60 * SECOND)


@dataclass(frozen=True, slots=True)
class Leaflet:
    """What became of one target: ``answer`` is yes, no or pending; ``value`` the outcome in words, if any."""

    cusp: str
    answer: str
    value: str


@dataclass(frozen=True, slots=True)
class Rescue:
    """A bailout that was opened, and how long it ran in microseconds (-1 where it was never closed)."""

    id: str
    title: str
    us: int


@dataclass(frozen=True, slots=True)
class Making:
    """How the record itself was made: entries by mode, lags of late entries in whole seconds, ascending.

    ``flagged``: late or transcribed entries that came more than 20 minutes after the event.
    """

    modes: tuple[int, int, int, int]
    voided: int
    amended: int
    lags_s: tuple[int, ...]
    flagged: int


@dataclass(frozen=True, slots=True)
class Completeness:
    """Steps of the stages that were entered: asked for, without an answer, and killer steps among these.

    ``stages``: stages overtaken or never finished without a decision.
    """

    steps: int
    unanswered: int
    killers: int
    stages: int


@dataclass(frozen=True, slots=True)
class Summary:
    """One case. ``head``: digest of the entry it was made up to; ``opened_us``: UTC microseconds.

    ``digest``: of the exact text of the checklist it was run with.
    """

    case: str
    head: str
    entries: int
    opened_us: int
    off_s: int
    technique: str
    checklist: str
    revision: str
    digest: str
    cusps: tuple[str, ...]
    rehearsal: bool
    sealed: bool
    times: tuple[Lasted, ...]
    leaflets: tuple[Leaflet, ...]
    technical: str
    rescues: tuple[Rescue, ...]
    making: Making
    whole: Completeness

    def lasted(self, id_: str) -> Lasted | None:
        """The interval or stage with that id, where it was finished."""
        return next((one for one in self.times if one.id == id_), None)


def summarise(case: Case, head: str) -> Summary:
    """The summary of a folded case that has been opened. ``head``: the digest of its last entry, hex."""
    plan = case.plan
    found = endpoints(case)
    return Summary(
        case=case.key,
        head=head,
        entries=len(case.log),
        opened_us=case.opened.wall_us if case.opened is not None else 0,
        off_s=case.opened.off_s if case.opened is not None else 0,
        technique=plan.technique if plan is not None else case.checklist.technique,
        checklist=case.checklist.id,
        revision=case.checklist.revision,
        digest=case.checklist_digest,
        cusps=tuple(plan.targets) if plan is not None else (),
        rehearsal=case.rehearsal,
        sealed=case.seal is not None,
        times=_times(case),
        leaflets=tuple(
            Leaflet(e.cusp, e.answer, _outcome(case, e.value))
            for e in found
            if e.name == "leaflet_modified" and e.cusp is not None
        ),
        technical=next((e.answer for e in found if e.name == "technical_success"), "pending"),
        rescues=tuple(
            Rescue(b.what.bailout, bailout_title(case, b.what), span(b.start, b.end).us if b.end else -1)
            for b in case.bailouts
        ),
        making=_making(case),
        whole=_completeness(case),
    )


def _outcome(case: Case, value: str | None) -> str:
    """The outcome behind a target's result in the checklist's words."""
    stages = [s for s in case.checklist.stage if s.per_cusp and s.attempts is not None]
    return outcome_words(case, stages[-1].id, value) if value and stages else value or ""


def _times(case: Case) -> tuple[Lasted, ...]:
    """Intervals and stages that ended, and lasted: what began and ended in one press has no duration."""
    return tuple(
        Lasted(row.id, row.title, row.span.us, row.span.basis == "wall")
        for row in interval_table(case, None)
        if row.kind in ("interval", "stage") and row.state == "done" and row.span and row.span.us > 0
    )


def _making(case: Case) -> Making:
    counts = dict.fromkeys(MODES, 0)
    for event in case.log:
        counts[event.mode] += 1
    late = [e for e in case.log if e.mode == "late" and e.seq not in case.voided]
    return Making(
        modes=(counts["live"], counts["late"], counts["transcribed"], counts["amended"]),
        voided=len(case.voided),
        amended=len(case.amended),
        lags_s=tuple(sorted(max(0, e.lag_us // SECOND) for e in late)),
        flagged=sum(1 for e in case.log if e.seq not in case.voided and lag_flagged(e)),
    )


def _completeness(case: Case) -> Completeness:
    asked = [
        (slot, step) for slot in dict.fromkeys(v.slot for v in case.visits) for step in _asked(case, slot)
    ]
    unanswered = [step for slot, step in asked if (slot.stage, slot.cusp, step.id) not in case.answers]
    killers = sum(1 for step in unanswered if step.killer)
    return Completeness(len(asked), len(unanswered), killers, len(missing_stages(case)))


def _asked(case: Case, slot: Slot) -> tuple[Step, ...]:
    """The steps of a slot without their words, of which hundreds of old cases need none."""
    holder = finding.holder(case.checklist, slot.stage)
    return steps_for(holder, case.plan, choices(case)) if holder is not None and case.plan is not None else ()


def to_plain(summary: Summary) -> dict[str, Any]:
    """The summary as plain JSON values."""
    return asdict(summary)


def from_plain(data: dict[str, Any]) -> Summary:
    """Read one back. Raises ``TypeError``, ``KeyError`` or ``ValueError`` on anything ``to_plain`` does not make."""
    making, whole = data["making"], data["whole"]
    live, late, transcribed, amended = making["modes"]
    return Summary(
        **{
            **data,
            "cusps": tuple(data["cusps"]),
            "times": tuple(map(Lasted._make, data["times"])),
            "leaflets": tuple(Leaflet(**one) for one in data["leaflets"]),
            "rescues": tuple(Rescue(**one) for one in data["rescues"]),
            "making": Making(
                (live, late, transcribed, amended),
                making["voided"],
                making["amended"],
                tuple(making["lags_s"]),
                making["flagged"],
            ),
            "whole": Completeness(**whole),
        }
    )
