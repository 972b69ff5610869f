"""What somebody wants to record: one model per intent, before the log has decided what it becomes.

Keys, rehearsals, transcription and tests all speak in intents. ``do`` names the kind and is what a script
file writes. ``claim`` says that it did not happen just now.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal, get_args

from pydantic import ConfigDict, Field, TypeAdapter

from labcheck.caselog.events import ClockNoticed, Fact, Name, Note, Recorder, Seq, Short
from labcheck.caselog.stamps import Micros
from labcheck.checklist.plan import Plan
from labcheck.checklist.words import Cusp, Number, Ostium, Strict


class Claim(Strict):
    """When it is said to have happened, if not at the press: exactly one of the first three.

    ``ago_us``: so long before the press. ``wall_us``: at this UTC time. ``mark``: when that mark was set.
    ``off_s`` and ``tz``: the zone of the clock it was read off (a paper record, a typed time), where it is known.
    ``held``: the key was pressed then, and the console asked for a reason or for a second Enter before it could
    be recorded. That is no late entry, but its time of entering is that of the second key.
    """

    ago_us: Micros | None = None
    wall_us: Micros | None = None
    mark: Seq | None = None
    precision_s: Annotated[int, Field(ge=0, le=86400)] = 60
    reason: Short | None = None
    transcribed: bool = False
    held: bool = False
    off_s: Annotated[int, Field(ge=-64800, le=64800)] | None = None
    tz: Annotated[str, Field(max_length=64)] | None = None


class Intent(Strict):
    """Base: ``press`` is the 32 hex digits made when the key went down; the events' ids come from it."""

    press: Annotated[str, Field(pattern=r"^[0-9a-f]{32}$")]
    claim: Claim | None = None


class OpenCase(Intent):
    do: Literal["case.open"] = "case.open"
    plan: Plan
    checklist_digest: Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
    rehearsal: bool = False
    recorder: Recorder = "N1"


class OpenStage(Intent):
    """The next call. Without ``stage`` it is the expected one. ``reason`` passes holds and skipped stages."""

    do: Literal["stage.open"] = "stage.open"
    stage: Name | None = None
    cusp: Cusp | None = None
    reason: Short | None = None


class CloseStage(Intent):
    """The present stage ends and none opens (between cases of waiting, or at the end)."""

    do: Literal["stage.close"] = "stage.close"


class SkipStage(Intent):
    do: Literal["stage.skip"] = "stage.skip"
    stage: Name
    cusp: Cusp | None = None
    reason: Short


class AnswerStep(Intent):
    """``stage`` and ``cusp`` default to the open visit. A bailout's step has ``stage`` = ``bailout:id``.

    ``rescue``: the seq of the rescue whose step it is. Without it the last one of that kind is meant, of ``cusp`` and
    ``ostium`` where they are said: one that ran at the claimed time, else one that is running, else one that has ended.
    """

    do: Literal["step.answer"] = "step.answer"
    step: Name
    stage: Name | None = None
    cusp: Cusp | None = None
    rescue: Seq | None = None
    ostium: Ostium | None = None
    answer: Literal["done", "not_done", "not_applicable", "value"] = "done"
    value: Short | None = None
    unit: Short | None = None
    accept: bool = False
    reason: Short | None = None


class MakeDecision(Intent):
    do: Literal["decision.make"] = "decision.make"
    decision: Name
    choice: Name
    reason: Short | None = None


class OpenAttempt(Intent):
    do: Literal["attempt.open"] = "attempt.open"


class CloseAttempt(Intent):
    """Without one that waits for its result it records one that was not pressed when it began (a late attempt).

    ``attempt``: the seq of the very one that is meant; if it has its result by then, nothing is recorded.
    """

    do: Literal["attempt.close"] = "attempt.close"
    outcome: Name
    attempt: Seq | None = None
    stage: Name | None = None
    cusp: Cusp | None = None
    reason: Short | None = None


class EnergyOn(Intent):
    """Opens an attempt if none is open."""

    do: Literal["energy.on"] = "energy.on"
    mode: Short | None = None
    watts: Annotated[int, Field(ge=0, le=1000)] | None = None


class EnergyOff(Intent):
    do: Literal["energy.off"] = "energy.off"


class StartRun(Intent):
    do: Literal["run.start"] = "run.start"
    run: Name
    rate: Number | None = None


class StopRun(Intent):
    do: Literal["run.stop"] = "run.stop"
    run: Name


class SendSample(Intent):
    do: Literal["sample.send"] = "sample.send"
    reading: Name


class TakeReading(Intent):
    """``accept`` is the second Enter: a value outside the soft range is taken and flagged.

    ``step``: the step of the open stage or rescue that this answers anew, though it has an answer already;
    ``rescue``: the seq of the rescue whose step that is, which alone is then answered anew.
    """

    do: Literal["reading.take"] = "reading.take"
    reading: Name
    value: Number | None = None
    unit: Short | None = None
    choice: Name | None = None
    cusp: Cusp | None = None
    ostium: Ostium | None = None
    judged_by: Name | None = None
    judge: Name | None = None
    reset: bool = False
    accept: bool = False
    note: Short | None = None
    step: Name | None = None
    rescue: Seq | None = None


