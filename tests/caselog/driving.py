"""Driving a case in tests: a clock of our own, presses with counted ids, and a short way to say an intent."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from labcheck.caselog.case import Case
from labcheck.caselog.deciding import Decided, Refused, decide
from labcheck.caselog.events import Event
from labcheck.caselog.folding import begin, fold_all
from labcheck.caselog.intents import INTENT_MODELS, Claim, Intent
from labcheck.caselog.stamps import Stamp
from labcheck.checklist.model import Checklist
from labcheck.checklist.plan import Plan
from labcheck.checklist.reading import read_checklist

SMALL = Path(__file__).with_name("small.toml")
START_US = 1_930_000_000_000_000
BOOT = "boot-a"


def small() -> Checklist:
    """The small checklist."""
    return read_checklist(SMALL.read_bytes(), "small.toml")


class Driver:
    """A case with a hand-moved clock. ``at(minutes)`` sets it; ``do(kind, ...)`` presses."""

    def __init__(self, *targets: str, checklist: Checklist | None = None, **plan: Any) -> None:
        self.checklist = checklist or small()
        self.case: Case = begin("K7Q2-M4", self.checklist)
        self.now_us = 0
        self.presses = 0
        self.boot_id = BOOT
        self.wall_shift_us = 0
        self.last: Decided | Refused = Refused("nothing yet")
        self.events: list[Event] = []
        known = {
            "technique": self.checklist.technique,
            "substrate": "native",
            "targets": targets or ("left",),
        }
        chosen = Plan.model_validate({**known, **plan})
        self.do("case.open", plan=chosen, checklist_digest="0" * 64)

    def at(self, minutes: float) -> Driver:
        """Set the clock to so many minutes since the case was opened."""
        self.now_us = round(minutes * 60_000_000)
        return self

    def stamp(self) -> Stamp:
        """What a key press now would carry."""
        return Stamp(
            wall_us=START_US + self.now_us + self.wall_shift_us,
            off_s=3600,
            tz="Test/Zone",
            boot_us=600_000_000 + self.now_us,
            mono_us=600_000_000 + self.now_us,
            boot_id=self.boot_id,
        )

    def intent(self, do: str, **fields: Any) -> Intent:
        """An intent with the next press id."""
        self.presses += 1
        return INTENT_MODELS[do](press=f"{self.presses:032x}", **fields)

    def press(self, do: str, **fields: Any) -> Decided | Refused:
        """Decide, and fold what was decided."""
        self.last = decide(self.case, self.intent(do, **fields), self.stamp())
        if isinstance(self.last, Decided):
            self.events.extend(self.last.events)
            self.case = fold_all(self.case, self.last.events)
        return self.last

    def do(self, do: str, **fields: Any) -> tuple[Event, ...]:
        """Press, and insist that it was recorded. Moves the clock a second, so that nothing bounces."""
        result = self.press(do, **fields)
        assert isinstance(result, Decided), f"{do}: {result}"
        self.now_us += 1_000_000
        return result.events

    def refused(self, do: str, **fields: Any) -> Refused:
        """Press, and insist that it was refused."""
        result = self.press(do, **fields)
        assert isinstance(result, Refused), f"{do}: {result}"
        return result


def in_access(*targets: str, checklist: Checklist | None = None) -> Driver:
    """A case in its first stage, a second after minute 0."""
    driver = Driver(*targets, checklist=checklist)
    driver.at(0).do("stage.open")
    return driver


def opened(*targets: str) -> Driver:
    """A case in its first stage, five minutes later."""
    return in_access(*targets).at(5)


def crossing(*targets: str) -> Driver:
    """A case in the stage "cross", called at minute 5 over what was not yet true."""
    driver = opened(*targets)
    driver.do("stage.open", stage="cross", reason="test")
    return driver


def late(minutes: float) -> Claim:
    """So many minutes ago, entered late."""
    return Claim(ago_us=round(minutes * 60_000_000), reason="busy")
