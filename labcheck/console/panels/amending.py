"""Amending one entry: its time, typed; the reason, asked last. What is refused is refused while it can be mended."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from labcheck.caselog.clockwords import SECOND, clock_words, offset_words
from labcheck.caselog.deciding import Refused, decide
from labcheck.caselog.events import Event
from labcheck.caselog.folding import effective_payload
from labcheck.caselog.intents import AmendEvent
from labcheck.caselog.stamps import Moment, Stamp
from labcheck.caselog.typed_times import DAY, dated, fitting, of_day_us, placed
from labcheck.console.panels.asking import Ask
from labcheck.console.panels.panel import Desk, Panel, Press, record
from labcheck.console.panels.pick import Item, Pick
from labcheck.console.panels.reasons import reason_pick
from labcheck.console.panels.zone_rules import offset_of

HALF_DAY = DAY // 2

ALREADY = "that is what it says already"


def refused(desk: Desk, event: Event, field: str, value: str | None, press: Press) -> str:
    """Why the log will not take this amendment, or "": asked before the reason, while what was typed still stands."""
    intent = AmendEvent(press="0" * 32, target=event.seq, field=field, value=value, reason="asked next")
    outcome = decide(desk.case, intent, press.stamp)
    return outcome.reason if isinstance(outcome, Refused) and outcome.needs == "none" else ""


def because(desk: Desk, event: Event, field: str, value: str | None, lead: Sequence[str] = ()) -> Panel:
    """Ask for the reason, and amend."""

    def amend(text: str, press: Press) -> None:
        record(desk, press, AmendEvent, target=event.seq, field=field, value=value, reason=text)

    return reason_pick(desk, f"AMEND {event.seq}: why", "correction", amend, lead)


def retiming(desk: Desk, event: Event) -> Panel:
    """Another time for the entry; it starts from the one that stands."""
    return Retiming(desk, event)


class Retiming(Ask):
    """The time of day, typed: the moment nearest to the one that stands, or asked where there are several."""

    def __init__(self, desk: Desk, event: Event) -> None:
        self.event = event
        self.at = (effective_payload(desk.case, event.seq) or (event.what, event.happened))[1]
        super().__init__(
            desk, f"ENTRY {event.seq}", "it happened at hh:mm:ss", self._typed, panel_id="entries",
            lead=[f"it stands at {dated(self.at, desk.now())}"], limit=8, allowed="0123456789:",
            text=clock_words(self.at), foot="Enter, then the reason",
        )  # fmt: skip

    def _typed(self, text: str, press: Press) -> str:
        of_day = of_day_us(text)
        if of_day is None:
            return f'"{text}" is not a time such as 14:05:30'
        if text.count(":") != 2:
            return f"type the seconds too, as in {text}:00: the entry has them"
        found = self._nearest_first(of_day, press.stamp)
        other = [at for at in found if at.wall_us != self.at.wall_us]
        if not other:
            return ALREADY if found else f"there was no {text} yet, or it is long before the case"
        if len(found) == 1:
            return self._take(other[0], press)
        items = [Item(f"{text} {placed(self.desk.case, at, press.stamp)}", self._taker(at)) for at in other]
        items.append(Item("another time", lambda _press: self.desk.turn(self)))
        lead = [f"it stands at {dated(self.at, press.stamp)}; {text} fits more than once: which is meant?"]
        self.desk.turn(Pick(self.desk, f"ENTRY {self.event.seq}  which {text}", items, lead, panel_id="entries"))
        return ""

    def _nearest_first(self, of_day: int, now: Stamp) -> list[Moment]:
        """The moments that fit, none after the seal for an entry before it; the part of the second goes along."""
        case = self.desk.case
        sealed = case.seal is not None and self.event.seq < case.seal.seq
        upto = min(now.wall_us, case.seal.at.wall_us) if case.seal is not None and sealed else now.wall_us
        opened = case.opened.wall_us if case.opened is not None else now.wall_us
        since = min(opened, self.at.wall_us) - HALF_DAY
        part = self._part() if of_day // SECOND % 60 == int(clock_words(self.at)[-2:]) else 0
        found = [
            at.model_copy(update={"wall_us": at.wall_us + part})
            for at in fitting(case, of_day, now, since=since, upto=upto - part, zone=self.at, rules=offset_of)
        ]
        return sorted(found, key=lambda at: abs(at.wall_us - self.at.wall_us))

    def _part(self) -> int:
        """Microseconds of the entry's time beyond its whole second."""
        return self.at.wall_us % SECOND

    def _taker(self, at: Moment) -> Callable[[Press], None]:
        return lambda press: self.desk.tell(self._take(at, press))

    def _take(self, at: Moment, press: Press) -> str:
        complaint = refused(self.desk, self.event, "happened", str(at.wall_us), press)
        if not complaint:
            lead = self._lead_words(at, press.stamp)
            self.desk.turn(because(self.desk, self.event, "happened", str(at.wall_us), lead))
        return complaint

    def _lead_words(self, at: Moment, now: Stamp) -> list[str]:
        """What will be recorded, before it is: date, offset, and what becomes of the part of the second."""
        lead = [f"time {dated(at, now)} instead of {dated(self.at, now)}"]
        shown = self.at.model_copy(update={"wall_us": at.wall_us})
        if at.off_s != self.at.off_s:
            lead.append(f"the entry keeps its own {offset_words(self.at)} and will say {dated(shown, now)}")
        part = f".{self._part() // 1000:03d} s"
        if self._part() and at.wall_us % SECOND:
            lead.append(f"what it says beyond the second ({part}) is kept")
        elif self._part():
            lead.append(f"to the second: what it says beyond that ({part}) does not go along")
        return lead