class GiveDose(Intent):
    do: Literal["dose.give"] = "dose.give"
    drug: Name
    amount: Number | None = None
    unit: Short | None = None
    accept: bool = False
    note: Short | None = None


class UseDevice(Intent):
    do: Literal["device.use"] = "device.use"
    device: Name
    action: Literal["opened", "placed", "changed", "removed", "failed"]
    note: Short | None = None


class NoteFault(Intent):
    do: Literal["fault.note"] = "fault.note"
    fault: Name
    note: Short | None = None


class WriteNote(Intent):
    do: Literal["note.write"] = "note.write"
    text: Note


class SetMark(Intent):
    do: Literal["mark.set"] = "mark.set"


class OpenBailout(Intent):
    do: Literal["bailout.open"] = "bailout.open"
    bailout: Name
    cusp: Cusp | None = None
    ostium: Ostium | None = None


class CloseBailout(Intent):
    """Ends the rescue whose seq is ``rescue``; else the one opened last of those running that are ``bailout``, on
    ``cusp`` and ``ostium``, where these are said.
    """

    do: Literal["bailout.close"] = "bailout.close"
    bailout: Name | None = None
    rescue: Seq | None = None
    cusp: Cusp | None = None
    ostium: Ostium | None = None
    outcome: Name
    lead: Literal["carry_on", "abandon_cusp", "jump", "convert"] = "carry_on"
    note: Short | None = None


class AbandonCusp(Intent):
    do: Literal["cusp.abandon"] = "cusp.abandon"
    cusp: Cusp
    reason: Short


class ChangeOrder(Intent):
    do: Literal["order.change"] = "order.change"
    targets: tuple[Cusp, ...]
    reason: Short | None = None


class MoveCusp(Intent):
    """Wrong cusp: the named press (or the last one that has a cusp) is voided and written anew on ``cusp``."""

    do: Literal["cusp.move"] = "cusp.move"
    cusp: Cusp
    target: Seq | None = None


class SilencePrompt(Intent):
    do: Literal["prompt.silence"] = "prompt.silence"
    prompt: Name


class HandOver(Intent):
    do: Literal["handover.make"] = "handover.make"
    incoming: Recorder


class CompareClock(Intent):
    """``reading_us``: the other clock's display as UTC microseconds; ``resolution_us``: its last digit."""

    do: Literal["clock.compare"] = "clock.compare"
    clock: Name = "imaging"
    reading_us: Micros
    resolution_us: Micros = 1_000_000


class NoticeClock(Intent):
    """Made by the program itself, never by a key."""

    do: Literal["clock.notice"] = "clock.notice"
    found: ClockNoticed


class Undo(Intent):
    """Voids every event of the last press that still counts."""

    do: Literal["undo"] = "undo"


class VoidEvent(Intent):
    do: Literal["event.void"] = "event.void"
    target: Seq
    reason: Short


class AmendEvent(Intent):
    """``accept`` is the second Enter: a reading or dose amended to a value outside its soft range is flagged."""

    do: Literal["event.amend"] = "event.amend"
    target: Seq
    field: Name
    value: Note | None
    reason: Short
    accept: bool = False


class SettleSignout(Intent):
    do: Literal["signout.settle"] = "signout.settle"
    item: Name
    reason: Short


class SealCase(Intent):
    do: Literal["case.seal"] = "case.seal"


class AttestSeal(Intent):
    do: Literal["seal.attest"] = "seal.attest"
    head: Short
    note: Short | None = None


class AddFact(Intent):
    """After the seal only. ``claim`` is required: it cannot be happening now. ``accept``: as for the fact itself."""

    do: Literal["addendum.add"] = "addendum.add"
    fact: Fact
    reason: Short
    accept: bool = False


class TakeLease(Intent):
    """``epoch``: the new one, exactly one above the ledger's."""

    do: Literal["lease.take"] = "lease.take"
    console: Short
    reason: Short


AnyIntent = Annotated[
    OpenCase
    | OpenStage
    | CloseStage
    | SkipStage
    | AnswerStep
    | MakeDecision
    | OpenAttempt
    | CloseAttempt
    | EnergyOn
    | EnergyOff
    | StartRun
    | StopRun
    | SendSample
    | TakeReading
    | GiveDose
    | UseDevice
    | NoteFault
    | WriteNote
    | SetMark
    | OpenBailout
    | CloseBailout
    | AbandonCusp
    | ChangeOrder
    | MoveCusp
    | SilencePrompt
    | HandOver
    | CompareClock
    | NoticeClock
    | Undo
    | VoidEvent
    | AmendEvent
    | SettleSignout
    | SealCase
    | AttestSeal
    | AddFact
    | TakeLease,
    Field(discriminator="do"),
]
INTENT: TypeAdapter[Any] = TypeAdapter(AnyIntent, config=ConfigDict(defer_build=True))
INTENT_MODELS: dict[str, type[Intent]] = {
    member.model_fields["do"].default: member for member in get_args(get_args(AnyIntent)[0])
}
