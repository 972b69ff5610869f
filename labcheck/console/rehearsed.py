"""Rehearsed time: a script's own day, and going on with it later. A case that is real never sees any of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from labcheck.caselog.stamps import Moment, Stamp
from labcheck.ledger.clocks import Clock, RehearsalClock

if TYPE_CHECKING:
    from labcheck.ledger.contract import CaseLine

REHEARSED = "rehearsal-"
"""The boot ids of rehearsal clocks begin so."""


class ZonedClock(RehearsalClock):
    """A rehearsal clock in a zone of its own."""

    def __init__(
        self,
        base: Clock | None = None,
        *,
        start_us: int,
        off_s: int,
        tz: str,
        pace: float = 1.0,
        boot_id: str | None = None,
    ) -> None:
        super().__init__(base, start_us=start_us, pace=pace, boot_id=boot_id)
        self._zone = {"off_s": off_s, "tz": tz}

    def stamp(self, at_monotonic: float | None = None) -> Stamp:
        """The rehearsed clocks, now or at an earlier ``time.monotonic()`` reading."""
        return super().stamp(at_monotonic).model_copy(update=self._zone)


def continued(line: CaseLine, base: Clock) -> Clock | None:
    """The clock of a rehearsal that was recorded in rehearsed time, going on from its last entry; None for any other.

    Rehearsed time stood still while nobody rehearsed: the same clock runs on, at the pace of life.
    """
    last: Moment = line.last
    if not line.rehearsal or last.boot_us is None or not (last.boot_id or "").startswith(REHEARSED):
        return None
    clock = ZonedClock(
        base, start_us=last.wall_us - last.boot_us, off_s=last.off_s, tz=last.tz, boot_id=last.boot_id
    )
    clock.step(last.boot_us)
    return clock
