"""A reading: which one, where it belongs, its value. A sample is sent first and reported later."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from decimal import Decimal, InvalidOperation
from typing import Any

from labcheck.caselog.intents import SendSample, TakeReading
from labcheck.caselog.limit_words import usual_words
from labcheck.caselog.stamps import span
from labcheck.caselog.telling import span_words
from labcheck.checklist import finding
from labcheck.checklist.model import Reading
from labcheck.checklist.unfolding import cusp_word
from labcheck.console.panels.asking import Ask
from labcheck.console.panels.panel import Desk, Panel, Press, record
from labcheck.console.panels.pick import Item, Pick
from labcheck.console.zones.rows import Piece, Rows

NUMBER = "0123456789.,-"
THOUSANDS = re.compile(r"-?\d{1,3}(?:,\d{3})+(?:\.\d*)?")
"""A comma and exactly three digits: some write thousands so, others a decimal; a thousandfold error either way."""


@dataclass(frozen=True, slots=True)
class Draft:
    """A reading on its way: what has been said so far."""

    reading: Reading
    place: str | None = None
    value: Decimal | None = None
    unit: str | None = None
    choice: str | None = None
    step: str | None = None
    rescue: int | None = None


def open_panel(desk: Desk) -> Panel | None:
    """All readings of the checklist; a sample stands twice, to be sent and to be reported."""
    items: list[Item] = []
    for reading in desk.case.checklist.reading:
        items.append(Item(reading.title, _starter(desk, reading), _pending(desk, reading)))
        if reading.sample:
            items.append(Item(f"{reading.title}: sample sent", _sender(desk, reading)))
    return Pick(desk, "READING", items, panel_id="reading")


def start(
    desk: Desk, reading_id: str, place: str | None = None, step: str | None = None, rescue: int | None = None
) -> Panel | None:
    """Straight to one reading, for a step that asks for it; ``place`` is its cusp or ostium where that is said.

    ``rescue``: the entry that opened the rescue whose step it is.
    """
    reading = finding.reading(desk.case.checklist, reading_id)
    if reading is None:
        desk.tell(f"the checklist has no reading {reading_id}")
        return None
    if place is not None and reading.per is not None:
        return _value(desk, Draft(reading, place=place, step=step, rescue=rescue))
    return _place(desk, Draft(reading, step=step, rescue=rescue))


def _starter(desk: Desk, reading: Reading) -> Callable[[Press], None]:
    return lambda _press: desk.turn(_place(desk, Draft(reading)))


def _sender(desk: Desk, reading: Reading) -> Callable[[Press], None]:
    return lambda press: record(desk, press, SendSample, reading=reading.id)


def _pending(desk: Desk, reading: Reading) -> str:
    waiting = [s for s in desk.case.samples if s.reading == reading.id and s.answered is None]
    if not waiting:
        return ""
    return f"sent {span_words(span(waiting[-1].sent, desk.now().moment()).us)} ago"


def _place(desk: Desk, draft: Draft) -> Panel:
    """Which cusp or ostium, where the reading has one."""
    reading = draft.reading
    if reading.per == "cusp":
        places: tuple[str, ...] = desk.case.order
    elif reading.per == "ostium":
        places = ("left", "right")
    else:
        return _value(desk, draft)
    if len(places) == 1:
        return _value(desk, replace(draft, place=places[0]))
    what = "cusp" if reading.per == "cusp" else "coronary"
    items = [
        Item(f"{cusp_word(p) if reading.per == 'cusp' else p} {what}", _turner(desk, _value, replace(draft, place=p)))  # type: ignore[arg-type]
        for p in places
    ]
    return Pick(desk, f"{reading.title}: which {what}", items, panel_id="reading")


def _turner(desk: Desk, make: Callable[[Desk, Draft], Panel], draft: Draft) -> Callable[[Press], None]:
    return lambda _press: desk.turn(make(desk, draft))


def _value(desk: Desk, draft: Draft) -> Panel:
    reading = draft.reading
    title = f"{reading.title}{f', {draft.place}' if draft.place else ''}"
    if reading.options:
        items = [Item(option.text, _chosen(desk, replace(draft, choice=option.id))) for option in reading.options]
        return Pick(desk, title, items, panel_id="reading")

    def typed(text: str, press: Press) -> str:
        value = number(text)
        if value is None:
            return no_number(text) if text else "type the value; if it is not known, Esc and write a note"
        return _ahead(desk, replace(draft, value=value, unit=panel.unit or reading.unit), press)

    units = tuple(dict.fromkeys(u for u in (reading.unit, *reading.units) if u))
    panel = Ask(
        desk, title, "value", typed, panel_id="reading", lead=_limits(desk, reading), units=units, limit=12,
        allowed=NUMBER,
    )  # fmt: skip
    return panel


def number(text: str) -> Decimal | None:
    """A typed number; a comma counts as the decimal point. None if it is none, or could be read in two ways."""
    if THOUSANDS.fullmatch(text):
        return None
    try:
        value = Decimal(text.replace(",", ".")) if text else None
    except InvalidOperation:
        return None
    return value if value is not None and value.is_finite() else None


def no_number(text: str) -> str:
    """Why what was typed is not taken for a number."""
    if not text:
        return "nothing typed"
    if THOUSANDS.fullmatch(text):
        return f'"{text}" is not clear: type {text.replace(",", "")}, or a point for decimals'
    return f'"{text}" is not a number'


def _limits(desk: Desk, reading: Reading) -> list[str]:
    words = usual_words(desk.case, reading.low, reading.high, reading.source)
    return [words, "anything else is asked once more"] if words else []


def _chosen(desk: Desk, draft: Draft) -> Callable[[Press], None]:
    def take(press: Press) -> None:
        _ahead(desk, draft, press)

    return take


def _ahead(desk: Desk, draft: Draft, press: Press) -> str:
    """Ask who judged it where that is wanted, else record."""
    if draft.reading.judged_by:
        desk.turn(Judged(desk, draft))
        return ""
    _record(desk, draft, press)
    return ""


class Judged(Pick):
    """By what a finding was judged, and by whom. Who is left unsaid unless Tab says it."""

    def __init__(self, desk: Desk, draft: Draft) -> None:
        self.draft = draft
        self.roles = (None, *finding.owners(desk.case.checklist))
        self.role = 0
        items = [Item(judge.text, self._by(judge.id)) for judge in draft.reading.judged_by]
        items.append(Item("not said", self._by(None), digit=""))
        super().__init__(desk, f"{draft.reading.title}: judged by", items, panel_id="reading")

    def body(self, rows: Rows) -> None:
        who = (self.roles[self.role] or "not said").replace("_", " ")
        rows.add(Piece(" who: ", "label"), Piece(who, "strong"), Piece("   Tab changes it", "quiet"))
        super().body(rows)

    def key(self, press: Press) -> bool:
        if press.key == "tab":
            self.role = (self.role + 1) % len(self.roles)
            return True
        return super().key(press)

    def _by(self, judged_by: str | None) -> Callable[[Press], None]:
        return lambda press: _record(self.desk, self.draft, press, judged_by, self.roles[self.role])


def _record(
    desk: Desk, draft: Draft, press: Press, judged_by: str | None = None, judge: str | None = None
) -> None:
    where: dict[str, Any] = {}
    if draft.place is not None:
        where["cusp" if draft.reading.per == "cusp" else "ostium"] = draft.place
    record(
        desk, press, TakeReading, reading=draft.reading.id, value=draft.value, unit=draft.unit,
        choice=draft.choice, judged_by=judged_by, judge=judge, step=draft.step, rescue=draft.rescue,
        **where,
    )  # fmt: skip
