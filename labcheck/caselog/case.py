"""The folded case: everything the log says, as frozen values. Only ``fold`` makes a new one.

Parts are named by the seq of the event that began them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Generic, TypeVar

from labcheck.caselog.events import (
    BailoutOpened,
    ClockCompared,
    ClockNoticed,
    DeviceUsed,
    DoseGiven,
    Event,
    FaultNoted,
    HandoverMade,
    HoldPassed,
    ReadingTaken,
    StepAnswered,
)
from labcheck.caselog.stamps import Moment, span
from labcheck.checklist.model import Checklist
from labcheck.checklist.plan import Plan
from labcheck.checklist.unfolding import Slot
from labcheck.checklist.words import Cusp

T = TypeVar("T")
AnswerKey = tuple[str | int, Cusp | None, str]
"""Whose step was answered (a stage by its id, a rescue by its seq), its cusp where it is a stage's, and the step."""


@dataclass(frozen=True, slots=True)
class Visit:
    """One stay in a stage. ``seq`` is its stage.opened; ``how`` is done / left / abandoned once closed."""

    seq: int
    stage: str
    cusp: Cusp | None
    number: int
    start: Moment
    late: bool
    end: Moment | None = None
    end_seq: int | None = None
    how: str | None = None

    @property
    def slot(self) -> Slot:
        """The place in the unfolded checklist."""
        return Slot(self.stage, self.cusp)


@dataclass(frozen=True, slots=True)
class Burst:
    """One energy burst of an attempt."""

    seq: int
    attempt: int
    cusp: Cusp
    start: Moment
    mode: str | None
    watts: int | None
    end: Moment | None = None
    end_seq: int | None = None


@dataclass(frozen=True, slots=True)
class Attempt:
    """One numbered try on one cusp."""

    seq: int
    stage: str
    cusp: Cusp
    number: int
    start: Moment
    late: bool
    bursts: tuple[Burst, ...] = ()
    end: Moment | None = None
    end_seq: int | None = None
    outcome: str | None = None
    reason: str | None = None

    @property
    def effect(self) -> Moment | None:
        """When it took effect: the end of its last energy burst, or its result where it had none."""
        last = self._last_burst
        return last.end if last is not None else self.end

    @property
    def effect_seq(self) -> int:
        """The entry that says when it took effect; while nothing does, the one that began it."""
        last = self._last_burst
        return (last.end_seq if last is not None else self.end_seq) or self.seq

    @property
    def _last_burst(self) -> Burst | None:
        """The burst that ended last. One entered late is not last because it was entered last."""
        last = None
        for burst in self.bursts:
            if burst.end is None:
                continue
            if last is None or last.end is None or not _ended_before(burst.end, last.end):
                last = burst
        return last


def _ended_before(one: Moment, other: Moment) -> bool:
    """Whether the burst entered later ended first. Over a restart the wall clock is no witness: entries keep order."""
    found = span(other, one)
    restarted = found.basis == "wall" and None not in (one.boot_id, other.boot_id)
    return found.us < 0 and not restarted


@dataclass(frozen=True, slots=True)
class Spell:
    """One on-off spell of a run (pacing, compressions, balloon)."""

    seq: int
    run: str
    cusp: Cusp | None
    start: Moment
    rate: str | None
    end: Moment | None = None
    end_seq: int | None = None


@dataclass(frozen=True, slots=True)
class Sample:
    """A sample sent; ``answered`` is the seq of its reading."""

    seq: int
    reading: str
    sent: Moment
    answered: int | None = None


@dataclass(frozen=True, slots=True)
class Bailout:
    """One rescue. Its ``answers`` are in the case, under its seq: a second one of its kind has its own."""

    seq: int
    what: BailoutOpened
    start: Moment
    end: Moment | None = None
    end_seq: int | None = None
    outcome: str | None = None
    lead: str | None = None


@dataclass(frozen=True, slots=True)
class Choice:
    """A decision as it stands."""

    seq: int
    choice: str
    reason: str | None


