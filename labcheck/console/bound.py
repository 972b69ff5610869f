"""Presses that mean what was on the screen: if that has come to pass by their turn, they are not recorded again."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from labcheck.caselog.case import Case
from labcheck.caselog.deciding import Decided, decide
from labcheck.caselog.intents import Intent, OpenStage
from labcheck.caselog.progress import call_words, next_slot
from labcheck.caselog.stamps import Stamp
from labcheck.caselog.steps import StepLine, bailout_lines, step_lines
from labcheck.checklist.unfolding import Slot
from labcheck.console.keys import by_id

if TYPE_CHECKING:
    from labcheck.console.case_screen import CaseScreen


def called(case: Case) -> Slot | None:
    """What the call key would open or, at the end, close; None where no call is expected."""
    if case.seal is not None:
        return None
    return next_slot(case) or (case.visit.slot if case.visit is not None else None)


def only_as_shown(shown: Slot | None, intent: OpenStage, stamp: Stamp) -> Callable[[Case], str]:
    """Why the call is not to be recorded when it is its turn: another one is expected by then."""

    def unless(case: Case) -> str:
        if called(case) == shown:
            return ""
        outcome = decide(case, intent, stamp)
        if isinstance(outcome, Decided) and all(event.kind == "press.bounced" for event in outcome.events):
            return ""  # the log says that the key came twice
        words = f'pressed for "{call_words(case, shown)}"' if shown is not None else "no call was expected then"
        return f"{by_id('call').shown} NOT TAKEN: {words}, now another call is expected"

    return unless


class Once:
    """The desk for one answer: it is recorded only if the step still waits for it when it is its turn."""

    def __init__(self, screen: CaseScreen, line: StepLine) -> None:
        self._screen = screen
        self._line = line
        self._slot = screen.case.visit.slot if screen.case.visit is not None else None

    def __getattr__(self, name: str) -> Any:
        return getattr(self._screen, name)

    def send(self, intent: Intent, stamp: Stamp) -> None:
        self._screen.ask(lambda _case: intent, stamp, self._answered)

    def _answered(self, case: Case) -> str:
        line, found = self._line, list[StepLine]()
        if line.rescue is not None:
            found += bailout_lines(case, line.rescue)
        elif self._slot is not None:
            found += step_lines(case, self._slot)
        same = [one for one in found if (one.step.id, one.cusp, one.ostium) == (line.step.id, line.cusp, line.ostium)]
        if not any(one.seq != line.seq and one.state in ("done", "value") for one in same):
            return ""
        return f'{by_id("step_done").shown} NOT TAKEN: "{line.step.say}" was answered by the press before it'
