"""A value outside its usual range: asked once, taken and flagged at the second Enter, never blocked."""

from __future__ import annotations

import time

from labcheck.caselog.case import Case
from labcheck.caselog.intents import AnswerStep, GiveDose, Intent, TakeReading
from labcheck.caselog.levels import source_line
from labcheck.checklist import finding
from labcheck.checklist.model import Drug, Reading, Step
from labcheck.console.panels.again import as_first_pressed
from labcheck.console.panels.panel import Desk, Panel, Press, say
from labcheck.console.session import Refusal
from labcheck.console.zones.rows import Piece, Rows

SETTLE_S = 0.4
"""A second Enter faster than this is the same key bouncing, not an answer."""


def _source(case: Case, intent: Intent) -> str:
    """Where the range that the value is outside of comes from."""
    checklist = case.checklist
    found: Reading | Drug | Step | None = None
    if isinstance(intent, TakeReading):
        found = finding.reading(checklist, intent.reading)
    elif isinstance(intent, GiveDose):
        found = finding.drug(checklist, intent.drug)
    elif isinstance(intent, AnswerStep):
        found = finding.step(checklist, intent.stage or (case.visit.stage if case.visit else ""), intent.step)
    return source_line(case, found.source if found is not None else None)


class Accept(Panel):
    """Enter takes the value as it is, Left goes back to change it."""

    id = "accept"
    hints = (("Enter", "it is right"), ("Left", "change"))

    def __init__(self, desk: Desk, refusal: Refusal, back: Panel | None) -> None:
        super().__init__(desk, "IS THAT RIGHT?")
        self.refusal = refusal
        self.back = back
        self.opened_at = time.monotonic()

    def body(self, rows: Rows) -> None:
        say(rows, self.refusal.why.reason)
        say(rows, f"the usual range: {_source(self.desk.case, self.refusal.intent)}")
        rows.add(Piece(" Enter ", "held"), Piece("  again: it is right, and recorded as outside the usual range"))
        if self.back is not None:
            rows.add(Piece(" Left  ", "held"), Piece("  change it"))

    def key(self, press: Press) -> bool:
        if press.key == "enter":
            if press.at - self.opened_at >= SETTLE_S:
                update = {"accept": True, "press": self.desk.press_id()}
                self.desk.turn(None)
                again = as_first_pressed(self.refusal.intent, self.refusal.stamp, press.stamp)
                self.desk.send(again.model_copy(update=update), press.stamp)
            else:
                self.desk.tell("Enter came too soon to be an answer and was not taken: press it again")
            return True
        if press.key in ("left", "backspace") and self.back is not None:
            self.desk.turn(self.back)
            return True
        return False
