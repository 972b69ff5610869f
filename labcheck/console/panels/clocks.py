"""Comparing the console's clock with the imaging system's: type what it will show, press Enter as it shows it."""

from __future__ import annotations

import re

from labcheck.caselog.intents import CompareClock
from labcheck.caselog.stamps import Stamp
from labcheck.caselog.telling import clock_words, span_words
from labcheck.console.panels.asking import Ask
from labcheck.console.panels.panel import Desk, Panel, Press, record

SHOWN = re.compile(r"(\d{1,2}):(\d{2})(?::(\d{2}))?")
DAY = 86_400_000_000


def open_panel(desk: Desk) -> Panel | None:
    """The offset is recorded and exported; no stored time is ever shifted by it."""

    def done(text: str, press: Press) -> str:
        reading = nearest(text, press.stamp)
        if reading is None:
            return f'"{text}" is not a time such as 14:05:30'
        resolution = 1_000_000 if text.count(":") == 2 else 60_000_000
        record(desk, press, CompareClock, reading_us=reading, resolution_us=resolution)
        return ""

    lead = [_last(desk), "type the time the imaging system is about to show, and press Enter at the moment it shows it"]
    return Ask(
        desk, "CLOCK COMPARISON", "imaging system shows hh:mm:ss", done,
        panel_id="clocks", lead=[text for text in lead if text], limit=8, allowed="0123456789:",
    )  # fmt: skip


def _last(desk: Desk) -> str:
    if not desk.case.comparisons:
        return ""
    last = desk.case.comparisons[-1]
    return f"last compared {clock_words(last.at)}: the other clock was {span_words(last.what.offset_us)} ahead"


def nearest(text: str, now: Stamp) -> int | None:
    """UTC microseconds of the moment nearest to now at which a clock on room time would show this."""
    found = SHOWN.fullmatch(text)
    if found is None:
        return None
    hours, minutes, seconds = int(found[1]), int(found[2]), int(found[3] or 0)
    if hours > 23 or minutes > 59 or seconds > 59:
        return None
    local_now = now.wall_us + now.off_s * 1_000_000
    wanted = local_now - local_now % DAY + ((hours * 60 + minutes) * 60 + seconds) * 1_000_000
    if wanted - local_now > DAY // 2:
        wanted -= DAY
    elif local_now - wanted > DAY // 2:
        wanted += DAY
    return max(0, wanted - now.off_s * 1_000_000)