@dataclass(frozen=True, slots=True)
class Skip:
    """A stage passed over on purpose: ``why`` is decision or call."""

    seq: int
    why: str
    reason: str


@dataclass(frozen=True, slots=True)
class Timed(Generic[T]):
    """A payload with its place and time in the log."""

    seq: int
    at: Moment
    what: T


@dataclass(frozen=True, slots=True)
class Seal:
    """The closing event."""

    seq: int
    at: Moment
    entries: int
    signed_by: str


@dataclass(frozen=True)
class Case:
    """One case. Mappings are replaced, never changed in place.

    Without slots: a log is folded by one copy of the case an entry, and a dictionary is copied in one go.
    ``log`` holds every event ever appended. The rest is what still counts after voids and amendments.
    ``open_visit``, ``open_attempt``, ``open_burst`` are seqs or None. ``order`` is the cusps as now planned.
    """

    key: str
    checklist: Checklist
    log: tuple[Event, ...] = ()
    voided: Mapping[int, int] = field(default_factory=dict)
    amended: Mapping[int, tuple[int, ...]] = field(default_factory=dict)
    plan: Plan | None = None
    rehearsal: bool = False
    checklist_digest: str = ""
    recorder: str = "N1"
    epoch: int = 1
    opened: Moment | None = None
    order: tuple[Cusp, ...] = ()
    slots: tuple[Slot, ...] = ()
    visits: tuple[Visit, ...] = ()
    open_visit: int | None = None
    attempts: tuple[Attempt, ...] = ()
    open_attempt: int | None = None
    open_burst: int | None = None
    spells: tuple[Spell, ...] = ()
    samples: tuple[Sample, ...] = ()
    readings: tuple[Timed[ReadingTaken], ...] = ()
    doses: tuple[Timed[DoseGiven], ...] = ()
    devices: tuple[Timed[DeviceUsed], ...] = ()
    faults: tuple[Timed[FaultNoted], ...] = ()
    notes: tuple[Timed[str], ...] = ()
    marks: tuple[Timed[int | None], ...] = ()
    answers: Mapping[AnswerKey, Timed[StepAnswered]] = field(default_factory=dict)
    decisions: Mapping[str, Choice] = field(default_factory=dict)
    skipped: Mapping[Slot, Skip] = field(default_factory=dict)
    abandoned: Mapping[Cusp, Timed[str]] = field(default_factory=dict)
    holds_passed: tuple[Timed[HoldPassed], ...] = ()
    bailouts: tuple[Bailout, ...] = ()
    silenced: frozenset[str] = frozenset()
    handovers: tuple[Timed[HandoverMade], ...] = ()
    comparisons: tuple[Timed[ClockCompared], ...] = ()
    notices: tuple[Timed[ClockNoticed], ...] = ()
    settled: Mapping[str, Timed[str]] = field(default_factory=dict)
    addenda: tuple[int, ...] = ()
    seal: Seal | None = None

    @property
    def head_seq(self) -> int:
        """The seq of the last event, 0 for none."""
        return self.log[-1].seq if self.log else 0

    @property
    def visit(self) -> Visit | None:
        """The open visit."""
        return next((v for v in reversed(self.visits) if v.seq == self.open_visit), None)

    @property
    def attempt(self) -> Attempt | None:
        """The open attempt."""
        return next((a for a in reversed(self.attempts) if a.seq == self.open_attempt), None)

    @property
    def burst(self) -> Burst | None:
        """The burst that is on, whether or not its attempt has its result already: the energy is on until it is off."""
        if self.open_burst is None:
            return None
        return next((b for a in reversed(self.attempts) for b in a.bursts if b.seq == self.open_burst), None)

    def event(self, seq: int) -> Event | None:
        """The event with that seq, as it was first written."""
        return self.log[seq - 1] if 1 <= seq <= len(self.log) else None

    def counts(self, seq: int) -> bool:
        """Whether the event still counts (it exists and is not voided)."""
        return 1 <= seq <= len(self.log) and seq not in self.voided
