"""What could be read on the screen at the moment of a press: a key answers that, not what came up since."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from labcheck.caselog.prompts import Prompt
    from labcheck.checklist.unfolding import Slot


class Shown:
    """The call on the screen, the one before it, and the reminder. Times in seconds of the machine's own clock."""

    def __init__(self) -> None:
        self.prompt: Prompt | None = None
        self._call: Slot | None = None
        self._before: Slot | None = None
        self._since = -math.inf
        self._drawn = False

    def called(self, slot: Slot | None, now: float) -> None:
        """This call is drawn now."""
        if not self._drawn or slot != self._call:
            self._since = now if self._drawn else -math.inf
            self._call, self._before, self._drawn = slot, self._call, True

    def call_at(self, at: float) -> Slot | None:
        """The call that could be read then."""
        return self._call if at >= self._since else self._before
