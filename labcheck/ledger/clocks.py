"""Reading the clocks: the one place that knows what time it is.

The boot clock counts suspends and never steps, so intervals come from it; the wall clock is for people.
"""

from __future__ import annotations

import os
import threading
import time
from pathlib import Path
from typing import Protocol

from labcheck.caselog.stamps import Stamp

_BOOT_CLOCK: int | None = getattr(time, "CLOCK_BOOTTIME", None)
_BOOT_ID_FILE = Path("/proc/sys/kernel/random/boot_id")


class Clock(Protocol):
    """Anything that can stamp a key press."""

    def stamp(self, at_monotonic: float | None = None) -> Stamp:
        """The clocks now, or as they stood at a ``time.monotonic()`` reading (seconds) taken a moment ago."""
        ...


class SystemClock:
    """This machine's clocks."""

    def __init__(self) -> None:
        self._boot_id = read_boot_id()

    def stamp(self, at_monotonic: float | None = None) -> Stamp:
        """Read boot, wall and boot again; the wall reading belongs to the middle of that window."""
        before = _boot_ns()
        wall = time.time_ns()
        mono = time.monotonic_ns()
        after = _boot_ns()
        age_ns = 0 if at_monotonic is None else max(0, mono - round(at_monotonic * 1e9))
        local = time.localtime((wall - age_ns) // 1_000_000_000)
        return Stamp(
            wall_us=max(0, wall - age_ns) // 1000,
            off_s=local.tm_gmtoff,
            tz=zone_name(local.tm_zone),
            boot_us=max(0, (before + after) // 2 - age_ns) // 1000,
            mono_us=max(0, mono - age_ns) // 1000,
            boot_id=self._boot_id,
            win_us=-(-(after - before) // 1000),
        )


class RehearsalClock:
    """Clocks for a case that is not real: they start where told and run ``pace`` times as fast as ours.

    ``start_us``: the first wall time (UTC microseconds), now if not given. The pace can change at any moment
    without a jump; at pace 0 time stands and ``step`` moves it. The boot id is its own, so that rehearsed and
    real intervals never mix. Safe to use from several threads.
    """

    def __init__(
        self,
        base: Clock | None = None,
        start_us: int | None = None,
        pace: float = 1.0,
        boot_id: str | None = None,
    ) -> None:
        self._base = base or SystemClock()
        first = self._base.stamp()
        self._start_us = first.wall_us if start_us is None else start_us
        self._boot_id = boot_id or f"rehearsal-{os.urandom(8).hex()}"
        self._lock = threading.Lock()
        self._anchor_us = first.mono_us
        self._passed_us = 0.0
        self._pace = self._pace_before = _fair_pace(pace)

    @property
    def pace(self) -> float:
        """How many seconds pass here in one real second."""
        return self._pace

    @pace.setter
    def pace(self, pace: float) -> None:
        pace = _fair_pace(pace)
        with self._lock:
            now = self._base.stamp().mono_us
            self._passed_us = self._passed_at(now)
            self._anchor_us = now
            self._pace_before, self._pace = self._pace, pace

    def step(self, by_us: int) -> None:
        """Move time forward by so many microseconds at once. Raises ``ValueError`` for a step back."""
        if by_us < 0:
            raise ValueError("rehearsed time only moves forward")
        with self._lock:
            self._passed_us += by_us

    def step_to(self, wall_us: int) -> None:
        """Move time forward to a wall time; does nothing if it is past already."""
        self.step(max(0, wall_us - self.stamp().wall_us))

    def stamp(self, at_monotonic: float | None = None) -> Stamp:
        """The rehearsed clocks, now or at an earlier ``time.monotonic()`` reading."""
        real = self._base.stamp(at_monotonic)
        with self._lock:
            passed = max(0, round(self._passed_at(real.mono_us)))
        wall = self._start_us + passed
        local = time.localtime(wall // 1_000_000)
        return Stamp(
            wall_us=wall,
            off_s=local.tm_gmtoff,
            tz=zone_name(local.tm_zone),
            boot_us=passed,
            mono_us=passed,
            boot_id=self._boot_id,
            win_us=real.win_us,
        )

    def _passed_at(self, mono_us: int) -> float:
        elapsed = mono_us - self._anchor_us
        # A press from before the last change of pace is counted back at the pace it was made in.
        return self._passed_us + elapsed * (self._pace if elapsed >= 0 else self._pace_before)


def _fair_pace(pace: float) -> float:
    if not 0 <= pace <= 10_000:
        raise ValueError(f"a pace of {pace} is not between 0 and 10000")
    return pace


def read_boot_id() -> str:
    """Which boot this is.

    Where the system does not say, an id for this run alone: intervals across runs are then wall only.
    """
    try:
        found = _BOOT_ID_FILE.read_text(encoding="ascii").strip()
    except (OSError, UnicodeError):
        found = ""
    return found[:64] or f"run-{os.urandom(8).hex()}"


def zone_name(fallback: str | None = None) -> str:
    """The zone's name from TZ or /etc/localtime, else the abbreviation in force; at most 64 plain letters."""
    named = os.environ.get("TZ", "").lstrip(":")
    if not named:
        try:
            linked = os.readlink("/etc/localtime")
        except OSError:
            linked = ""
        named = linked.partition("zoneinfo/")[2]
    # Anybody may have set TZ to anything; what the ledger could not keep must not stop every press.
    plain = "".join(c for c in named or fallback or "UTC" if c.isascii() and c.isprintable())
    return plain[:64] or "UTC"


def _boot_ns() -> int:
    if _BOOT_CLOCK is None:
        return time.monotonic_ns()
    return time.clock_gettime_ns(_BOOT_CLOCK)
