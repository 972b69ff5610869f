"""The hand at the keys: a key that is held down or bounces is told from one that is pressed again.

A keyboard repeats a key that is held: first after a while, as long as a second press would take, then some thirty
times a second. So the first repeat looks like a press until the next one comes. Where it would do harm it is looked
at for a moment before it is taken, and then keeps the time of its own key. A different key is always taken at once.
What was pressed last is kept here for all screens and panels, since a key that opened one is held down over it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, Protocol

from labcheck.console.keys import Key

if TYPE_CHECKING:
    from labcheck.console.panels.panel import Panel, Press

REPEAT_S = 0.12
"""The same key sooner than this after itself is the keyboard's doing: no hand is so fast."""

DELAY_S, HELD_S = 0.2, 0.7
"""Keyboards begin to repeat a held key so long after it went down (common practice, no source)."""

READ_S = 0.4
"""A hand that presses a key again sooner than this has not seen what the first press brought up."""

BOUNCED = "it came with the press before it"
HELD = "the key was held down"
CHANGED = "the same key had just changed the screen"
MOVED_ON = "the screen changed just then"

MOVES = frozenset({"up", "down", "pageup", "pagedown", "home", "end"})
EDITS = frozenset({"backspace", "delete", "left", "right"})
"""Keys that may be held down: they move, or edit a line that is being typed."""

Kind = Literal["moves", "opens", "marks", "records", "calls"]
"""What a press would do where it is pressed: move, type or turn a page; anything that can be left again; set a mark
or silence; record, switch or leave for good; record the call, whose second press the core itself refuses and notes."""


class Place(Protocol):
    """A screen that takes keys."""

    @property
    def standing(self) -> object:
        """What the keys are for just now, screen and panel; compared for equality."""
        ...

    @property
    def bounce_s(self) -> float:
        """Within so many seconds the core refuses a second call and says so in the log."""
        ...

    def kind(self, press: Press) -> Kind:
        """What the press would do."""
        ...

    def act(self, press: Press) -> None:
        """Take it."""
        ...

    def not_taken(self, press: Press, why: str) -> None:
        """Say that it was not taken."""
        ...


@dataclass(frozen=True, slots=True)
class _Waiting:
    place: Place
    press: Press
    standing: object


class Hand:
    """Decides about every press of a person. ``later`` calls back after so many seconds; ``here``: the place now."""

    def __init__(self, later: Callable[[float, Callable[[], None]], object], here: Callable[[], Place]) -> None:
        self._later = later
        self._here = here
        self._key = ""
        self._seen_at = 0.0
        self._taken_at = 0.0
        self._stood: object = None
        self._place: Place | None = None
        self._let = False
        self._waiting: _Waiting | None = None

    def take(self, place: Place, press: Press) -> None:
        """Take the press, look at it for a moment, or have it named as not taken."""
        waiting = self._waiting
        if waiting is not None:
            self._waiting = None
            if self._again_at_once(press):
                self._seen_at = press.at
                for one in (waiting.press, press):
                    place.not_taken(one, HELD)
                return
            self._go_on(waiting)
            place = self._here()
        if press.key != self._key or press.at < self._seen_at:
            self._go(place, press)
            return
        why = self._why_not(place, press)
        if why is None:
            self._seen_at = press.at
            looked_at = self._waiting = _Waiting(place, press, place.standing)
            self._later(REPEAT_S, lambda: self._enough(looked_at))
        elif why:
            self._seen_at = press.at
            place.not_taken(press, why)
        elif self._again_at_once(press) and place.kind(press) == "calls":
            self._let, self._seen_at = True, press.at
            place.act(press)
        else:
            self._go(place, press)

    def saw(self, press: Press) -> None:
        """A press that was used for something else than the screen: held down, it must not be used again."""
        self.settle()
        self._key, self._seen_at, self._taken_at = press.key, press.at, press.at
        self._stood = self._place = None

    def settle(self) -> None:
        """Take what is still being looked at: something else comes now."""
        waiting, self._waiting = self._waiting, None
        if waiting is not None:
            self._go_on(waiting)

    def _again_at_once(self, press: Press) -> bool:
        return press.key == self._key and 0 <= press.at - self._seen_at < REPEAT_S

    def _why_not(self, place: Place, press: Press) -> str | None:
        """Why the same key is not taken again, "" if it is, None if that cannot be said yet."""
        kind, since = place.kind(press), press.at - self._taken_at
        elsewhere = place is not self._place
        changed = elsewhere or place.standing != self._stood
        if self._again_at_once(press):
            if kind == "calls" and not changed and not self._let and since < place.bounce_s:
                return ""
            return BOUNCED if changed or kind != "moves" else ""
        if since >= HELD_S:
            return ""
        if changed and kind not in ("moves", "opens") and (since < READ_S or elsewhere):
            return CHANGED
        harm = kind in ("records", "calls") or (changed and kind == "opens")
        return None if since >= DELAY_S and harm else ""

    def _enough(self, looked_at: _Waiting) -> None:
        if self._waiting is looked_at:
            self.settle()

    def _go_on(self, waiting: _Waiting) -> None:
        """It was a press of its own. What it was for may be gone by now."""
        here = self._here()
        if here is waiting.place and here.standing == waiting.standing:
            self._go(here, waiting.press)
        else:
            here.not_taken(waiting.press, MOVED_ON)

    def _go(self, place: Place, press: Press) -> None:
        self._key, self._seen_at, self._taken_at = press.key, press.at, press.at
        self._stood, self._place, self._let = place.standing, place, False
        place.act(press)


def kind_in_case(press: Press, panel: Panel | None, line: Key | None) -> Kind:
    """What a press would do in a running case; ``line``: its line of the key table there."""
    typed = press.character
    if press.key in MOVES:
        return "moves"
    if panel is not None and panel.typing and (press.key in EDITS or (typed is not None and typed.isprintable())):
        return "moves"
    if getattr(panel, "paged", False) and typed == "0":
        return "moves"
    if line is None or not line.logs:
        return "opens"
    return "marks" if line.id in ("mark", "silence") else "calls" if line.id == "call" else "records"
