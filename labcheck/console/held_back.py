"""Presses that wanted a reason or a second look when somebody was already at something else.

What is being typed is never pushed away by them. They wait, named, until they are asked for.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from typing import TYPE_CHECKING

from labcheck.caselog.clockwords import clock_words
from labcheck.console.keys import by_id

if TYPE_CHECKING:
    from labcheck.caselog.stamps import Stamp
    from labcheck.console.panels.panel import Panel
    from labcheck.console.session import Refusal

KEPT = 64
"""More presses than this never wait for the disk at once."""


@dataclass(frozen=True, slots=True)
class _Sent:
    stamp: Stamp
    back: Panel | None
    stood: Panel | None


class HeldBack:
    """What each press left on the screen when it was sent, and the refusals that found something else there."""

    def __init__(self) -> None:
        self._sent: deque[_Sent] = deque(maxlen=KEPT)
        self._held: deque[tuple[Refusal, Panel | None]] = deque()

    def sent(self, stamp: Stamp, back: Panel | None, stood: Panel | None) -> None:
        """A press was sent; ``back``: the panel it came from, ``stood``: what was open then."""
        self._sent.append(_Sent(stamp, back, stood))

    def back_of(self, refusal: Refusal, panel: Panel | None) -> tuple[Panel | None, bool]:
        """The panel that a refused press came from, and whether something else has been opened since."""
        sent = next((one for one in reversed(self._sent) if one.stamp is refusal.stamp), None)
        if sent is None:
            return None, panel is not None
        return sent.back, panel is not None and panel is not sent.stood

    def hold(self, refusal: Refusal, back: Panel | None) -> None:
        """It waits until it is asked for."""
        self._held.append((refusal, back))

    def next(self) -> tuple[Refusal, Panel | None] | None:
        """The one that has waited longest, no longer held."""
        return self._held.popleft() if self._held else None

    @property
    def words(self) -> str:
        """One line that stays until they were asked for, or ""."""
        if not self._held:
            return ""
        first, more = self._held[0][0], len(self._held) - 1
        way = f"Esc, then {by_id('call').shown}"
        count = f" and {more} more" if more else ""
        return f"NOT RECORDED {clock_words(first.stamp)}{count} ({way}): {first.why.reason}"
