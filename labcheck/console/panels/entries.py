"""The whole log: look back, void an entry, or amend one field of it. Nothing is removed; both stay to be read."""

from __future__ import annotations

from collections.abc import Callable

from labcheck.caselog.corrections import AMENDABLE, TIMED_ONLY, in_own_form
from labcheck.caselog.events import Event
from labcheck.caselog.folding import effective_payload
from labcheck.caselog.intents import VoidEvent
from labcheck.caselog.telling import clock_words, date_words, late_words, tell, tell_now
from labcheck.caselog.typed_times import dated
from labcheck.console.panels.amendable import as_recorded, wordings
from labcheck.console.panels.amending import because, refused, retiming
from labcheck.console.panels.asking import Ask
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
        days = {date_words(moment) for moment in (log[0].happened, log[-1].entered, self.desk.now())}
        for event in log[first - 1 : first - 1 + room]:
            self._row(rows, event, dated=len(days) > 1)
        rows.add(Piece(f" {self.at} of {len(log)}: Up, Down, PageUp, PageDown move; Enter corrects", "quiet"))

    def _row(self, rows: Rows, event: Event, *, dated: bool) -> None:
        case, marked = self.desk.case, event.seq == self.at
        void = "VOID" if event.seq in case.voided else "AMENDED" if event.seq in case.amended else ""
        day = f"{date_words(event.happened)} " if dated else ""
        rows.add(
            Piece(">" if marked else " ", "strong"),
            Piece(f"{event.seq:>4}  {day}{clock_words(event.happened)}  ", "quiet"),
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
    """What can be done with one entry, as it stands after its amendments."""
    case, now = desk.case, desk.now()
    void = "void it: it did not happen" if event.target is None else "take this correction back"
    items = [Item(void, _voider(desk, event))]
    payload, at = effective_payload(case, event.seq) or (event.what, event.happened)
    if event.kind in AMENDABLE or event.kind in TIMED_ONLY:
        items.append(Item("amend its time", lambda _press: desk.turn(retiming(desk, event)), dated(at, now)))
    for field in sorted(AMENDABLE.get(event.kind, ())):
        stands = in_own_form(payload, field)
        items.append(Item(f"amend {field.replace('_', ' ')}", _amender(desk, event, field), stands or "nothing"))
    lead = [f"{dated(at, now)}  {tell_now(case, event)}"]
    if event.seq in case.amended:
        lead.append(f"first written {dated(event.happened, now)}  {tell(case, event)}")
    return Pick(desk, f"ENTRY {event.seq}", items, lead, panel_id="entries")


def _voider(desk: Desk, event: Event) -> Callable[[Press], None]:
    def ask(_press: Press) -> None:
        def void(text: str, press: Press) -> None:
            record(desk, press, VoidEvent, target=event.seq, reason=text)

        desk.turn(reason_pick(desk, f"VOID {event.seq}: why", "correction", void, [tell(desk.case, event)]))

    return ask


def _amender(desk: Desk, event: Event, field: str) -> Callable[[Press], None]:
    what, _at = effective_payload(desk.case, event.seq) or (event.what, event.happened)
    now = in_own_form(what, field)

    def done(text: str, press: Press) -> str:
        value, complaint = as_recorded(desk.case, what, field, text)
        complaint = complaint or refused(desk, event, field, value, press)
        if not complaint:
            desk.turn(because(desk, event, field, value, [f"{field.replace('_', ' ')} {value} instead of {now}"]))
        return complaint

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
    def chosen(press: Press) -> None:
        complaint = refused(desk, event, field, value, press)
        if complaint:
            desk.tell(complaint)
        else:
            desk.turn(because(desk, event, field, value))

    return chosen
