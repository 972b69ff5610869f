"""A list to pick from. A digit picks and records at once: opening the list was the asking."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from textual.content import Content

from labcheck.console.panels.panel import MARKED, STRONG, Desk, Panel, Press, line, wrapped

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

    def body(self, width: int, height: int) -> list[Content]:
        rows = [row for text in self.lead for row in wrapped(text, width)]
        room = max(1, height - len(rows))
        first = 0 if self.at is None else max(0, min(self.at - room // 2, len(self.items) - room))
        shown = range(first, min(len(self.items), first + room))
        rows += [self._row(index, width) for index in shown]
        if not self.items:
            rows.append(line(" nothing to choose here"))
        elif len(shown) < len(self.items):
            rows[-1] = line(f" {len(self.items) - len(shown) + 1} more: Down and Up move, Enter picks")
        return rows

    def _row(self, index: int, width: int) -> Content:
        item, marked = self.items[index], index == self.at
        pointer = ">" if marked else " "
        text = line(f"{pointer}", (f"{self.digit_of(index):>2}", STRONG), ("  " + item.text, MARKED if marked else ""))
        return text + line(f"   {item.note}") if item.note else text

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
