"""The checklist as a strict model: what a TOML file may say, and nothing else.

Cross-references (a hold that names a step, a watch that names a stage) are checked in
``labcheck.checklist.checking``, which can name the nearest right spelling.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from labcheck.checklist.conditions import Condition, Point
from labcheck.checklist.words import Big, Cusp, Line, Mark, Number, Ostium, Strict, Substrate, Text, Word

StepKind = Literal[
    "done", "choice", "number", "time", "text", "device", "dose", "reading", "projection", "decision"
]
ReasonUse = Literal["hold", "late", "abandon", "skip", "not_done", "correction", "decision", "signout"]


class Source(Strict):
    """Where a number comes from, and how well that was checked."""

    id: Word
    text: Line
    mark: Mark


class Option(Strict):
    """One choice of a step, decision or reading. ``opens``/``skips`` name stages (decisions only)."""

    id: Word
    text: Line
    opens: tuple[Word, ...] = ()
    skips: tuple[Word, ...] = ()
    needs_reason: bool = False


class When(Strict):
    """Limits a step, hold, watch or sign-out item to some cases. All given keys must hold."""

    substrate: tuple[Substrate, ...] = ()
    cusps: Literal["one", "two"] | None = None
    protection_planned: bool | None = None
    decision: Word | None = None
    is_: Annotated[tuple[Word, ...], Field(alias="is")] = ()


class Step(Strict):
    """One line that is read out and answered. A killer step's omission harms at once.

    ``devices``: which of the checklist's devices a step of kind ``device`` offers first; none named offers all.
    """

    id: Word
    say: Line
    kind: StepKind = "done"
    owner: Word | None = None
    killer: bool = False
    options: tuple[Option, ...] = ()
    unit: Line | None = None
    low: Number | None = None
    high: Number | None = None
    reading: Word | None = None
    drug: Word | None = None
    decision: Word | None = None
    devices: tuple[Word, ...] = ()
    ostium: Ostium | None = None
    when: When | None = None
    source: Word | None = None


class Hold(Strict):
    """What must be true before the stage opens. It can always be passed with a reason."""

    id: Word
    text: Line
    need: Annotated[tuple[Condition, ...], Field(min_length=1)]
    when: When | None = None
    source: Word | None = None


class Energy(Strict):
    """Usual setting of an energy burst, shown and recorded, never enforced."""

    mode: Line
    watts: Annotated[int, Field(gt=0, le=400)] | None = None
    usual_s: Number | None = None
    source: Word | None = None


class Attempts(Strict):
    """Numbered tries inside a stage on one cusp. ``success`` outcomes end the stage's work."""

    outcomes: Annotated[tuple[Option, ...], Field(min_length=2)]
    success: Annotated[tuple[Word, ...], Field(min_length=1)]
    fault: tuple[Word, ...] = ()
    notice_after: Annotated[int, Field(ge=1)] | None = None
    energy: Energy | None = None
    source: Word | None = None


class Stage(Strict):
    """A phase that the operator opens with a spoken call.

    ``lane`` groups neighbouring per-cusp stages: the group runs through for one cusp, then for the next.
    """

    id: Word
    title: Line
    big: Big
    call: Line
    done_call: Line | None = None
    per_cusp: bool = False
    lane: Word | None = None
    optional: bool = False
    repeatable: bool = False
    quiet: bool = False
    step: tuple[Step, ...] = ()
    hold: tuple[Hold, ...] = ()
    attempts: Attempts | None = None
    note: Text | None = None
    source: Word | None = None


class Decision(Strict):
    """A choice that opens or skips stages: used, declined, not feasible."""

    id: Word
    ask: Line
    options: Annotated[tuple[Option, ...], Field(min_length=2)]
    owner: Word | None = None
    source: Word | None = None


class Reading(Strict):
    """Something measured. ``low``/``high`` are a soft range: outside it the entry is asked for once more.

    ``cumulative`` readings may not fall without a stated reset. ``sample`` readings are sent, then reported.
    ``per`` asks for a cusp or an ostium beside the value. Coded readings list ``options`` instead of a unit.
    """

    id: Word
    title: Line
    unit: Line | None = None
    units: tuple[Line, ...] = ()
    low: Number | None = None
    high: Number | None = None
    sample: bool = False
    cumulative: bool = False
    per: Literal["cusp", "ostium"] | None = None
    options: tuple[Option, ...] = ()
    target_low: Number | None = None
    recheck_min: Number | None = None
    judged_by: tuple[Option, ...] = ()
    source: Word | None = None


class Drug(Strict):
    """Something given. ``usual`` amounts are offered as picks, in ``unit``; local protocol decides."""

    id: Word
    title: Line
    unit: Line
    usual: tuple[Number, ...] = ()
    low: Number | None = None
    high: Number | None = None
    source: Word | None = None


