"""After the seal nothing happens any more: what became known later is added as a fact, and the seal stays valid."""

from __future__ import annotations

from typing import Any

from labcheck.caselog import events as ev
from labcheck.caselog import intents as it
from labcheck.caselog.case import Case

FACTS: dict[str, type[Any]] = {
    "reading.take": ev.ReadingTaken,
    "dose.give": ev.DoseGiven,
    "device.use": ev.DeviceUsed,
    "fault.note": ev.FaultNoted,
    "note.write": ev.NoteWritten,
    "step.answer": ev.StepAnswered,
}
"""Which entry a late intent becomes inside an addendum."""

NOT_SAID = "not said"
"""The reason of an addendum whose reason nobody gave: it is never made up."""


def after_seal(case: Case, intent: it.Intent) -> it.Intent:
    """The same intent while the case is open; an addendum of its fact once it is sealed."""
    model = FACTS.get(getattr(intent, "do", ""))
    if case.seal is None or model is None or intent.claim is None:
        return intent
    given = intent.model_dump(exclude={"do", "press", "claim"})
    if "rescue" in given:
        given["opened"] = given.pop("rescue")
    fact = model(**{name: value for name, value in given.items() if name in model.model_fields and value is not None})
    reason = intent.claim.reason or NOT_SAID
    return it.AddFact(press=intent.press, claim=intent.claim, fact=fact, reason=reason)
