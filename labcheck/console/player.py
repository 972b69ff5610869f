"""The player: presses a script's keys in a live session at the script's times, until a person takes the keys.

It knows no widget and keeps no time of its own: the console calls ``tick`` a few times a second, the rehearsal
clock says how far the script has come. Each press carries the script's own time, so a rehearsal played fast or
slowly makes the same log.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from labcheck.caselog.intents import Intent
from labcheck.caselog.stamps import Stamp
from labcheck.ledger.clocks import RehearsalClock

Send = Callable[[Intent, Stamp], None]


@dataclass(frozen=True, slots=True)
class Cue:
    """One press to come. ``at_us``: microseconds after the opening of the case. ``say``: what is said aloud."""

    at_us: int
    intent: Intent
    say: str = ""


class Player:
    """Plays cues into ``send``. ``start_us``: the script's first wall time, UTC microseconds."""

    def __init__(
        self, cues: Iterable[Cue], clock: RehearsalClock, *, start_us: int, off_s: int, tz: str = ""
    ) -> None:
        self._cues = tuple(cues)
        self._next = 0
        self._clock = clock
        self._start_us = start_us
        self._zone = {"off_s": off_s, "tz": tz}
        self.handed_over = False

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
        now = self._clock.stamp()
        due = 0
        while self._next < len(self._cues) and self._start_us + self._cues[self._next].at_us <= now.wall_us:
            cue = self._cues[self._next]
            self._next += 1
            due += 1
            send(cue.intent, self._stamp(cue, now))
        if not self.playing:
            self.hand_over()
        return due

    def hand_over(self) -> None:
        """The person has the keys: no further press of the script, and time runs at its usual pace."""
        self.handed_over = True
        self._clock.pace = 1.0

    def _stamp(self, cue: Cue, now: Stamp) -> Stamp:
        passed = now.boot_us - (now.wall_us - self._start_us - cue.at_us)
        return now.model_copy(
            update={
                "wall_us": self._start_us + cue.at_us,
                "boot_us": max(0, passed),
                "mono_us": max(0, passed),
                "win_us": 0,
                **self._zone,
            }
        )
