"""The first screen: cases that are not finished come first, the mark stands on the last one, Enter goes on with it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from textual import events
from textual.content import Content
from textual.screen import Screen

from labcheck.caselog.clockwords import clock_words, date_words
from labcheck.checklist.words import CUSP_WORDS
from labcheck.console.hand import Kind
from labcheck.console.keys import find, printed
from labcheck.console.panels.panel import Press
from labcheck.console.zone import Zone
from labcheck.console.zones.rows import Piece, Rows, fold, inert
from labcheck.ledger.contract import CaseLine

if TYPE_CHECKING:
    from labcheck.console.app import Console

CAUTION = "labcheck records and prompts, no advice: local protocol and physician decide."


@dataclass(frozen=True, slots=True)
class Line:
    """One line to choose. ``case`` is empty for the lines that are not cases."""

    text: str
    note: str
    do: Callable[[], None]
    case: str = ""


class HomeScreen(Screen[None]):
    """A list and one mark. Nothing here writes to a case."""

    def __init__(self, unfinished: Sequence[CaseLine], plain: bool = False) -> None:
        super().__init__()
        self.unfinished = tuple(unfinished)
        self.closed: tuple[CaseLine, ...] | None = None
        self.plain = plain
        self.at = 0
        self.answer = ""
        self._body = Zone("home")

    @property
    def console(self) -> Console:
        """The program."""
        return self.app  # type: ignore[return-value]

    def compose(self) -> Any:
        self._body.add_class("zone")
        yield self._body

    def on_mount(self) -> None:
        self._place()

    def on_resize(self, event: events.Resize) -> None:
        self._place()

    def _place(self) -> None:
        size = self.app.size
        self._body.styles.offset = (0, 0)
        self._body.styles.width, self._body.styles.height = size.width, size.height
        self.paint()

    def tick(self) -> None:
        """The room clock in the corner."""
        self.paint()

    def paint(self) -> None:
        """Draw the list anew."""
        self._body.show(self._draw)

    def say(self, words: str) -> None:
        """One line above the keys."""
        self.answer = words
        self.paint()

    def lines(self) -> list[Line]:
        """What can be chosen: unfinished cases, new ones, then the closed cases once they were asked for."""
        console = self.console
        found = [self._case_line(line) for line in self.unfinished]
        found.append(Line("new case", "N", lambda: console.plan(rehearsal=False)))
        found.append(Line("rehearsal by hand: not real", "H", lambda: console.plan(rehearsal=True)))
        if self.closed is None:
            found.append(Line("closed cases", "to look back, correct, or add a late fact", self._show_closed))
        else:
            found += [self._case_line(line) for line in self.closed]
        return found

    def _case_line(self, line: CaseLine) -> Line:
        cusps = ", then ".join(CUSP_WORDS[c] for c in line.targets)
        state = "closed" if line.sealed else "NOT FINISHED"
        real = "REHEARSAL  " if line.rehearsal else ""
        text = f"{line.case}  {real}{line.technique}, {cusps}"
        note = f"{state}, {line.entries} entries, last {date_words(line.last)} {clock_words(line.last, seconds=False)}"
        return Line(text, note, lambda: self.console.resume(line.case), line.case)

    def _show_closed(self) -> None:
        self.closed = tuple(line for line in self.console.ledger.cases() if line.sealed)
        self.at = len(self.unfinished) + (2 if self.closed else 1)
        if not self.closed:
            self.answer = "no case is closed yet"

    def _draw(self, width: int, height: int) -> Content:
        rows = Rows(width, height, self.plain)
        now = self.console.clock.stamp()
        rows.add(Piece(" labcheck "), right=(Piece(f"{date_words(now)}  {clock_words(now)} "),), fill="held")
        rows.blank()
        lines = self.lines()
        answer = fold(inert(self.answer, self.plain), max(1, width - 2), 3)
        room = max(1, rows.left - 3 - len(answer))
        first = max(0, min(self.at - room // 2, len(lines) - room))
        for index in range(first, min(len(lines), first + room)):
            self._row(rows, lines[index], index == self.at)
        rows.blank(max(0, rows.left - 2 - len(answer)))
        for part in answer:
            rows.add(Piece(f" {part}", "amber"))
        rows.add(Piece(f" {CAUTION}", "quiet"))
        rows.add(
            Piece(" "), Piece(" Enter ", "held"), Piece(" open   "), Piece(" N ", "held"), Piece(" new case   "),
            Piece(" H ", "held"), Piece(" rehearse   "), Piece(" F1 ", "held"), Piece(" keys   "),
            Piece(" ctrl+Q ", "held"), Piece(" quit"),
        )  # fmt: skip
        return rows.content()

    def _row(self, rows: Rows, line: Line, marked: bool) -> None:
        rows.add(
            Piece(" > " if marked else "   ", "strong"),
            Piece(f" {line.text} ", "held" if marked else "text"),
            Piece(f"   {line.note}", "quiet"),
        )

    # --- the keys -----------------------------------------------------------------------------------------

    bounce_s = 0.0

    @property
    def standing(self) -> object:
        """What the keys are for."""
        return self

    def kind(self, press: Press) -> Kind:
        """What a press would do."""
        return "moves" if press.key in ("down", "up") else "opens"

    def not_taken(self, press: Press, why: str) -> None:
        """Say that a press was not taken."""
        self.say(f"{printed(press.key, press.character)} NOT TAKEN: {why}")

    def take(self, press: Press) -> None:
        """One key press."""
        self.console.hand.take(self, press)

    def act(self, press: Press) -> None:
        """What it does."""
        self.answer = ""
        line = find(press.key, "home")
        lines = self.lines()
        match line.id if line else "":
            case "down":
                self.at = min(self.at + 1, len(lines) - 1)
            case "up":
                self.at = max(self.at - 1, 0)
            case "resume":
                lines[self.at].do()
            case "new":
                self.console.plan(rehearsal=False)
            case "rehearse":
                self.console.plan(rehearsal=True)
            case "help":
                self.answer = "labcheck keys prints the card; F1 in a case shows every key"
            case "quit":
                self.console.leave()
            case _:
                self.answer = f"{printed(press.key, press.character)} does nothing here"
        self.paint()

    def paste(self, text: str) -> None:
        """Nothing is typed here."""
