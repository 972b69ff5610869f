"""How times and durations are written, the same on every screen, sheet and file that people read.

A time of day is the recorded UTC time plus the recorded offset: no zone data is needed to read an old case.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from labcheck.caselog.stamps import Moment, Span, Stamp

SECOND = 1_000_000
MINUTE = 60 * SECOND


def clock_words(moment: Moment | Stamp, seconds: bool = True) -> str:
    """The time of day as recorded, "14:32:07" or "14:32"; never rounded up into a time not yet reached."""
    of_day = (moment.wall_us // SECOND + moment.off_s) % 86400
    hours, rest = divmod(of_day, 3600)
    text = f"{hours:02d}:{rest // 60:02d}"
    return f"{text}:{rest % 60:02d}" if seconds else text


def date_words(moment: Moment | Stamp) -> str:
    """The date as recorded, "2026-03-09"."""
    return f"{_local(moment):%Y-%m-%d}"


def offset_words(moment: Moment | Stamp) -> str:
    """The offset from UTC then in force, "UTC+01:00"."""
    sign = "-" if moment.off_s < 0 else "+"
    minutes = abs(moment.off_s) // 60
    return f"UTC{sign}{minutes // 60:02d}:{minutes % 60:02d}"


def _local(moment: Moment | Stamp) -> datetime:
    return datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=moment.wall_us // SECOND + moment.off_s)


def span_words(us: int) -> str:
    """A duration in whole seconds, cut and not rounded: "2:46", "1:02:09", "-0:30"."""
    seconds = abs(us) // SECOND
    sign = "-" if us < 0 and seconds else ""
    hours, rest = divmod(seconds, 3600)
    if hours:
        return f"{sign}{hours}:{rest // 60:02d}:{rest % 60:02d}"
    return f"{sign}{rest // 60}:{rest % 60:02d}"


UNKNOWN = "unknown time"


def unknown(found: Span) -> bool:
    """Whether nobody knows how long it was: by the wall clock, which was set back in between."""
    return found.basis == "wall" and found.us < 0


def span_with_basis(found: Span) -> str:
    """A duration and, where the two ends do not share a boot, the words that say so."""
    if unknown(found):
        return UNKNOWN
    return span_words(found.us) + (" wall only" if found.basis == "wall" else "")


def seconds_words(us: int) -> str:
    """A short duration in seconds with one decimal, for bursts and runs: "0.9 s", "73.4 s"."""
    tenths = (abs(us) + SECOND // 20) // (SECOND // 10)
    return f"{'-' if us < 0 and tenths else ''}{tenths // 10}.{tenths % 10} s"


def ago_words(since: Span) -> str:
    """How long ago something was, for a glance: "12 min ago", "12 min ago wall only", "unknown time ago"."""
    if unknown(since):
        return f"{UNKNOWN} ago"
    return f"{minutes_words(since.us)} ago{' wall only' if since.basis == 'wall' else ''}"


def minutes_words(us: int) -> str:
    """A duration for a glance, in whole minutes: "under 1 min", "12 min", "1 h 05 min"."""
    minutes = abs(us) // MINUTE
    if minutes < 1:
        return "under 1 min"
    return f"{minutes} min" if minutes < 60 else f"{minutes // 60} h {minutes % 60:02d} min"
