"""Noticing what the clocks did: steps, drift, suspends, a reboot, a stall."""

from __future__ import annotations

from labcheck.caselog.events import ClockNoticed
from labcheck.caselog.stamps import Stamp

STEP_US = 500_000
"""A change of wall against boot clock between two samples: a step. Reading noise is below 0.1 ms."""
DRIFT_US = 500_000
"""The same, gathered in small parts since it was last told."""
SUSPEND_US = 1_000_000
"""Growth of boot against monotonic clock: the machine slept."""
BLURRED_US = 100_000
"""A stamp whose three reads took longer says nothing about small differences."""


class ClockWatch:
    """Compares each stamp with the one before. Feed it every press and every five seconds.

    ``stall_us``: how long without a stamp, awake, counts as a stall; None if it is fed on presses only.
    """

    def __init__(self, first: Stamp | None = None, *, stall_us: int | None = None) -> None:
        self._stall_us = stall_us
        self._last = first
        self._slewed_us = 0

    def notices(self, stamp: Stamp) -> list[ClockNoticed]:
        """What happened since the last stamp, in microseconds; usually nothing."""
        last = self._last
        if last is None:
            self._last = stamp
            return []
        if stamp.boot_id != last.boot_id:
            self._last, self._slewed_us = stamp, 0
            return [_notice("reboot", stamp.wall_us - last.wall_us, "wall")]
        if stamp.mono_us < last.mono_us:
            # A press stamped back to before the last sample; the sample already said what there is to say.
            return []
        if stamp.win_us > BLURRED_US:
            return []
        self._last = stamp
        return [*self._wall(last, stamp), *_slept(last, stamp), *self._stalled(last, stamp)]

    def _wall(self, last: Stamp, stamp: Stamp) -> list[ClockNoticed]:
        moved = (stamp.wall_us - stamp.boot_us) - (last.wall_us - last.boot_us)
        if abs(moved) >= STEP_US:
            return [_notice("step", moved, "boot")]
        self._slewed_us += moved
        if abs(self._slewed_us) >= DRIFT_US:
            drifted, self._slewed_us = self._slewed_us, 0
            return [_notice("drift", drifted, "boot")]
        return []

    def _stalled(self, last: Stamp, stamp: Stamp) -> list[ClockNoticed]:
        gap = stamp.mono_us - last.mono_us
        if self._stall_us is None or gap < self._stall_us:
            return []
        return [_notice("stalled", gap, "boot")]


def since(last: Stamp, now: Stamp) -> ClockNoticed:
    """The notice that opens a resumed case: how long nobody recorded, by the boot clock in the same boot."""
    if last.boot_id == now.boot_id:
        return _notice("resumed", now.boot_us - last.boot_us, "boot")
    return _notice("resumed", now.wall_us - last.wall_us, "wall")


def _slept(last: Stamp, stamp: Stamp) -> list[ClockNoticed]:
    slept = (stamp.boot_us - stamp.mono_us) - (last.boot_us - last.mono_us)
    return [_notice("suspend", slept, "boot")] if slept >= SUSPEND_US else []


def _notice(what: str, amount_us: int, basis: str) -> ClockNoticed:
    return ClockNoticed.model_validate({"notice": what, "amount_us": amount_us, "basis": basis})
