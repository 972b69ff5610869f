"""What happened: one frozen model per kind of event, and the envelope they all travel in.

Events name each other by ``seq``. An event is never changed or removed; corrections are new events.
Amounts are decimals (strings in JSON), never floats.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal, get_args

from pydantic import Field, TypeAdapter

from labcheck.caselog.stamps import Micros, Mode, Moment, Stamp
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
    """A measured value or a coded finding. ``outside`` marks a value accepted although outside the soft range."""

    kind: Literal["reading.taken"] = "reading.taken"
    reading: Name
    value: Number | None = None
    unit: Short | None = None
    choice: Name | None = None
    cusp: Cusp | None = None
    ostium: Ostium | None = None
    judged_by: Name | None = None
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


class PromptSilenced(Strict):
    """A reminder is silenced for the rest of the case."""

    kind: Literal["prompt.silenced"] = "prompt.silenced"
    prompt: Name


class HandoverMade(Strict):
    """The recorder changes. ``open_items`` are the lines read back."""

    kind: Literal["handover.made"] = "handover.made"
    outgoing: Recorder
    incoming: Recorder
    open_items: tuple[Short, ...] = ()


class ClockCompared(Strict):
    """The imaging (or another) clock was read against this console.

    ``reading_us``: what it showed, as UTC microseconds. ``offset_us`` = reading - console.
    ``uncertainty_us`` = half the display's resolution plus an allowance for the hand. Stored times never shift.
    """

    kind: Literal["clock.compared"] = "clock.compared"
    clock: Name
    reading_us: Micros
    resolution_us: Micros
    offset_us: int
    uncertainty_us: Micros


class ClockNoticed(Strict):
    """The program noticed something about its own clocks or its own absence. ``amount_us`` may be negative."""

    kind: Literal["clock.noticed"] = "clock.noticed"
    notice: Literal["resumed", "step", "drift", "suspend", "reboot", "stalled"]
    amount_us: int
    basis: Literal["boot", "wall"]


class PressBounced(Strict):
    """A second press of the next-call key came too fast to be meant. It did nothing."""

    kind: Literal["press.bounced"] = "press.bounced"
    after: Seq
    gap_us: Micros


class SignoutSettled(Strict):
    """An open item of the sign-out list was settled by a reason instead of by doing it."""

    kind: Literal["signout.settled"] = "signout.settled"
    item: Name
    text: Short
    reason: Short


class EventVoided(Strict):
    """The named event no longer counts. A void of a void or of an amendment restores."""

    kind: Literal["event.voided"] = "event.voided"
    target: Seq
    reason: Short
    undo: bool = False


class EventAmended(Strict):
    """One field of the named event is replaced. ``value`` is text in the field's own form; null clears it.

    The field ``happened`` takes UTC microseconds.
    """

    kind: Literal["event.amended"] = "event.amended"
    target: Seq
    field: Name
    value: Note | None
    before: Note | None
    reason: Short


class LeaseTaken(Strict):
    """Another console took the case over; ``epoch`` in the envelope fences the old one."""

    kind: Literal["lease.taken"] = "lease.taken"
    console: Short
    reason: Short


class CaseSealed(Strict):
    """The closing event: it fixes the head. ``entries`` counts the events before it."""

    kind: Literal["case.sealed"] = "case.sealed"
    entries: Annotated[int, Field(ge=1)]
    signed_by: Recorder


class SealAttested(Strict):
    """The head as written on paper was read back against the ledger."""

    kind: Literal["seal.attested"] = "seal.attested"
    head: Short
    note: Short | None = None


Fact = Annotated[
    StepAnswered | AttemptClosed | ReadingTaken | DoseGiven | DeviceUsed | FaultNoted | NoteWritten,
    Field(discriminator="kind"),
]
"""What may still be added after the seal."""


class AddendumAdded(Strict):
    """A fact that became known after the seal. The seal of the original still verifies."""

    kind: Literal["addendum.added"] = "addendum.added"
    fact: Fact
    reason: Short


Payload = Annotated[
    CaseOpened
    | StageOpened
    | StageClosed
    | StageSkipped
    | HoldPassed
    | StepAnswered
    | DecisionMade
    | AttemptOpened
    | AttemptClosed
    | EnergyStarted
    | EnergyStopped
    | RunStarted
    | RunStopped
    | SampleSent
    | ReadingTaken
    | DoseGiven
    | DeviceUsed
    | FaultNoted
    | NoteWritten
    | MarkSet
    | BailoutOpened
    | BailoutClosed
    | CuspAbandoned
    | OrderChanged
    | PromptSilenced
    | HandoverMade
    | ClockCompared
    | ClockNoticed
    | PressBounced
    | SignoutSettled
    | EventVoided
    | EventAmended
    | LeaseTaken
    | CaseSealed
    | SealAttested
    | AddendumAdded,
    Field(discriminator="kind"),
]

KINDS: tuple[str, ...] = tuple(
    member.model_fields["kind"].default for member in get_args(get_args(Payload)[0])
)
"""Every kind of event, spelt as in files, screens and exports."""

AFTER_SEAL = ("event.amended", "event.voided", "addendum.added", "seal.attested", "lease.taken")
"""The only kinds that may follow ``case.sealed``."""

REFERENCES = ("opened", "attempt", "burst", "run", "sample", "after")
"""Payload fields that name another event by seq (``run`` only where it is a number)."""


class Event(Strict):
    """One entry of the log.

    ``press``: the key press (or script entry) it came from; events of one press share it.
    ``id``: unique over the ledger, made from the press, so that a resend cannot double it.
    ``epoch``: which console holds the case. ``precision_s``: how finely the happened time is known.
    ``from_mark``: the mark whose time it took. ``seq`` gives the order, never time.
    """

    v: Literal[1] = 1
    case: Annotated[str, Field(pattern=r"^[A-Z0-9]{4}-[A-Z0-9]{2}$")]
    seq: Seq
    id: Annotated[str, Field(pattern=r"^[0-9a-f]{32}-[0-9]{2,3}$")]
    press: Annotated[str, Field(pattern=r"^[0-9a-f]{32}$")]
    epoch: Annotated[int, Field(ge=1, le=2**31)]
    happened: Moment
    entered: Stamp
    mode: Mode
    precision_s: Annotated[int, Field(ge=0, le=86400)] = 0
    late_reason: Short | None = None
    from_mark: Seq | None = None
    recorder: Recorder
    what: Payload

    @property
    def kind(self) -> str:
        """The payload's kind."""
        return self.what.kind

    @property
    def target(self) -> int | None:
        """The event a correction names, else None."""
        return self.what.target if isinstance(self.what, EventVoided | EventAmended) else None

    @property
    def lag_us(self) -> int:
        """Entered minus happened, wall clock, microseconds."""
        return self.entered.wall_us - self.happened.wall_us

    def named(self) -> tuple[int, ...]:
        """The seqs this event leans on (not a correction's target)."""
        found = [getattr(self.what, field, None) for field in REFERENCES]
        return tuple(n for n in (*found, self.from_mark) if isinstance(n, int))


EVENT: TypeAdapter[Event] = TypeAdapter(Event)
PAYLOAD: TypeAdapter[Any] = TypeAdapter(Payload)


def to_body(event: Event) -> dict[str, Any]:
    """The event as plain JSON values: strings, whole numbers, booleans, null; no floats."""
    return EVENT.dump_python(event, mode="json")  # type: ignore[no-any-return]


def from_json(text: str | bytes) -> Event:
    """Read one event back. Raises ``pydantic.ValidationError`` when it is not one."""
    return EVENT.validate_json(text)
