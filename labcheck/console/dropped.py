"""Keys that came too soon to be meant for what stands on the screen: they are not taken, and that is said.

It is said for a few seconds, also after a key that follows at once: a fast hand pressed that before it could read.
"""

from __future__ import annotations

from collections.abc import Sequence

SAID_S = 6.0
"""So long a key that was not taken is named."""

READ_S = 1.0
"""A key that comes later than this after it was pressed by somebody who has read the line."""


class Dropped:
    """The names of keys that were not taken just now."""

    def __init__(self) -> None:
        self._names: list[str] = []
        self._why = ""
        self._at = 0.0

    def add(self, name: str, why: str, at: float) -> None:
        """A key was not taken; ``at`` in seconds of the machine's own clock."""
        if at - self._at > SAID_S:
            self._names.clear()
        self._names.append(name)
        self._why, self._at = why, at

    def seen(self, at: float) -> None:
        """Another key is pressed."""
        if at - self._at > READ_S:
            self._names.clear()

    def words(self, now: float) -> str:
        """One line, or "" once it has been said long enough."""
        if not self._names or now - self._at > SAID_S:
            return ""
        shown = ", ".join(dict.fromkeys(self._names[-3:]))
        count = f" ({len(self._names)} presses)" if len(self._names) > 1 else ""
        return f"{shown} NOT TAKEN{count}: {self._why}"

    def told_with(self, answer: str, now: float) -> str:
        """The line together with the answer to the last press."""
        return both(self.words(now), answer)


def both(first: str, then: str) -> str:
    """Two things said in one line; the one alone if the other is ""."""
    return f"{first}; {then}" if first and then else first or then


def named(keys: Sequence[str]) -> str:
    """The names of keys that were pressed, the last few."""
    few = ", ".join(keys[-3:])
    return few if len(keys) <= 3 else f"{len(keys)} keys ({few} last)"
