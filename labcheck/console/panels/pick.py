"""A list to pick from. A digit picks and records at once: opening the list was the asking."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from labcheck.console.panels.panel import Desk, Panel, Press, say
from labcheck.console.zones.rows import Piece, Rows

DIGITS = "1234567890"


@dataclass(frozen=True, slots=True)
class Item:
    """One line of a list. ``note`` stands behind it; ``do`` gets the press that picked it."""

    text: str
    do: Callable[[Press], None]
    note: str = ""
    digit: str = ""


class Pick(Panel):
    """Items with digits. Nothing is marked at first, so a second Enter on the key that opened it picks nothing."""

    id = "pick"

    def __init__(
        self, desk: Desk, title: str, items: Sequence[Item], lead: Sequence[str] = (), panel_id: str = "pick"
    ) -> None:
        super().__init__(desk, title)
        self.id = panel_id
        self.items = tuple(items)
        self.lead = tuple(lead)
        self.at: int | None = None

    def digit_of(self, index: int) -> str:
        """The digit that picks an item, or "" where only the arrows reach it."""
        own = self.items[index].digit
        if own or any(item.digit for item in self.items):
            return own
        return DIGITS[index] if index < len(DIGITS) else ""

    def body(self, rows: Rows) -> None:
        for text in self.lead:
            say(rows, text)
        if not self.items:
            rows.add(Piece(" nothing to choose here"))
            return
        room = max(1, rows.left)
        cut = len(self.items) > room
        if cut:
            room = max(1, room - 1)
        first = 0 if self.at is None else max(0, min(self.at - room // 2, len(self.items) - room))
        for index in range(first, min(len(self.items), first + room)):
            self._row(rows, index)
        if cut:
            rows.add(Piece(f" {len(self.items) - room} more: Down and Up move, Enter picks", "quiet"))

    def _row(self, rows: Rows, index: int) -> None:
        item, marked = self.items[index], index == self.at
        note = Piece(f"   {item.note}", "quiet")
        rows.add(
            Piece(">" if marked else " ", "strong"),
            Piece(f"{self.digit_of(index):>2} ", "label"),
            Piece(f" {item.text} ", "held" if marked else "text"),
            *([note] if item.note else []),
        )

    def key(self, press: Press) -> bool:
        for index, item in enumerate(self.items):
            if press.character and press.character == self.digit_of(index):
                item.do(press)
                return True
        if press.key in ("down", "up") and self.items:
            step = 1 if press.key == "down" else -1
            start = -1 if step > 0 else 0
            self.at = ((start if self.at is None else self.at) + step) % len(self.items)
            return True
        if press.key == "enter":
            if self.at is None:
                self.desk.tell("press a digit, or Down and then Enter; Esc leaves")
            else:
                self.items[self.at].do(press)
            return True
        return bool(press.character and press.character.isdigit())
