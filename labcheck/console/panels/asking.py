"""A line to type into: numbers, times, words. The line is ours so that every key keeps its own time and
F4 (bailout), F2 (mark) and F9 (undo) work in the middle of a word."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from unicodedata import normalize

from labcheck.console.panels.panel import Desk, Leading, Press
from labcheck.console.zones.rows import Piece, Rows


class LineEdit:
    """A line of text with a cursor. ``allowed``: the characters it takes, or None for any printable one."""

    def __init__(self, text: str = "", limit: int = 200, allowed: str | None = None) -> None:
        self.text = text
        self.at = len(text)
        self.limit = limit
        self.allowed = allowed

    def insert(self, text: str) -> None:
        """Put text at the cursor; what is not allowed is left out, line ends become spaces."""
        clean = " ".join(text.split()) if any(c in text for c in "\r\n\t") else text
        wanted = "".join(c for c in clean if c.isprintable() and (self.allowed is None or c in self.allowed))
        wanted = wanted[: max(0, self.limit - len(self.text))]
        self.text = self.text[: self.at] + wanted + self.text[self.at :]
        self.at += len(wanted)
        self._compose()

    def _compose(self) -> None:
        """Letter and accent become one sign (NFC): the ledger refuses text that can be spelt in two ways."""
        if not self.text.isascii():
            self.at = len(normalize("NFC", self.text[: self.at]))
            self.text = normalize("NFC", self.text)

    def key(self, press: Press) -> bool:
        """Edit by one key; False if it is not an editing key."""
        match press.key:
            case "backspace":
                self.text = self.text[: max(0, self.at - 1)] + self.text[self.at :]
                self.at = max(0, self.at - 1)
            case "delete":
                self.text = self.text[: self.at] + self.text[self.at + 1 :]
            case "left":
                self.at = max(0, self.at - 1)
            case "right":
                self.at = min(len(self.text), self.at + 1)
            case "home":
                self.at = 0
            case "end":
                self.at = len(self.text)
            case _:
                if press.character is None or not press.character.isprintable():
                    return False
                self.insert(press.character)
        self._compose()
        return True

    def refused(self, press: Press) -> str:
        """Why a character that was typed is not in the line; "" for an editing key."""
        if press.character is None or not press.character.isprintable():
            return ""
        if self.allowed is not None and press.character not in self.allowed:
            return f'"{press.character}" is not taken here: {"digits" if "0" in self.allowed else "letters"} only'
        return f"no more than {self.limit} characters here" if len(self.text) >= self.limit else ""

    def pieces(self, room: int) -> tuple[Piece, ...]:
        """The line with its cursor in reverse, scrolled so that the cursor is in sight."""
        first = max(0, self.at - max(1, room - 1))
        text = self.text[first : first + room] + " "
        at = self.at - first
        return Piece(text[:at], "strong"), Piece(text[at], "held"), Piece(text[at + 1 :], "strong")


class Ask(Leading):
    """Asks for one line. ``done`` gets the text and the press of Enter and gives a complaint, or "" if all is well.

    ``units``: what Tab changes between; ``unit`` is the present one.
    """

    typing = True

    def __init__(
        self,
        desk: Desk,
        title: str,
        ask: str,
        done: Callable[[str, Press], str],
        *,
        panel_id: str = "ask",
        lead: Sequence[str] = (),
        units: Sequence[str] = (),
        text: str = "",
        limit: int = 200,
        allowed: str | None = None,
        foot: str = "Enter records it",
    ) -> None:
        super().__init__(desk, title, lead)
        self.id = panel_id
        self.ask = ask
        self.done = done
        self.units = tuple(units)
        self.unit = self.units[0] if self.units else None
        self.edit = LineEdit(text, limit, allowed)
        self.foot = foot
        self.complaint = ""

    def body(self, rows: Rows) -> None:
        self._lead.draw(rows, 3 + (len(self.units) > 1))
        label = f" {self.ask}: "
        tail = f" {self.unit}" if self.unit else ""
        room = max(4, rows.width - len(label) - len(tail) - 2)
        rows.add(Piece(label, "label"), *self.edit.pieces(room), Piece(tail))
        if len(self.units) > 1:
            rows.add(Piece(f" Tab changes the unit ({', '.join(self.units)})", "quiet"))
        rows.add(Piece(f" {self.foot}", "quiet"))
        if self.complaint:
            rows.add(Piece(f" {self.complaint}", "amber"))

    def key(self, press: Press) -> bool:
        if press.key == "enter":
            self.complaint = self.done(self.edit.text.strip(), press)
            return True
        if self._lead.key(press):
            return True
        if press.key == "tab" and len(self.units) > 1:
            self.unit = self.units[(self.units.index(self.unit or "") + 1) % len(self.units)]
            return True
        before = self.edit.text
        took = self.edit.key(press)
        self.complaint = self.edit.refused(press) if took and self.edit.text == before else ""
        return took

    def paste(self, text: str) -> None:
        self.edit.insert(text)
