"""A time of day as somebody types it: which moments it can mean, by the offsets the log itself knows.

The log's own stamps say which offset was in force when, and nothing is chosen here. Where two moments fit (the hour
that an autumn night has twice, the day after), both are given: the console says which. The rules of a zone, where
they are given, only settle between two stamps which of their two offsets it was, and only if they agree with both.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Callable, Sequence

from labcheck.caselog.case import Case
from labcheck.caselog.clockwords import MINUTE, SECOND, clock_words, date_words, minutes_words, offset_words
from labcheck.caselog.stamps import Moment, Stamp

DAY = 86_400 * SECOND
Rules = Callable[[str, int], int | None]
"""The offset, seconds east of UTC, that a zone of this name has at a UTC time in microseconds; None if not known."""

Known = tuple[int, int, str]
"""A stamp of the log: UTC microseconds, seconds east of UTC, zone name."""

TYPED = re.compile(r"(\d{1,2}):(\d{2})(?::(\d{2}))?", re.ASCII)


def of_day_us(text: str) -> int | None:
    """Microseconds since midnight of "9:05", "09:05" or "09:05:30"; None where it is no time of day."""
    found = TYPED.fullmatch(text)
    if found is None:
        return None
    hours, minutes, seconds = int(found[1]), int(found[2]), int(found[3] or 0)
    if hours > 23 or minutes > 59 or seconds > 59:
        return None
    return ((hours * 60 + minutes) * 60 + seconds) * SECOND


def in_two_digits(text: str) -> str | None:
    """The time of day as entries write it, "09:05" for "9:05"; None where it is no time of day."""
    return None if of_day_us(text) is None else text.rjust(8 if text.count(":") == 2 else 5, "0")


def no_rules(_zone: str, _wall_us: int) -> int | None:
    """No zone's rules are known."""
    return None


def moments(case: Case, of_day: int, now: Stamp, rules: Rules = no_rules) -> tuple[Moment, ...]:
    """Every moment of the case up to now at which the room clock can have shown this time, the latest first.

    ``of_day``: microseconds since midnight. Where there is none since the opening, the last one before it.
    """
    opened = case.opened.wall_us if case.opened is not None else now.wall_us
    found = fitting(case, of_day, now, since=opened - 2 * DAY, upto=now.wall_us, rules=rules)
    return tuple(moment for moment in found if moment.wall_us >= opened) or found[:1]


def fitting(
    case: Case,
    of_day: int,
    now: Stamp,
    *,
    since: int,
    upto: int,
    zone: Moment | None = None,
    rules: Rules = no_rules,
) -> tuple[Moment, ...]:
    """Every moment between two UTC times, in microseconds, that this time of day can mean, the latest first.

    An offset fits a moment if the log's nearest stamp before or after it carries that offset. ``zone``: an entry
    whose own offset is taken alone where the log's stamps do not know it (a paper record). The moments have no
    boot clock: they are as somebody read them off a clock.
    """
    known = _known(case, now)
    if zone is not None and zone.off_s not in {off_s for _, off_s, _ in known}:
        known = [(zone.wall_us, zone.off_s, zone.tz)]
    found: dict[int, Moment] = {}
    for off_s in {off_s for _, off_s, _ in known}:
        local = upto + off_s * SECOND
        wall = local - local % DAY + of_day - off_s * SECOND
        while wall >= max(0, since):
            tz = _in_force(known, wall, rules).get(off_s)
            if wall <= upto and tz is not None:
                found[wall] = Moment(wall_us=wall, off_s=off_s, tz=tz)
            wall -= DAY
    return tuple(found[wall] for wall in sorted(found, reverse=True))


def zone_at(case: Case, wall_us: int, now: Stamp, rules: Rules = no_rules) -> tuple[int, str]:
    """The offset and zone name of a moment; between two stamps that differ and no rules, those of the nearer one."""
    known = _known(case, now)
    fits = _in_force(known, wall_us, rules)
    nearest = min(known, key=lambda stamp: abs(stamp[0] - wall_us))
    off_s = nearest[1] if nearest[1] in fits else next(iter(fits))
    return off_s, fits[off_s]


def _known(case: Case, now: Stamp) -> list[Known]:
    return sorted((s.wall_us, s.off_s, s.tz) for s in (*(event.entered for event in case.log), now))


def _in_force(known: Sequence[Known], wall: int, rules: Rules) -> dict[int, str]:
    """The offsets that may have been in force, each with its zone: of the stamp before, of the one after, or both."""
    at = bisect_right(known, wall, key=lambda stamp: stamp[0])
    around = known[max(0, at - 1) : at + 1]
    ruled = rules(around[0][2], wall) if all(rules(tz, us) == off for us, off, tz in around) else None
    both = {off: tz for _, off, tz in around}
    return {ruled: both[ruled]} if ruled is not None and ruled in both else both


def dated(moment: Moment | Stamp, beside: Moment | Stamp) -> str:
    """The time of day, with the date and the offset from UTC where they are not those of ``beside``."""
    words = clock_words(moment)
    if date_words(moment) != date_words(beside):
        words += f" on {date_words(moment)}"
    if moment.off_s != beside.off_s:
        words += f" {offset_words(moment)}"
    return words


def placed(case: Case, moment: Moment, now: Stamp) -> str:
    """The moment as a list offers it: date, offset, and how long ago or that it was before the case."""
    ago = now.wall_us - moment.wall_us
    before = case.opened is not None and moment.wall_us < case.opened.wall_us
    since = f"{minutes_words(ago)} ago" if ago >= MINUTE else "less than a minute ago"
    day = "today" if date_words(moment) == date_words(now) else date_words(moment)
    return f"{day}, {offset_words(moment)}, {since}{', before the case was opened' if before else ''}"
