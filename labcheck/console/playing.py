"""The player: presses a script's keys in a live session at the script's times, until a person takes the keys.

It keeps no time of its own: the rehearsal clock says how far the script has come. Each press carries the
script's own time, so a rehearsal played fast or slowly makes the same log.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from labcheck.caselog.folding import begin
from labcheck.caselog.intents import Intent
from labcheck.caselog.playing import intents
from labcheck.caselog.script import Script
from labcheck.caselog.stamps import Stamp
from labcheck.caselog.telling import clock_words
from labcheck.checklist.model import Checklist
from labcheck.console.rehearsed import ZonedClock
from labcheck.console.session import Session
from labcheck.ledger.clocks import RehearsalClock
from labcheck.ledger.keys import new_case_key

if TYPE_CHECKING:
    from labcheck.console.app import Console

STEP_S = 0.1
"""How often the player looks whether a press is due."""


class ScriptClock(ZonedClock):
    """A rehearsal clock that starts at the script's first press and stands in the script's zone."""

    def __init__(self, script: Script, pace: float) -> None:
        super().__init__(start_us=script.start_us, off_s=script.off_s, tz=script.head.tz, pace=pace)


LONGEST_WAIT_US = 20 * 60_000_000
"""A gap in a script longer than this is passed over (the day after, for a fact added after the seal)."""

Send = Callable[[Intent, Stamp], None]


@dataclass(frozen=True, slots=True)
class Cue:
    """One press to come. ``at_us``: microseconds after the opening of the case. ``say``: what is said aloud."""

    at_us: int
    intent: Intent
    say: str = ""


class Player:
    """Plays a script on a case that is not real, whatever the script itself says."""

    def __init__(self, script: Script, checklist: Checklist, text: bytes, clock: RehearsalClock) -> None:
        self.script = script
        self.checklist = checklist
        self.text = text
        self.clock = clock
        self._cues: tuple[Cue, ...] = ()
        self._next = 0
        self.handed_over = False

    def begin(self, console: Console) -> None:
        """Open a case of its own in the console and start playing."""
        digest = console.ledger.keep_checklist(self.text)
        key = new_case_key(os.urandom, console.ledger.has)
        self.load(key, digest)
        session = Session(
            begin(key, self.checklist), console.bench.writer, console.bench.deliver, clock_words
        )
        self.tick(session.send)
        console.show_case(session)

        def press(intent: Intent, stamp: Stamp) -> None:
            # As before a key press: what an earlier press was answered does not stay on the screen.
            console.say_here("")
            session.send(intent, stamp)

        console.play(STEP_S, lambda: self.tick(press))

    def load(self, case_key: str, checklist_digest: str) -> None:
        """Make the cues for a case of that key."""
        says = ("", *(entry.say or "" for entry in self.script.entries))
        not_real = {"rehearsal": True}
        self._cues = tuple(
            Cue(at_us, intent if number else intent.model_copy(update=not_real), says[number])
            for number, (at_us, intent) in enumerate(intents(self.script, case_key, checklist_digest))
        )
        self._next = 0

    @property
    def playing(self) -> bool:
        """Whether the script still drives."""
        return not self.handed_over and self._next < len(self._cues)

    @property
    def said(self) -> str:
        """What was said aloud last, or ""."""
        return next((cue.say for cue in reversed(self._cues[: self._next]) if cue.say), "")

    @property
    def place(self) -> tuple[int, int]:
        """How many presses have been made, of how many."""
        return self._next, len(self._cues)

    def tick(self, send: Send) -> int:
        """Make every press that is due and give their number."""
        if not self.playing:
            return 0
        now = self.clock.stamp()
        before = self._next
        while self._next < len(self._cues) and self._due_us() <= now.wall_us:
            cue = self._cues[self._next]
            self._next += 1
            send(cue.intent, self._stamp(cue, now))
        if not self.playing:
            self.hand_over()
        elif self._due_us() - now.wall_us > LONGEST_WAIT_US:
            self.clock.step_to(self._due_us() - LONGEST_WAIT_US // 4)
        return self._next - before

    def hand_over(self) -> None:
        """The person has the keys: no further press of the script, and time runs at its usual pace."""
        self.handed_over = True
        self.clock.pace = 1.0

    def _due_us(self) -> int:
        return self.script.start_us + self._cues[self._next].at_us

    def _stamp(self, cue: Cue, now: Stamp) -> Stamp:
        """The script's own time, on the boot of the rehearsal clock."""
        boot_us = max(0, now.boot_us - (now.wall_us - self.script.start_us - cue.at_us))
        return now.model_copy(
            update={
                "wall_us": self.script.start_us + cue.at_us,
                "boot_us": boot_us,
                "mono_us": boot_us,
                "win_us": 0,
            }
        )
