"""A keyboard for tests of the guard against held keys: keys at times told, and the looks that fall due between them."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from labcheck.console.hand import Hand, Kind, Place
from labcheck.console.panels.panel import Press
from tests.console.desk import TestDesk


class Keyboard:
    """Presses keys on a place. The time is told with each press, in seconds."""

    def __init__(self, place: Place) -> None:
        self.place = place
        self.hand = Hand(lambda wait_s, call: self._due.append((self.now + wait_s, call)), lambda: self.place)
        self.now = 0.0
        self._due: list[tuple[float, Callable[[], None]]] = []

    def until(self, at: float) -> None:
        """Let time pass."""
        while self._due and self._due[0][0] <= at:
            self.now, call = self._due.pop(0)
            call()
        self.now = at

    def press(self, press: Press) -> None:
        """A key at its own time."""
        self.until(press.at)
        self.hand.take(self.place, press)

    def rest(self) -> None:
        """Nothing more is pressed."""
        self.until(self.now + 10)


class DeskPlace:
    """A desk of the tests as a place that takes the calls of a held Enter."""

    def __init__(self, desk: TestDesk) -> None:
        self.desk = desk
        self.named: list[str] = []
        self.bounce_s = desk.checklist.bounce_ms / 1000

    @property
    def standing(self) -> object:
        return self.desk.panel

    def kind(self, press: Press) -> Kind:
        return "calls"

    def act(self, press: Press) -> None:
        self.desk._act("call", press)

    def not_taken(self, press: Press, why: str) -> None:
        self.named.append(why)


def held(first: float, delay: float, gaps: Sequence[float]) -> list[float]:
    """The times at which a key comes that is held down."""
    times = [first, first + delay]
    for gap in gaps:
        times.append(times[-1] + gap)
    return times
