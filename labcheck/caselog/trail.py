"""The trail: what events say about the log itself, its recorder, its clocks, its corrections and its seal."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from labcheck.caselog.course import Name, Note, Recorder, Seq, Short
from labcheck.caselog.stamps import Micros
from labcheck.checklist.words import Strict


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
