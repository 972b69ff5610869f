"""Which events still count, and what they say after amendments.

A void takes its target out; a void that is itself voided takes nothing out, so its target is back. An
amendment replaces one field of its target; of several that count, the latest by seq wins.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from pydantic import BaseModel, ValidationError

from labcheck.caselog.events import Event, EventAmended, EventVoided
from labcheck.caselog.stamps import Moment

AMENDABLE: Mapping[str, frozenset[str]] = {
    "step.answered": frozenset({"answer", "value", "unit", "reason"}),
    "decision.made": frozenset({"reason"}),
    "attempt.closed": frozenset({"outcome", "reason"}),
    "energy.started": frozenset({"mode", "watts"}),
    "run.started": frozenset({"rate"}),
    "reading.taken": frozenset({"value", "unit", "choice", "ostium", "judged_by", "judge", "reset", "note"}),
    "dose.given": frozenset({"drug", "amount", "unit", "note"}),
    "device.used": frozenset({"device", "action", "note"}),
    "fault.noted": frozenset({"fault", "note"}),
    "note.written": frozenset({"text"}),
    "bailout.opened": frozenset({"ostium"}),
    "bailout.closed": frozenset({"outcome", "note"}),
    "cusp.abandoned": frozenset({"reason"}),
    "hold.passed": frozenset({"reason"}),
    "stage.skipped": frozenset({"reason"}),
    "clock.compared": frozenset({"clock"}),
}
"""The payload fields that may be amended; every kind here may also have its ``happened`` amended."""

TIMED_ONLY = frozenset(
    {"stage.opened", "stage.closed", "attempt.opened", "energy.stopped", "run.stopped", "sample.sent"}
)
"""Kinds of which only the time may be amended."""


def voids(log: Sequence[Event]) -> dict[int, int]:
    """Target seq -> seq of the void that takes it out, for voids that themselves count."""
    out: dict[int, int] = {}
    for event in reversed(log):
        if isinstance(event.what, EventVoided) and event.seq not in out:
            out.setdefault(event.what.target, event.seq)
    return out


def amendments(log: Sequence[Event], voided: Mapping[int, int]) -> dict[int, tuple[int, ...]]:
    """Target seq -> seqs of the amendments that count, oldest first."""
    out: dict[int, tuple[int, ...]] = {}
    for event in log:
        if isinstance(event.what, EventAmended) and event.seq not in voided:
            target = event.what.target
            out[target] = (*out.get(target, ()), event.seq)
    return out


def may_amend(kind: str, field: str) -> bool:
    """Whether this field of this kind of event may be amended."""
    if field == "happened":
        return kind in AMENDABLE or kind in TIMED_ONLY
    return field in AMENDABLE.get(kind, frozenset())


def in_own_form(model: BaseModel, field: str) -> str | None:
    """The field as the text an amendment would carry."""
    value = model.model_dump(mode="json").get(field)
    if value is None:
        return None
    return str(value).lower() if isinstance(value, bool) else str(value)


def with_field(what: Any, field: str, value: str | None) -> Any | None:
    """The payload with one field replaced by text in the field's own form, or None where that is no valid payload."""
    data = what.model_dump(mode="python", by_alias=True)
    data[field] = value
    try:
        # Lax on purpose: an amendment is text, and text must become the field's own type.
        return type(what).model_validate(data, strict=False)
    except ValidationError:
        return None


def moved(moment: Moment, wall_us: int) -> Moment:
    """The moment set to another wall time. Its boot clock moves along; a moment without one stays without."""
    if moment.boot_us is None:
        return moment.model_copy(update={"wall_us": wall_us})
    boot = moment.boot_us + (wall_us - moment.wall_us)
    if boot < 0:
        return moment.model_copy(update={"wall_us": wall_us, "boot_us": None, "boot_id": None})
    return moment.model_copy(update={"wall_us": wall_us, "boot_us": boot})


def as_amended(event: Event, changes: Sequence[Event]) -> tuple[Any, Moment]:
    """The payload and moment of an event after these amendments, oldest first."""
    what: Any = event.what
    at = event.happened
    for change in changes:
        amended = change.what
        if not isinstance(amended, EventAmended):
            continue
        if amended.field == "happened":
            if amended.value is not None and amended.value.isdecimal():
                at = moved(at, int(amended.value))
            continue
        what = with_field(what, amended.field, amended.value) or what
    return what, at
