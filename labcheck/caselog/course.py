"""The course of the case: what each kind of event says about stages, attempts, readings and rescues.

Payloads name other events by ``seq``. Amounts are decimals (strings in JSON), never floats.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from labcheck.checklist.plan import Plan
from labcheck.checklist.words import Cusp, Number, Ostium, Strict

Seq = Annotated[int, Field(ge=1, le=2**31)]
Name = Annotated[str, Field(min_length=1, max_length=80)]
Short = Annotated[str, Field(max_length=200)]
Note = Annotated[str, Field(max_length=2000)]
Recorder = Annotated[str, Field(pattern=r"^[A-Za-z0-9]{1,8}$")]
"""A short tag of the person at the keys (N1, N2, or initials): never a name."""


class CaseOpened(Strict):
    """The first event of a case. ``checklist_digest`` is the SHA-256 of the checklist's exact text."""

    kind: Literal["case.opened"] = "case.opened"
    plan: Plan
    checklist_id: Name
    checklist_revision: Name
    checklist_digest: Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
    rehearsal: bool
    recorder: Recorder


class StageOpened(Strict):
    """A visit begins. ``visit`` counts the entries to this stage on this cusp, from 1."""

    kind: Literal["stage.opened"] = "stage.opened"
    stage: Name
    cusp: Cusp | None = None
    visit: Annotated[int, Field(ge=1)]


class StageClosed(Strict):
    """A visit ends: ``done`` as called, ``left`` for another stage (it will be needed again), or ``abandoned``."""

    kind: Literal["stage.closed"] = "stage.closed"
    opened: Seq
    how: Literal["done", "left", "abandoned"]


class StageSkipped(Strict):
    """A stage was passed over on purpose: by a ``decision`` or by a spoken ``call``."""

    kind: Literal["stage.skipped"] = "stage.skipped"
    stage: Name
    cusp: Cusp | None = None
    why: Literal["decision", "call"]
    reason: Short


class HoldPassed(Strict):
    """A stage was opened though ``unmet`` was not true: the lines as they stood on the screen."""

    kind: Literal["hold.passed"] = "hold.passed"
    stage: Name
    cusp: Cusp | None = None
    hold: Name
    unmet: Annotated[tuple[Short, ...], Field(min_length=1)]
    reason: Short


class StepAnswered(Strict):
    """A step's answer. ``value`` is the actual value ("274", an option, "-20 15"), ``stage`` may be ``bailout:id``."""

    kind: Literal["step.answered"] = "step.answered"
    stage: Name
    cusp: Cusp | None = None
    step: Name
    opened: Seq | None = None
    answer: Literal["done", "not_done", "not_applicable", "value"]
    value: Short | None = None
    unit: Short | None = None
    reason: Short | None = None


class DecisionMade(Strict):
    """A choice that opens or skips stages."""

    kind: Literal["decision.made"] = "decision.made"
    decision: Name
    choice: Name
    reason: Short | None = None


class AttemptOpened(Strict):
    """One numbered try on one cusp in one stage; numbers run on over visits."""

    kind: Literal["attempt.opened"] = "attempt.opened"
    stage: Name
    cusp: Cusp
    number: Annotated[int, Field(ge=1)]
    opened: Seq | None = None


class AttemptClosed(Strict):
    """The outcome of a try, one of the outcomes its stage lists (or ``abandoned``)."""

    kind: Literal["attempt.closed"] = "attempt.closed"
    attempt: Seq
    outcome: Name
    reason: Short | None = None


class EnergyStarted(Strict):
    """A burst begins. It always belongs to an attempt, and so to one cusp."""

    kind: Literal["energy.started"] = "energy.started"
    attempt: Seq
    cusp: Cusp
    mode: Short | None = None
    watts: Annotated[int, Field(ge=0, le=1000)] | None = None


class EnergyStopped(Strict):
    """A burst ends."""

    kind: Literal["energy.stopped"] = "energy.stopped"
    burst: Seq


class RunStarted(Strict):
    """Something counted is switched on: pacing, compressions, a balloon. ``rate`` in the run's own unit."""

    kind: Literal["run.started"] = "run.started"
    run: Name
    cusp: Cusp | None = None
    rate: Number | None = None


class RunStopped(Strict):
    """It is switched off."""

    kind: Literal["run.stopped"] = "run.stopped"
    run: Seq


class SampleSent(Strict):
    """A sample left for the analyser; the reading that answers it names this event."""

    kind: Literal["sample.sent"] = "sample.sent"
    reading: Name


class ReadingTaken(Strict):
    """A measured value or a coded finding. ``outside`` marks a value accepted although outside the soft range.

    ``judged_by``: by what it was judged. ``judge``: who judged it, a role of the checklist and never a name.
    """

    kind: Literal["reading.taken"] = "reading.taken"
    reading: Name
    value: Number | None = None
    unit: Short | None = None
    choice: Name | None = None
    cusp: Cusp | None = None
    ostium: Ostium | None = None
    judged_by: Name | None = None
    judge: Name | None = None
    sample: Seq | None = None
    reset: bool = False
    outside: bool = False
    note: Short | None = None


class DoseGiven(Strict):
    """A drug. The amount may be unknown in a hurry; it is never invented."""

    kind: Literal["dose.given"] = "dose.given"
    drug: Name
    amount: Number | None = None
    unit: Short | None = None
    outside: bool = False
    note: Short | None = None


class DeviceUsed(Strict):
    """A generic device and what was done with it."""

    kind: Literal["device.used"] = "device.used"
    device: Name
    action: Literal["opened", "placed", "changed", "removed", "failed"]
    cusp: Cusp | None = None
    note: Short | None = None


class FaultNoted(Strict):
    """Something did not work; ``attempt`` is the try it belongs to, if one was under way."""

    kind: Literal["fault.noted"] = "fault.noted"
    fault: Name
    attempt: Seq | None = None
    cusp: Cusp | None = None
    note: Short | None = None


class NoteWritten(Strict):
    """Free text."""

    kind: Literal["note.written"] = "note.written"
    text: Note
    cusp: Cusp | None = None


class MarkSet(Strict):
    """A bare time stamp, to be described later by an event that names it."""

    kind: Literal["mark.set"] = "mark.set"


class BailoutOpened(Strict):
    """A rescue path begins; its clock runs until it is closed. Several may run at once."""

    kind: Literal["bailout.opened"] = "bailout.opened"
    bailout: Name
    cusp: Cusp | None = None
    ostium: Ostium | None = None


class BailoutClosed(Strict):
    """How a rescue ended and where it leads."""

    kind: Literal["bailout.closed"] = "bailout.closed"
    opened: Seq
    outcome: Name
    lead: Literal["carry_on", "abandon_cusp", "jump", "convert"]
    note: Short | None = None


class CuspAbandoned(Strict):
    """Nothing more is tried on this cusp; the other goes on."""

    kind: Literal["cusp.abandoned"] = "cusp.abandoned"
    cusp: Cusp
    reason: Short


class OrderChanged(Strict):
    """The planned order of the cusps is changed by call."""

    kind: Literal["order.changed"] = "order.changed"
    targets: tuple[Cusp, ...]
    reason: Short | None = None