class Thing(Strict):
    """A generic device, fault or reason that can be picked with one key."""

    id: Word
    text: Line


class Reason(Strict):
    """A reason that one key gives. ``uses`` says where it is offered."""

    id: Word
    text: Line
    uses: Annotated[tuple[ReasonUse, ...], Field(min_length=1)]


class Run(Strict):
    """Something switched on and off and counted: pacing, compressions, balloon inflation."""

    id: Word
    title: Line
    rate_unit: Line | None = None
    source: Word | None = None


class Notice(Strict):
    """A level at which a tally says so: a number, or a limit named in ``labcheck.reference``."""

    at: Number | None = None
    limit: Word | Annotated[str, Field(pattern=r"^[a-z][a-z0-9_.]{2,60}$")] | None = None
    every: Number | None = None
    text: Line
    source: Word | None = None


class Tally(Strict):
    """A running figure: a sum of doses, the latest or a cumulative reading, or runs by count or seconds."""

    id: Word
    title: Line
    kind: Literal["sum", "latest", "cumulative", "count", "seconds"]
    drug: Word | None = None
    reading: Word | None = None
    run: Word | None = None
    energy: bool = False
    unit: Line | None = None
    per_kg: bool = False
    notice: tuple[Notice, ...] = ()
    source: Word | None = None


class Watch(Strict):
    """A count between two events. Counting down needs ``due_min``; ``big`` takes the large clock's place.

    ``again``: what is to be done once more. The watch is said only after that was done once since the start (a
    second look is not due before a first), and ends when it was done at ``due_min`` or later.
    """

    id: Word
    title: Line
    start: Point
    end: Point
    again: Point | None = None
    counts: Literal["up", "down"] = "up"
    due_min: Number | None = None
    overdue_min: Number | None = None
    big: bool = False
    text: Line | None = None
    when: When | None = None
    source: Word | None = None


class Interval(Strict):
    """A duration that the debrief and every export carry, between two named events."""

    id: Word
    title: Line
    start: Point
    end: Point
    note: Text | None = None


class Bailout(Strict):
    """A named rescue path with its own clock and read-do steps.

    ``leads`` says where it may end: carry_on, abandon_cusp, jump (to ``jump_to``) or convert.
    ``endpoint`` is what it means for the registry's endpoints, in its own word.
    """

    id: Word
    title: Line
    big: Big
    per: Literal["cusp", "ostium"] | None = None
    step: tuple[Step, ...] = ()
    outcomes: Annotated[tuple[Option, ...], Field(min_length=1)]
    leads: Annotated[tuple[Literal["carry_on", "abandon_cusp", "jump", "convert"], ...], Field(min_length=1)]
    jump_to: Word | None = None
    endpoint: Literal[
        "coronary_obstruction",
        "conversion",
        "structural",
        "vascular",
        "neurological",
        "conduction",
        "circulatory",
        "second_valve",
        "device_fault",
        "none",
    ] = "none"
    source: Word | None = None


class SignOut(Strict):
    """What must be settled before a case can be closed; each can be settled by a reason."""

    id: Word
    text: Line
    need: Annotated[tuple[Condition, ...], Field(min_length=1)]
    when: When | None = None


class Checklist(Strict):
    """One technique, from briefing to sign-out. Within ``bounce_ms`` a second next-call press does nothing."""

    format: Literal[1]
    id: Word
    title: Line
    revision: Line
    language: Annotated[str, Field(pattern=r"^[a-z]{2,3}(-[A-Za-z0-9]{2,8})*$")]
    technique: Word
    verify: Line
    cusps: Annotated[tuple[Cusp, ...], Field(min_length=1)]
    max_cusps: Annotated[int, Field(ge=1, le=3)]
    substrates: Annotated[tuple[Substrate, ...], Field(min_length=1)]
    access_stage: Word
    late_after_min: Number
    silent_after_min: Number
    bounce_ms: Annotated[int, Field(ge=0, le=5000)] = 400
    source: tuple[Source, ...] = ()
    stage: Annotated[tuple[Stage, ...], Field(min_length=1, max_length=60)]
    decision: tuple[Decision, ...] = ()
    reading: tuple[Reading, ...] = ()
    drug: tuple[Drug, ...] = ()
    device: tuple[Thing, ...] = ()
    fault: tuple[Thing, ...] = ()
    reason: tuple[Reason, ...] = ()
    run: tuple[Run, ...] = ()
    tally: tuple[Tally, ...] = ()
    watch: tuple[Watch, ...] = ()
    interval: tuple[Interval, ...] = ()
    bailout: tuple[Bailout, ...] = ()
    signout: tuple[SignOut, ...] = ()
