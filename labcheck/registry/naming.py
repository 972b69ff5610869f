"""What things are called in files for people: the checklist's words inside the hospital, its ids outside."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from labcheck.checklist import finding
from labcheck.checklist.model import Checklist
from labcheck.registry.columns import Profile

_FINDERS: Mapping[str, Callable[[Checklist, str], Any]] = {
    "stage": finding.holder,
    "reading": finding.reading,
    "drug": finding.drug,
    "device": finding.device,
    "fault": finding.fault,
    "bailout": finding.bailout,
    "run": finding.run,
    "decision": finding.decision,
    "interval": finding.interval,
    "reason": finding.reason,
}


def words(checklist: Checklist, profile: Profile, kind: str, name: str) -> str:
    """The title of something in the checklist, or its id where titles may not leave or there is none."""
    if profile != "hospital":
        return name
    found = _FINDERS[kind](checklist, name)
    for field in ("title", "text", "ask"):
        text = getattr(found, field, None)
        if isinstance(text, str):
            return text
    return name


def step_words(checklist: Checklist, profile: Profile, stage: str, step: str) -> str:
    """What a step says, or its id."""
    found = finding.step(checklist, stage, step) if profile == "hospital" else None
    return found.say if found is not None else f"{stage}.{step}"


def option_words(checklist: Checklist, profile: Profile, kind: str, name: str, option: str) -> str:
    """An option of a reading, decision or bailout in words, or its id."""
    if profile != "hospital":
        return option
    found = _FINDERS[kind](checklist, name)
    options = getattr(found, "options", ()) or getattr(found, "outcomes", ())
    named = finding.option((*options, *getattr(found, "judged_by", ())), option)
    return named.text if named is not None else option


def answer_option(
    checklist: Checklist, profile: Profile, stage: str, step: str, option: str
) -> tuple[str, str]:
    """The local code and the words of the option that answers a step.

    A step that makes a decision, records a coded reading or names a device takes its options from there, so the
    code is that one's: ``choice.flow.normal``, ``device.guide_left``. Others have their own: ``option.STAGE.STEP.ID``.
    """
    found = finding.step(checklist, stage, step)
    if found is not None and found.decision is not None:
        words_ = option_words(checklist, profile, "decision", found.decision, option)
        return f"choice.{found.decision}.{option}", words_
    if found is not None and found.reading is not None:
        words_ = option_words(checklist, profile, "reading", found.reading, option)
        return f"choice.{found.reading}.{option}", words_
    if found is not None and found.kind == "device":
        return f"device.{option}", words(checklist, profile, "device", option)
    named = finding.option(found.options, option) if found is not None and profile == "hospital" else None
    return f"option.{stage}.{step}.{option}", named.text if named is not None else option


def hold_words(checklist: Checklist, profile: Profile, stage: str, hold: str) -> str:
    """What a hold point demands, or its id."""
    found = finding.stage(checklist, stage) if profile == "hospital" else None
    named = finding.by_id(found.hold, hold) if found is not None else None
    return named.text if named is not None else hold


def outcome_words(checklist: Checklist, profile: Profile, stage: str, outcome: str) -> str:
    """The outcome of an attempt in words, or its id."""
    found = finding.stage(checklist, stage) if profile == "hospital" else None
    named = finding.option(found.attempts.outcomes, outcome) if found and found.attempts else None
    return named.text if named is not None else outcome
