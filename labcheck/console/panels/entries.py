"""The whole log: look back, void an entry, or amend one field of it. Nothing is removed; both stay to be read."""

from __future__ import annotations

from collections.abc import Callable

from labcheck.caselog.corrections import AMENDABLE, TIMED_ONLY, in_own_form
from labcheck.caselog.events import Event
from labcheck.caselog.folding import effective_payload
from labcheck.caselog.intents import AmendEvent, VoidEvent
from labcheck.caselog.telling import clock_words, late_words, tell
from labcheck.console.panels.amendable import wordings
from labcheck.console.panels.asking import Ask
from labcheck.console.panels.late import wall_time
from labcheck.console.panels.panel import Desk, Panel, Press, record
from labcheck.console.panels.pick import Item, Pick
from labcheck.console.panels.reasons import reason_pick
from labcheck.console.zones.rows import Piece, Rows


class Entries(Panel):
    """Every entry, the last one marked. Enter opens what can be done with the marked one."""

    id = "entries"
    hints = (("Up", "earlier"), ("Enter", "correct"))

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk, "ENTRIES")
        self.at = desk.case.head_seq

    def body(self, rows: Rows) -> None:
        log = self.desk.case.log
        room = max(1, rows.left - 1)
        first = max(1, min(self.at - room // 2, len(log) - room + 1))
        for event in log[first - 1 : first - 1 + room]:
            self._row(rows, event)
        rows.add(Piece(f" {self.at} of {len(log)}: Up, Down, PageUp, PageDown move; Enter corrects", "quiet"))

    def _row(self, rows: Rows, event: Event) -> None:
        case, marked = self.desk.case, event.seq == self.at
        void = "VOID" if event.seq in case.voided else "AMENDED" if event.seq in case.amended else ""
        rows.add(
            Piece(">" if marked else " ", "strong"),
            Piece(f"{event.seq:>4}  {clock_words(event.happened)}  ", "quiet"),
            Piece(f"{late_words(event)} " if late_words(event) else "", "amber"),
            Piece(tell(case, event), "held" if marked else "text"),
            right=(Piece(f"{void} ", "strong"),) if void else (),
        )

    def key(self, press: Press) -> bool:
        move = {"down": 1, "up": -1, "pagedown": 10, "pageup": -10, "home": -99999, "end": 99999}.get(press.key)
        if move is not None:
            self.at = max(1, min(self.at + move, self.desk.case.head_seq))
            return True
        if press.key in ("enter", "right"):
            event = self.desk.case.event(self.at)
            if event is not None:
                self.desk.turn(correcting(self.desk, event))
            return True
        return False


def open_panel(desk: Desk) -> Panel | None:
    """The log, at its end."""
    return Entries(desk)


def correcting(desk: Desk, event: Event) -> Panel:
    """What can be done with one entry."""
    case = desk.case
    void = "void it: it did not happen" if event.target is None else "take this correction back"
    items = [Item(void, _voider(desk, event))]
    stands = effective_payload(case, event.seq)
    payload = stands[0] if stands is not None else event.what
    if event.kind in AMENDABLE or event.kind in TIMED_ONLY:
        items.append(Item("amend its time", _retimer(desk, event), clock_words(event.happened)))
    for field in sorted(AMENDABLE.get(event.kind, ())):
        now = in_own_form(payload, field)
        items.append(Item(f"amend {field.replace('_', ' ')}", _amender(desk, event, field, now), now or "nothing"))
    return Pick(desk, f"ENTRY {event.seq}", items, [tell(case, event)], panel_id="entries")


def _voider(desk: Desk, event: Event) -> Callable[[Press], None]:
    def ask(_press: Press) -> None:
        def because(text: str, press: Press) -> None:
            record(desk, press, VoidEvent, target=event.seq, reason=text)

        desk.turn(reason_pick(desk, f"VOID {event.seq}: why", "correction", because, [tell(desk.case, event)]))

    return ask


def _retimer(desk: Desk, event: Event) -> Callable[[Press], None]:
    def done(text: str, press: Press) -> str:
        wall = wall_time(text, press.stamp)
        if wall is None:
            return f'"{text}" is not a time such as 14:05:30'
        desk.turn(_because(desk, event, "happened", str(wall)))
        return ""

    return lambda _press: desk.turn(
        Ask(desk, f"ENTRY {event.seq}", "it happened at hh:mm:ss", done, panel_id="entries", limit=8,
            allowed="0123456789:", text=clock_words(event.happened), foot="Enter, then the reason")
    )  # fmt: skip


def _amender(desk: Desk, event: Event, field: str, now: str | None) -> Callable[[Press], None]:
    def done(text: str, _press: Press) -> str:
        if text == (now or ""):
            return "that is what it says already"
        desk.turn(_because(desk, event, field, text or None))
        return ""

    offered = wordings(desk.case, event, field)
    if offered:
        items = [Item(words, _setter(desk, event, field, value)) for value, words in offered if value != now]
        title = f"ENTRY {event.seq}  {field.replace('_', ' ')}"
        return lambda _press: desk.turn(Pick(desk, title, items, panel_id="entries"))

    ask = f"{field.replace('_', ' ')} is"
    return lambda _press: desk.turn(
        Ask(desk, f"ENTRY {event.seq}", ask, done, panel_id="entries", text=now or "", foot="Enter, then the reason")
    )


def _setter(desk: Desk, event: Event, field: str, value: str) -> Callable[[Press], None]:
    return lambda _press: desk.turn(_because(desk, event, field, value))


def _because(desk: Desk, event: Event, field: str, value: str | None) -> Panel:
    def because(text: str, press: Press) -> None:
        record(desk, press, AmendEvent, target=event.seq, field=field, value=value, reason=text)

    return reason_pick(desk, f"AMEND {event.seq}: why", "correction", because)


