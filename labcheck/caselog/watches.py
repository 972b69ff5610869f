"""What runs and what is due: the watches of the checklist, and readings that are to be taken again."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from labcheck.caselog.case import Case
from labcheck.caselog.clockwords import MINUTE, UNKNOWN, minutes_words, span_words, unknown
from labcheck.caselog.holds import choices
from labcheck.caselog.ordering import earlier
from labcheck.caselog.points import Found, find_point, stretch
from labcheck.caselog.stamps import Moment, Span, known_span, span
from labcheck.caselog.tallies import latest_reading, number_words
from labcheck.checklist.model import Reading, Watch
from labcheck.checklist.unfolding import applies

Level = Literal["plain", "notice", "due", "overdue"]


@dataclass(frozen=True, slots=True)
class Running:
    """A watch that has begun and not ended."""

    watch: Watch
    seq: int
    span: Span
    level: Level
    provisional: bool


def running_watches(case: Case, at: Moment) -> Iterator[Running]:
    """The watches that count now, in checklist order. None counts on after the case is sealed."""
    if case.plan is None or case.seal is not None:
        return
    taken = choices(case)
    for watch in case.checklist.watch:
        if not applies(watch.when, case.plan, taken):
            continue
        found = stretch(case, watch.start, watch.end, live=True)
        if found.start is None or found.end is not None:
            continue
        if watch.again is not None and not _asked_again(case, watch, found.start):
            continue
        lasted = span(found.start.at, at)
        level = _level(lasted.us, watch)
        yield Running(watch, found.start.seq, lasted, level, found.start.provisional)


def _asked_again(case: Case, watch: Watch, start: Found) -> bool:
    """Whether what the watch asks for once more was done once since its start, and not yet when it was due."""
    done = find_point(case, watch.again or watch.end)
    since = [f for f in done if not earlier(case, f.at, f.seq, start.at, start.seq)]
    due_us = int((watch.due_min or 0) * MINUTE)
    return bool(since) and not any(span(start.at, found.at).us >= due_us for found in since)


def _level(us: int, watch: Watch) -> Level:
    if watch.overdue_min is not None and us >= watch.overdue_min * MINUTE:
        return "overdue"
    return "due" if watch.due_min is not None and us >= watch.due_min * MINUTE else "plain"


def covers(watch: Watch) -> str | None:
    """The reading that a watch counts down to being due again, if it does."""
    return watch.start.reading if watch.start.event == "reading" and watch.counts == "down" else None


def watch_words(running: Running) -> str:
    """ "since laceration 1:24, past 1 min", "filter check: due in 18 min", "filter check: due since 2:10"."""
    watch, us = running.watch, running.span.us
    if unknown(running.span):
        return f"{watch.title}: {UNKNOWN}, the clock was set back"
    wall = " wall only" if running.span.basis == "wall" else ""
    maybe = ", result not yet recorded" if running.provisional else ""
    if watch.counts == "down" and watch.due_min is not None:
        left = int(watch.due_min * MINUTE) - us
        when = f"due in {minutes_words(left)}" if left > 0 else f"due since {span_words(-left)}"
        return f"{watch.title}: {when}{wall}{maybe}"
    past = watch.overdue_min if running.level == "overdue" else watch.due_min
    over = f", past {number_words(past)} min" if past is not None and running.level != "plain" else ""
    return f"{watch.title} {span_words(us)}{wall}{over}{maybe}"


def recheck_words(case: Case, reading: Reading, at: Moment) -> tuple[str, Level] | None:
    """When a reading is due again. Nothing before the first, while a sample is on its way, or after the seal.

    A sample that was sent before the latest reading was taken is not on its way: it was forgotten.
    """
    last = latest_reading(case, reading.id) if reading.recheck_min is not None and case.seal is None else None
    if reading.recheck_min is None or last is None:
        return None
    waiting = [s for s in case.samples if s.reading == reading.id and s.answered is None]
    if any(earlier(case, last.at, last.seq, s.sent, s.seq) for s in waiting):
        return None
    since = known_span(last.at, at)
    if since is None:
        return "not known when due again", "due"
    since_us = since.us
    left = int(reading.recheck_min * MINUTE) - since_us
    if left > 0:
        return f"due in {minutes_words(left)}", "plain"
    overdue = any(
        covers(w) == reading.id and w.overdue_min is not None and since_us >= w.overdue_min * MINUTE
        for w in case.checklist.watch
    )
    words = f"due again since {minutes_words(-left)}" if left <= -MINUTE else "due again now"
    return words, "overdue" if overdue else "due"
