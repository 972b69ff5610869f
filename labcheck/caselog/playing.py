"""Playing a script: its intents in time, the stamps a console would have made, and the case it comes to."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator

from labcheck.caselog.case import Case
from labcheck.caselog.deciding import NEVER_LATE, Refused, decide
from labcheck.caselog.folding import begin, fold
from labcheck.caselog.intents import Claim, Intent, OpenCase
from labcheck.caselog.script import Script
from labcheck.caselog.stamps import Stamp
from labcheck.checklist.complaint import Complaint
from labcheck.checklist.model import Checklist

BOOT_US = 600_000_000
"""Where the pretended boot clock stands when the case is opened: ten minutes after start-up."""


def press_id(case_key: str, number: int) -> str:
    """The press of the ``number``-th entry (0 opens the case): the same script gives the same ids."""
    return hashlib.sha256(f"{case_key}/{number}".encode()).hexdigest()[:32]


def intents(script: Script, case_key: str, checklist_digest: str) -> Iterator[tuple[int, Intent]]:
    """Every intent with its time in microseconds since the case was opened; the first one opens the case.

    ``checklist_digest``: SHA-256 of the exact text of the checklist, hex.
    """
    head = script.head
    yield 0, OpenCase(
        press=press_id(case_key, 0),
        plan=head.plan,
        checklist_digest=checklist_digest,
        rehearsal=head.rehearsal,
        recorder=head.recorder,
    )
    for entry in script.entries:
        press = press_id(case_key, entry.number)
        yield entry.at_us - script.start_us, entry.intent.model_copy(update={"press": press})


def transcribed(script: Script, case_key: str, checklist_digest: str) -> Iterator[Intent]:
    """Every intent as it is copied from paper: it happened at the script's wall time, on no clock of ours.

    Corrections claim no time: they are made now.
    """
    for number, (offset_us, intent) in enumerate(intents(script, case_key, checklist_digest)):
        if getattr(intent, "do", "") in NEVER_LATE:
            yield intent
            continue
        said = intent.claim
        coarse = number == 0 or script.entries[number - 1].whole_minutes
        claim = Claim(
            wall_us=_paper_time(script.start_us + offset_us, said),
            precision_s=said.precision_s if said else 60 if coarse else 1,
            reason=said.reason if said else None,
            transcribed=True,
            off_s=script.off_s,
            tz=script.head.tz,
        )
        yield intent.model_copy(update={"claim": claim})


def _paper_time(at_us: int, said: Claim | None) -> int:
    if said is None:
        return at_us
    return said.wall_us if said.wall_us is not None else at_us - (said.ago_us or 0)


def stamp_at(script: Script, offset_us: int) -> Stamp:
    """The stamp a console would have taken so long after the case was opened."""
    return Stamp(
        wall_us=script.start_us + offset_us,
        off_s=script.off_s,
        tz=script.head.tz,
        boot_us=BOOT_US + offset_us,
        mono_us=BOOT_US + offset_us,
        boot_id=f"script {script.head.date}",
    )


def entry_name(script: Script, number: int) -> str:
    """How a complaint calls the ``number``-th intent of ``intents``."""
    return script.entries[number - 1].name if number else "the opening of the case"


def play(script: Script, checklist: Checklist, case_key: str, checklist_digest: str) -> Case | Complaint:
    """The case that the script comes to as if it had been driven live, or what was refused first."""
    case = begin(case_key, checklist)
    for number, (offset_us, intent) in enumerate(intents(script, case_key, checklist_digest)):
        outcome = decide(case, intent, stamp_at(script, offset_us))
        if isinstance(outcome, Refused):
            return refusal(script, number, outcome)
        for event in outcome.events:
            case = fold(case, event)
    return case


def refusal(script: Script, number: int, refused: Refused) -> Complaint:
    """The refusal of the ``number``-th intent as a complaint about its entry."""
    unmet = "; not yet true: " + "; ".join(u.text for u in refused.unmet) if refused.unmet else ""
    return Complaint(script.name, (entry_name(script, number),), f"was refused: {refused.reason}{unmet}")
