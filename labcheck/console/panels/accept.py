"""A value outside its usual range: asked once, taken and flagged at the second Enter, never blocked."""

from __future__ import annotations

import time
from typing import Any

from labcheck.caselog.case import Case
from labcheck.caselog.intents import AddFact, AmendEvent, AnswerStep, Intent, TakeReading
from labcheck.caselog.levels import source_line
from labcheck.caselog.ranges import outside
from labcheck.checklist import finding
from labcheck.checklist.model import Reading, Step
from labcheck.console.panels.again import as_first_pressed, titled
from labcheck.console.panels.panel import Desk, Panel, Press, say
from labcheck.console.session import Refusal
from labcheck.console.zones.rows import Piece, Rows

SETTLE_S = 0.4
"""A second Enter faster than this is the same key bouncing, not an answer."""


def why_asked(case: Case, intent: Intent) -> str:
    """Where the range comes from that the value is outside of; for a doubt, that no range was passed."""
    checklist = case.checklist
    what: Any = intent
    if isinstance(intent, AmendEvent):
        event = case.event(intent.target)
        what = event.what if event is not None else None
    elif isinstance(intent, AddFact):
        what = intent.fact
    if getattr(what, "drug", None):
        return "that range only catches slips of the hand (common practice, no source); it is no advice on a dose"
    found: Reading | Step | None = None
    if isinstance(intent, AnswerStep):
        found = finding.step(checklist, intent.stage or (case.visit.stage if case.visit else ""), intent.step)
    else:
        found = finding.reading(checklist, getattr(what, "reading", ""))
    if isinstance(intent, TakeReading) and not _passed(case, intent):
        return "no range was passed: one of the two may have a wrong unit or a slipped digit"
    return f"that range: {source_line(case, found.source if found is not None else None)}"


def _passed(case: Case, intent: TakeReading) -> bool:
    reading = finding.reading(case.checklist, intent.reading)
    return reading is not None and outside(reading, intent.value, intent.unit)


class Accept(Panel):
    """Enter takes the value as it is, Left goes back to change it. A counter that fell must have been reset."""

    id = "accept"
    hints = (("Enter", "it is right"), ("Left", "change"))

    def __init__(self, desk: Desk, refusal: Refusal, back: Panel | None) -> None:
        super().__init__(desk, titled("IS THAT RIGHT?", refusal.intent))
        self.refusal = refusal
        self.back = back
        self.opened_at = time.monotonic()
        self.reset = refusal.why.needs == "reset"

    def body(self, rows: Rows) -> None:
        say(rows, self.refusal.why.reason)
        if self.reset:
            enter = "again: the counter was reset, and this is what it shows now"
        else:
            say(rows, why_asked(self.desk.case, self.refusal.intent))
            enter = "again: it is right as it is"
        rows.add(Piece(" Enter ", "held"), Piece(f"  {enter}"))
        if self.back is not None:
            rows.add(Piece(" Left  ", "held"), Piece("  change it"))

    def key(self, press: Press) -> bool:
        if press.key == "enter":
            if press.at - self.opened_at >= SETTLE_S:
                update = {"reset" if self.reset else "accept": True, "press": self.desk.press_id()}
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
