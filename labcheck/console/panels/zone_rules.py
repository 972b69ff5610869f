"""What this machine's zone data says: asked only where two stamps of the log leave open which offset was in force."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo


def offset_of(zone: str, wall_us: int) -> int | None:
    """Seconds east of UTC of a named zone at a UTC time in microseconds; None where the zone is not known here."""
    try:
        at = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(microseconds=wall_us)
        offset = at.astimezone(ZoneInfo(zone)).utcoffset()
    except (LookupError, ValueError, OSError, OverflowError):
        # A zone is a name that the environment gave: anything may stand there.
        return None
    return None if offset is None else int(offset.total_seconds())
