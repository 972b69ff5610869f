"""A list to pick from. A digit picks and records at once: opening the list was the asking."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from labcheck.console.panels.panel import Desk, Leading, Press
from labcheck.console.zones.rows import Piece, Rows

DIGITS = "1234567890"
PAGE = 9
FEW = 4
"""So many lines to pick from stay in sight, however much there is to be said above them."""


@dataclass(frozen=True, slots=True)
class Item:
    """One line of a list. ``note`` stands behind it; ``do`` gets the press that picked it.

    ``arrows``: no digit picks it, only Down and Enter, which no single key that is held down can be.
    """

    text: str
    do: Callable[[Press], None]
    note: str = ""
    digit: str = ""
    arrows: bool = False


class Pick(Leading):
    """Items with digits. Nothing is marked at first, so a second Enter on the key that opened it picks nothing.

    A list of more than ten comes in pages of nine, and 0 turns the page: every item stays at two keys or three.
    Where items bring their own digits there is one page, and those without are reached with Down and Enter.
    The first ``pinned`` items stay in sight however long the list is.
    """

    id = "pick"

    def __init__(
        self, desk: Desk, title: str, items: Sequence[Item], lead: Sequence[str] = (), panel_id: str = "pick"
    ) -> None:
        super().__init__(desk, title, lead)
        self.id = panel_id
        self.items = tuple(items)
        self.at: int | None = None
        self.page = 0
        self.pinned = 0
        self.own_digits = any(item.digit or item.arrows for item in self.items)
        self.paged = not self.own_digits and len(self.items) > len(DIGITS)

    def digit_of(self, index: int) -> str:
        """The digit that picks an item, or "" where only the arrows reach it."""
        if self.own_digits:
            return self.items[index].digit
        return DIGITS[index % PAGE] if self.paged else DIGITS[index]

    def shown(self) -> range:
        """The items of the page that is open."""
        if not self.paged:
            return range(len(self.items))
        return range(self.page * PAGE, min((self.page + 1) * PAGE, len(self.items)))

    def body(self, rows: Rows) -> None:
        shown = self.shown()
        keep = min(len(shown), max(FEW, rows.left // 2)) + self.paged
        self._lead.draw(rows, keep if self.items else 0)
        if not self.items:
            rows.add(Piece(" nothing to choose here" if not self.lead else ""))
            return
        if len(shown) > rows.left > self.pinned:
            for index in shown[: self.pinned]:
                self._row(rows, index)
            shown = shown[self.pinned :]
        room = max(1, rows.left - (1 if self.paged else 0))
        cut = len(shown) > room
        room -= 1 if cut else 0
        marked = 0 if self.at is None or self.at not in shown else self.at - shown.start
        first = shown.start + max(0, min(marked - room // 2, len(shown) - room))
        for index in range(first, min(shown.stop, first + room)):
            self._row(rows, index)
        if cut:
            rows.add(Piece(f"     {len(shown) - room} more: Down and Up move, Enter picks", "quiet"))
        if self.paged:
            pages = -(-len(self.items) // PAGE)
            rows.add(Piece("  0 ", "label"), Piece(f" more (page {self.page + 1} of {pages})", "quiet"))

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
        if self._lead.key(press):
            return True
        if self.paged and press.character == "0":
            self.page = (self.page + 1) % -(-len(self.items) // PAGE)
            self.at = None
            return True
        for index in self.shown():
            if press.character and press.character == self.digit_of(index):
                self.items[index].do(press)
                return True
        if press.key in ("down", "up") and self.items:
            self._move(1 if press.key == "down" else -1)
            return True
        if press.key == "enter":
            if self.at is None:
                self.desk.tell(f"press {'' if self._by_arrows else 'a digit, or '}Down and then Enter; Esc leaves")
            else:
                self.items[self.at].do(press)
            return True
        if press.character and press.character.isdigit():
            way = ": Down and then Enter pick it" if self._by_arrows else ""
            self.desk.tell(f"no line here has {press.character}{way}")
            return True
        return False

    @property
    def _by_arrows(self) -> bool:
        """Whether no line here has a digit."""
        return bool(self.items) and all(item.arrows for item in self.items)

    def _move(self, by: int) -> None:
        start = self.shown().start - 1 if by > 0 else self.shown().start
        self.at = ((start if self.at is None else self.at) + by) % len(self.items)
        self.page = self.at // PAGE if self.paged else 0
