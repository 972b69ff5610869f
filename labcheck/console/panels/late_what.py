"""What a late entry is about, once its time is chosen."""

from __future__ import annotations

from collections.abc import Callable

from labcheck.caselog.intents import (
    INTENT_MODELS,
    AnswerStep,
    CloseAttempt,
    EnergyOff,
    EnergyOn,
    Intent,
    OpenStage,
    StartRun,
    StopRun,
)
from labcheck.caselog.progress import call_words, next_slot
from labcheck.caselog.prompts import Suggestion, likely_missing
from labcheck.checklist import finding
from labcheck.console.panels import addendum, reading
from labcheck.console.panels.late_desk import SEALED, LateDesk, beneath
from labcheck.console.panels.panel import Press, record
from labcheck.console.panels.pick import Item, Pick

RUNS = {"f7": ("pacing",), "f8": ("compressions", "cpr")}
"""Which of the checklist's runs a key switches, the first that it has: as the same keys do live."""


class What(Pick):
    """What it was: a digit for what is likely, Enter for the expected call, a letter for everything else."""

    def __init__(self, late: LateDesk) -> None:
        items = [Item(words, do) for words, do in _likely(late)][:10]
        super().__init__(late, f"LATE ENTRY  {late.when.words}: what", items, panel_id="late")
        self.late = late
        self.slot = next_slot(late.case)
        self._say()

    def _say(self) -> None:
        why = f"why late: {self.late.reason or 'not said'} (Tab changes)"
        if self.late.case.seal is not None:
            self.lead = ("the case is sealed: R reading, D drug, V device, X fault, N note", why)
            return
        call = "Enter closes the open stage"
        if self.slot is not None:
            call = f'Enter the expected call "{call_words(self.late.case, self.slot)}"'
        self.lead = (
            f"{call}; or a digit",
            "LATE: A result, Space energy, R reading, D drug, V device, X fault, B bailout, N note, Y decision, "
            "P on/off, F7 pacing, F8 compressions, S stages",
            f"NOW: F2 mark, F4 bailout    {why}",
        )

    def key(self, press: Press) -> bool:
        if press.key == "tab":
            self._next_reason()
        elif press.key == "enter" and self.at is None:
            self._call(press)
        elif press.key in ("space", "f6"):
            self._record(press, EnergyOff if self.late.case.burst else EnergyOn)
        elif press.key in RUNS:
            self._switch(press)
        else:
            return super().key(press) or beneath(self.late, press, typing=False)
        return True

    def _next_reason(self) -> None:
        reasons = [None, *(r.text for r in finding.reasons_for(self.late.case.checklist, "late"))]
        now = reasons.index(self.late.reason) if self.late.reason in reasons else 0
        self.late.reason = reasons[(now + 1) % len(reasons)]
        self._say()

    def _call(self, press: Press) -> None:
        """The call that stands on the panel, or none: an undo in between may have made another one the next."""
        slot = next_slot(self.late.case)
        if slot != self.slot:
            self.slot = slot
            self._say()
            self.late.tell("NOT TAKEN: another call is expected now; read it, and press Enter again")
        elif slot is None:
            self._record(press, OpenStage)
        else:
            self._record(press, OpenStage, stage=slot.stage, cusp=slot.cusp)

    def _switch(self, press: Press) -> None:
        case = self.late.case
        run = next((name for name in RUNS[press.key] if finding.run(case.checklist, name) is not None), None)
        if run is None:
            self.late.tell(f"this checklist has no {RUNS[press.key][0]}; P lists what can be switched on and off")
            return
        on = any(spell.run == run and spell.end is None for spell in case.spells)
        self._record(press, StopRun if on else StartRun, run=run)

    def _record(self, press: Press, model: Callable[..., Intent], **fields: object) -> None:
        if self.late.case.seal is not None:
            self.late.tell(SEALED)
            return
        self.late.tell(f"LATE, {self.late.when.words}")
        record(self.late, press, model, **fields)


def _likely(late: LateDesk) -> list[tuple[str, Callable[[Press], None]]]:
    case = late.case
    missing = [s for s in likely_missing(case, late.now()) if case.seal is None or s.do in addendum.FACTS]
    found = [(s.words, _suggested(late, s)) for s in missing]
    visit = case.visit
    stage = finding.stage(case.checklist, visit.stage) if visit else None
    if stage is not None and stage.attempts is not None and case.attempt is None and case.seal is None:
        found += [(f"attempt: {o.text}", _outcome(late, o.id)) for o in stage.attempts.outcomes]
    return found


def _outcome(late: LateDesk, outcome: str) -> Callable[[Press], None]:
    return lambda press: record(late, press, CloseAttempt, outcome=outcome)


def _suggested(late: LateDesk, suggestion: Suggestion) -> Callable[[Press], None]:
    def chosen(press: Press) -> None:
        fields = dict(suggestion.fields)
        if suggestion.do == "reading.take":
            late.turn(reading.start(late, fields["reading"]))
            return
        model = INTENT_MODELS[suggestion.do]
        if model is AnswerStep:
            record(late, press, AnswerStep, answer="done", **fields)
        else:
            record(late, press, model, **fields)

    return chosen
