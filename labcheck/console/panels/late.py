"""A late entry: first when it happened, then what it was. "Now" is never offered as the time.

After the time is chosen every panel works as always, but what it records carries the earlier time. The times
count back from the press that chose them, however long the rest takes.
"""

from __future__ import annotations

from collections.abc import Callable

from labcheck.caselog.clockwords import MINUTE, clock_words, date_words, minutes_words
from labcheck.caselog.deciding.moments import when
from labcheck.caselog.deciding.result import Refused
from labcheck.caselog.intents import Claim
from labcheck.caselog.stamps import Moment, Stamp, span
from labcheck.caselog.typed_times import dated, moments, of_day_us, placed, zone_at
from labcheck.console.panels.asking import Ask
from labcheck.console.panels.late_desk import LateDesk, When
from labcheck.console.panels.late_what import What
from labcheck.console.panels.panel import Desk, Panel, Press
from labcheck.console.panels.pick import Item, Pick
from labcheck.console.panels.zone_rules import offset_of
from labcheck.console.zones.rows import Rows

BACK = (1, 2, 3, 5)


def open_panel(desk: Desk) -> Panel | None:
    """When was it? One, two, three, five minutes before now, an exact time, or a mark."""
    return Times(desk)


class Times(Pick):
    """When it happened. The clock times beside the minutes go on with the clock, as long as the list is open."""

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk, "LATE ENTRY  when did it happen", (), panel_id="late")
        self._count()

    def body(self, rows: Rows) -> None:
        self._count()
        super().body(rows)

    def key(self, press: Press) -> bool:
        self._count()
        return super().key(press)

    def _count(self) -> None:
        """The list as of now; the mark stays on the line with the same digit, though lines come in above it."""
        digit = self.items[self.at].digit if self.at is not None else ""
        self.items, self.lead = tuple(_items(self.desk)), tuple(_lead(self.desk))
        self.at = next((at for at, item in enumerate(self.items) if digit and item.digit == digit), None)
        self.own_digits = True


def _within(desk: Desk) -> list[int]:
    """The minutes back that do not lead to before the opening of the case."""
    case, now = desk.case, desk.now()
    age_us = span(case.opened, now.moment()).us if case.opened is not None else 0
    return [back for back in BACK if back * MINUTE <= age_us]


def _items(desk: Desk) -> list[Item]:
    now = desk.now()
    items = [Item(f"{back} min ago", _ago(desk, back), _at(desk, back, now), str(back)) for back in _within(desk)]
    items.append(Item("an exact time, typed", lambda _press: desk.turn(Exact(desk)), digit="0"))
    marks = [mark for mark in desk.case.marks if mark.what is None][-4:]
    for digit, mark in zip("6789", marks, strict=False):
        items.append(Item(f"at mark {mark.seq}", _marked(desk, mark.seq, mark.at), dated(mark.at, now), digit))
    return items


def _lead(desk: Desk) -> list[str]:
    opened = desk.case.opened
    if opened is None or len(_within(desk)) == len(BACK):
        return []
    return [f"the case was opened at {clock_words(opened)}: no time before that is offered"]


def _claim(desk: Desk, back: int, now: Stamp) -> Claim:
    off_s, tz = zone_at(desk.case, max(0, now.wall_us - back * MINUTE), now, offset_of)
    return Claim(ago_us=back * MINUTE, precision_s=60, off_s=off_s, tz=tz)


def _at(desk: Desk, back: int, now: Stamp) -> str:
    """The very time of day that would be recorded, with its offset where that is not the present one."""
    found = when(desk.case, _claim(desk, back, now), now)
    return "" if isinstance(found, Refused) else dated(found.at, now)


def _ago(desk: Desk, back: int) -> Callable[[Press], None]:
    def chosen(press: Press) -> None:
        _what(desk, When(f"{back} min ago", _claim(desk, back, press.stamp), press.stamp))

    return chosen


def _marked(desk: Desk, mark: int, at: Moment) -> Callable[[Press], None]:
    def chosen(press: Press) -> None:
        words = f"at mark {mark}, {dated(at, press.stamp)}"
        _what(desk, When(words, Claim(mark=mark, precision_s=0), press.stamp))

    return chosen


def _what(desk: Desk, chosen: When) -> None:
    desk.turn(What(LateDesk(desk, chosen)))


# --- an exact time ------------------------------------------------------------------------------------------


class Exact(Ask):
    """The time of day, typed. Where it can be more than one moment, or another day's, that is asked."""

    def __init__(self, desk: Desk) -> None:
        super().__init__(
            desk, "LATE ENTRY  when", "time hh:mm or hh:mm:ss", self._typed, panel_id="late",
            lead=["the time of day as the room's clock showed it"], limit=8, allowed="0123456789:",
            foot="Enter, then say what it was",
        )  # fmt: skip

    def _typed(self, text: str, press: Press) -> str:
        of_day = of_day_us(text)
        if of_day is None:
            return f'"{text}" is not a time such as 14:05 or 14:05:30'
        found = offered(self.desk, of_day, press.stamp)
        if not found:
            return f"there was no {text} yet"
        case, now = self.desk.case, press.stamp
        before_case = case.opened is not None and found[0].wall_us < case.opened.wall_us
        if len(found) == 1 and not (before_case and date_words(found[0]) != date_words(now)):
            self._take(text, found[0], press)
            return ""
        self.desk.turn(self._which(text, found, now, before_case=before_case))
        return ""

    def _which(self, text: str, found: tuple[Moment, ...], now: Stamp, *, before_case: bool) -> Panel:
        """Ask which day or offset is meant: nothing is moved to another day without a word."""
        items = [Item(f"{text} {placed(self.desk.case, at, now)}", self._taker(text, at)) for at in found]
        items.append(Item("another time", lambda _press: self.desk.turn(self)))
        lead = f"{text} fits more than once: which is meant?"
        if before_case:
            lead = f"it is {clock_words(now)} now, and this case had no {text} yet"
        return Pick(self.desk, f"LATE ENTRY  which {text}", items, [lead], panel_id="late")

    def _taker(self, text: str, at: Moment) -> Callable[[Press], None]:
        return lambda press: self._take(text, at, press)

    def _take(self, text: str, at: Moment, press: Press) -> None:
        precision_s = 1 if text.count(":") == 2 else 60
        claim = Claim(wall_us=at.wall_us, off_s=at.off_s, tz=at.tz, precision_s=precision_s)
        ago_us = press.stamp.wall_us - at.wall_us
        ago = f", {minutes_words(ago_us)} ago" if ago_us >= MINUTE else ""
        _what(self.desk, When(f"at {dated(at, press.stamp)}{ago}", claim, press.stamp))


def offered(desk: Desk, of_day: int, now: Stamp) -> tuple[Moment, ...]:
    """The moments to choose from, likeliest first. Once the case is sealed: those in it, then the last one since."""
    found, seal = moments(desk.case, of_day, now, offset_of), desk.case.seal
    if seal is None:
        return found
    inside = tuple(at for at in found if at.wall_us <= seal.at.wall_us)
    return (*inside, *[at for at in found if at not in inside][:1])
