"""What happened: every kind of event, and the envelope they all travel in.

Events name each other by ``seq``. An event is never changed or removed; corrections are new events. The payloads
are in ``labcheck.caselog.course`` and ``labcheck.caselog.trail``; everybody imports them from here.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal, get_args

from pydantic import ConfigDict, Field, TypeAdapter

from labcheck.caselog.course import (
    AttemptClosed,
    AttemptOpened,
    BailoutClosed,
    BailoutOpened,
    CaseOpened,
    CuspAbandoned,
    DecisionMade,
    DeviceUsed,
    DoseGiven,
    EnergyStarted,
    EnergyStopped,
    FaultNoted,
    HoldPassed,
    MarkSet,
    Name,
    Note,
    NoteWritten,
    OrderChanged,
    ReadingTaken,
    Recorder,
    RunStarted,
    RunStopped,
    SampleSent,
    Seq,
    Short,
    StageClosed,
    StageOpened,
    StageSkipped,
    StepAnswered,
)
from labcheck.caselog.stamps import Mode, Moment, Stamp
from labcheck.caselog.trail import (
    CaseSealed,
    ClockCompared,
    ClockNoticed,
    EventAmended,
    EventVoided,
    HandoverMade,
    LeaseTaken,
    PressBounced,
    PromptSilenced,
    SealAttested,
    SignoutSettled,
)
from labcheck.checklist.words import Strict

__all__ = [
    "AFTER_SEAL",
    "KINDS",
    "PAYLOAD",
    "REFERENCES",
    "AddendumAdded",
    "AttemptClosed",
    "AttemptOpened",
    "BailoutClosed",
    "BailoutOpened",
    "CaseOpened",
    "CaseSealed",
    "ClockCompared",
    "ClockNoticed",
    "CuspAbandoned",
    "DecisionMade",
    "DeviceUsed",
    "DoseGiven",
    "EnergyStarted",
    "EnergyStopped",
    "Event",
    "EventAmended",
    "EventVoided",
    "Fact",
    "FaultNoted",
    "HandoverMade",
    "HoldPassed",
    "LeaseTaken",
    "MarkSet",
    "Name",
    "Note",
    "NoteWritten",
    "OrderChanged",
    "Payload",
    "PressBounced",
    "PromptSilenced",
    "ReadingTaken",
    "Recorder",
    "RunStarted",
    "RunStopped",
    "SampleSent",
    "SealAttested",
    "Seq",
    "Short",
    "SignoutSettled",
    "StageClosed",
    "StageOpened",
    "StageSkipped",
    "StepAnswered",
    "from_json",
    "to_body",
]

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


# Built at first use: building them takes longer than the rest of the console's start put together.
_LATER = ConfigDict(defer_build=True)
PAYLOAD: TypeAdapter[Any] = TypeAdapter(Payload, config=_LATER)


def to_body(event: Event) -> dict[str, Any]:
    """The event as plain JSON values: strings, whole numbers, booleans, null; no floats."""
    return event.model_dump(mode="json")


def from_json(text: str | bytes) -> Event:
    """Read one event back. Raises ``pydantic.ValidationError`` when it is not one."""
    return Event.model_validate_json(text)
