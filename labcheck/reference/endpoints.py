"""VARC-3 endpoints, as far as a procedure log can know them when the patient leaves the room.

What the log cannot know is `pending`, never "no". A planned protective stent is part of the plan and does not
break technical success; an unplanned one does (own reading of the criteria, and stated in the result).
"""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from types import MappingProxyType

from labcheck.reference.figures import Range, Reason
from labcheck.reference.sources import Mark, Source

VERSION = "VARC-3"
TECHNICAL_SUCCESS = Source(
    "VARC-3, Généreux 2021, as summarised for Tomii, JACC Cardiovasc Interv 2022", Mark.SECONDARY
)
VARC3 = Source("VARC-3, Généreux 2021", Mark.FROM_MEMORY)
PLANNED_STENT = Source("planned protective stent is not a failure: own reading of VARC-3", Mark.DERIVED)


class Answer(StrEnum):
    """Yes, no, or not to be known from the log yet."""

    YES = "yes"
    NO = "no"
    PENDING = "pending"


@dataclass(frozen=True, slots=True)
class Verdict:
    """An endpoint's answer, the criteria that decided it, and the source."""

    answer: Answer
    because: tuple[str, ...]
    source: Source


@dataclass(frozen=True, slots=True)
class Intervention:
    """Surgery or an intervention for the device, the access or the heart's structure; `planned` when it was
    part of the plan before the case began, such as a protective stent."""

    what: str
    planned: bool


@dataclass(frozen=True, slots=True)
class RoomExit:
    """What the log says at exit from the procedure room; None where it says nothing, an empty tuple for
    none."""

    alive: bool | None = None
    access_delivery_retrieval: bool | None = None
    valves_implanted: int | None = None
    correct_position: bool | None = None
    interventions: tuple[Intervention, ...] | None = None


def technical_success(at_exit: RoomExit) -> Verdict:
    """VARC-3 technical success. One failed criterion decides "no" even while others are not recorded."""
    valves, done = at_exit.valves_implanted, at_exit.interventions
    criteria: tuple[tuple[str, bool | None], ...] = (
        ("alive at exit from the room", at_exit.alive),
        ("access, delivery and retrieval successful", at_exit.access_delivery_retrieval),
        ("exactly one valve implanted", None if valves is None else valves == 1),
        ("valve in the correct position", at_exit.correct_position),
        ("no unplanned surgery or intervention", None if done is None else all(one.planned for one in done)),
    )
    failed = tuple(f"not met: {text}" for text, met in criteria if met is False)
    unknown = tuple(f"not recorded: {text}" for text, met in criteria if met is None)
    if failed:
        return Verdict(Answer.NO, failed, TECHNICAL_SUCCESS)
    if unknown:
        return Verdict(Answer.PENDING, unknown, TECHNICAL_SUCCESS)
    return Verdict(Answer.YES, tuple(f"met: {text}" for text, _ in criteria), TECHNICAL_SUCCESS)


def death_in_room(alive_at_exit: bool | None) -> Verdict:
    """Death before exit from the procedure room."""
    if alive_at_exit is None:
        return Verdict(Answer.PENDING, ("not recorded: alive at exit from the room",), VARC3)
    if alive_at_exit:
        return Verdict(Answer.NO, ("alive at exit from the room",), VARC3)
    return Verdict(Answer.YES, ("died before exit from the room",), VARC3)


def procedural_death(alive_at_exit: bool | None) -> Verdict:
    """Death within 30 days or in the same stay: certain when it happened in the room, else pending."""
    in_room = death_in_room(alive_at_exit)
    if in_room.answer is Answer.NO:
        return Verdict(Answer.PENDING, ("alive at exit; runs to 30 days or discharge",), VARC3)
    return in_room


PENDING_AT_EXIT: Mapping[str, str] = MappingProxyType(
    {
        "device success": "judged at 30 days with echocardiography",
        "early safety": "judged at 30 days",
        "acute kidney injury": "needs creatinine over 48 h and 7 days",
        "haemoglobin drop": "needs haemoglobin after the procedure",
        "bleeding type": "transfusions and haemoglobin after exit can raise it",
        "neurological disability": "judged at 90 days",
        "permanent pacemaker": "can follow after exit",
    }
)
"""Endpoints that a log exports as `pending`, each with the reason."""


class NeuroWindow(StrEnum):
    """When a neurological event happened, counted from the procedure."""

    ACUTE = "acute"
    SUBACUTE = "subacute"
    EARLY = "early"
    LATE = "late"


EVENT_HOURS = Range("time since the procedure", Decimal(0), Decimal(24 * 366 * 20), "h")


def neuro_window(hours: Decimal | None) -> NeuroWindow | Reason:
    """Acute to 24 h, subacute to 30 d, early to 365 d, late after that; upper ends included."""
    since = EVENT_HOURS.check(hours)
    if isinstance(since, Reason):
        return since
    if since <= 24:
        return NeuroWindow.ACUTE
    if since <= 30 * 24:
        return NeuroWindow.SUBACUTE
    return NeuroWindow.EARLY if since <= 365 * 24 else NeuroWindow.LATE
