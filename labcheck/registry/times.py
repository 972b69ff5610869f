"""How a moment is spelt in every file that leaves.

RFC 3339 with a numeric offset and fixed milliseconds, the offset as it was recorded at the event (never
worked out again from today's rules), and the whole microseconds beside it.
"""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta, timezone
from functools import lru_cache

from labcheck.caselog.stamps import Moment, Span, Stamp, span

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
RFC3339_MS = (
    r"^\d{4}-(0[1-9]|1[0-2])-(0[1-9]|[12]\d|3[01])"
    r"T([01]\d|2[0-3]):[0-5]\d:[0-5]\d\.\d{3}[+-]([01]\d|2[0-3]):[0-5]\d$"
)
"""The only spelling of a time in our JSON and CSV. The calendar (30 February) needs a second check."""

OFFSET = r"^[+-]([01]\d|2[0-3]):[0-5]\d$"
_FULL = re.compile(RFC3339_MS)


def whole_offset(off_s: int) -> int:
    """Seconds east of UTC, whole minutes only: RFC 3339 cannot say more, so other moments go out in UTC."""
    return off_s if off_s % 60 == 0 else 0


def aware(moment: Moment | Stamp) -> datetime:
    """The moment as an aware datetime at its own offset, microseconds kept."""
    return (EPOCH + timedelta(microseconds=moment.wall_us)).astimezone(_zone(whole_offset(moment.off_s)))


@lru_cache(maxsize=256)
def _zone(off_s: int) -> timezone:
    return timezone(timedelta(seconds=off_s))


def offset(moment: Moment | Stamp) -> str:
    """The offset from UTC, as in ``+05:30``."""
    seconds = whole_offset(moment.off_s)
    hours, minutes = divmod(abs(seconds) // 60, 60)
    return f"{'-' if seconds < 0 else '+'}{hours:02d}:{minutes:02d}"


def rfc3339(moment: Moment | Stamp) -> str:
    """The moment as ``2031-03-04T09:14:05.123+01:00``; what is finer than a millisecond is cut off."""
    return aware(moment).isoformat(timespec="milliseconds")


def read_rfc3339(text: str) -> datetime:
    """Read our own spelling back, calendar checked. Raises ``ValueError`` saying what is wrong."""
    if not _FULL.match(text):
        raise ValueError(f"{text[:40]!a} is not a time like 2031-03-04T09:14:05.123+01:00")
    if text.endswith("-00:00"):
        raise ValueError(f"{text} hides its offset (-00:00)")
    return datetime.fromisoformat(text)


def seconds(us: int) -> float:
    """Whole microseconds as seconds with three decimals."""
    return round(us / 1_000_000, 3)


def since(origin: Moment | None, moment: Moment) -> Span | None:
    """How long after ``origin``, boot clock where both ends share a boot. None where there is no origin."""
    return None if origin is None else span(origin, moment)
