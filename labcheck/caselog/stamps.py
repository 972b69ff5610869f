"""When: the stamp taken at a key press, and the moment something happened.

All times are whole microseconds, so that canonical JSON can carry them exactly (safe below 2**53).
Clocks are read in ``labcheck.ledger.clocks``; nothing here knows the time.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from labcheck.checklist.words import Strict

SAFE = 2**53 - 1
Micros = Annotated[int, Field(ge=0, le=SAFE)]
Basis = Literal["boot", "wall"]
Mode = Literal["live", "late", "amended", "transcribed"]


class Stamp(Strict):
    """Three clocks read together at a key press.

    ``wall_us``: UTC microseconds since 1970. ``off_s``: seconds east of UTC then in force. ``tz``: zone name.
    ``boot_us``: microseconds since this boot, counting suspends. ``mono_us``: the same without suspends.
    ``boot_id``: which boot. ``win_us``: how long the three reads took, at most.
    """

    wall_us: Micros
    off_s: Annotated[int, Field(ge=-64800, le=64800)]
    tz: Annotated[str, Field(max_length=64)]
    boot_us: Micros
    mono_us: Micros
    boot_id: Annotated[str, Field(max_length=64)]
    win_us: Micros = 0

    def moment(self) -> Moment:
        """The stamp as the moment a live event happened."""
        return Moment(
            wall_us=self.wall_us, off_s=self.off_s, tz=self.tz, boot_us=self.boot_us, boot_id=self.boot_id
        )


class Moment(Strict):
    """When something happened. The boot clock is absent where it cannot be known (paper, another boot)."""

    wall_us: Micros
    off_s: Annotated[int, Field(ge=-64800, le=64800)]
    tz: Annotated[str, Field(max_length=64)]
    boot_us: Micros | None = None
    boot_id: Annotated[str, Field(max_length=64)] | None = None


class Span(Strict):
    """A duration in microseconds and the clock it was measured with.

    ``basis`` is "wall" when the two ends do not share a boot: such a span may hold a clock step.
    """

    us: Annotated[int, Field(ge=-SAFE, le=SAFE)]
    basis: Basis


def span(start: Moment, end: Moment) -> Span:
    """``end - start``: boot clock where both ends share a boot, otherwise wall clock and marked so."""
    if (
        start.boot_us is not None
        and end.boot_us is not None
        and start.boot_id is not None
        and start.boot_id == end.boot_id
    ):
        return Span(us=end.boot_us - start.boot_us, basis="boot")
    return Span(us=end.wall_us - start.wall_us, basis="wall")


def known_span(start: Moment, end: Moment) -> Span | None:
    """``end - start``, or None where the wall clock was set back in between and nobody knows how long it was."""
    found = span(start, end)
    return found if found.us >= 0 or found.basis == "boot" else None


def shifted(stamp: Stamp, back_us: int) -> Moment:
    """The moment ``back_us`` microseconds before a stamp; the boot clock is dropped if it had not started."""
    boot = stamp.boot_us - back_us
    return Moment(
        wall_us=max(0, stamp.wall_us - back_us),
        off_s=stamp.off_s,
        tz=stamp.tz,
        boot_us=boot if boot >= 0 else None,
        boot_id=stamp.boot_id if boot >= 0 else None,
    )
