"""What every panel is: it draws itself as text, takes key presses, and sends intents through the desk."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Protocol

from textual.content import Content

from labcheck.console.zones.rows import Piece, Rows, fold, inert

if TYPE_CHECKING:
    from labcheck.caselog.case import Case
    from labcheck.caselog.intents import Intent
    from labcheck.caselog.stamps import Stamp


@dataclass(frozen=True, slots=True)
class Press:
    """A key press with the stamp of its own moment. ``character`` is what it types, or None.

    ``at``: the same moment in seconds of the machine's own clock, whose pace no rehearsal changes.
    """

    key: str
    character: str | None
    stamp: Stamp
    at: float = 0.0


class Desk(Protocol):
    """What a panel may do. The running case's screen is one; a late entry wraps another."""

    @property
    def case(self) -> Case: ...

    @property
    def head_hex(self) -> str:
        """The digest of the case's last acknowledged entry, hex."""
        ...

    def press_id(self) -> str:
        """A fresh id for an intent."""
        ...

    def now(self) -> Stamp:
        """The clocks as they stand."""
        ...

    def send(self, intent: Intent, stamp: Stamp) -> None:
        """Record it: decide, write, show. A refusal that needs a reason opens the reason panel."""
        ...

    def turn(self, panel: Panel | None) -> None:
        """Show this panel instead, or none."""
        ...

    def tell(self, words: str) -> None:
        """Answer the press in one line, without recording."""
        ...


class Panel:
    """Base of all panels. ``typing``: printable keys are text here. ``hints``: its own keys for the bottom row."""

    id = "panel"
    typing = False
    hints: tuple[tuple[str, str], ...] = (("1-9", "pick"), ("Down", "move"))

    def __init__(self, desk: Desk, title: str) -> None:
        self.desk = desk
        self.title = title

    def draw(self, width: int, height: int, plain: bool = False, saved: str = "") -> Content:
        """The panel's text for that many cells; never more lines than ``height``.

        ``saved``: what became of the last press, since the panel covers the place where that stands.
        """
        rows = Rows(width, height, plain)
        rows.head(self.title, right=f"{saved}   Esc leaves" if saved and width >= 60 else "Esc leaves")
        self.body(rows)
        return rows.content()

    def body(self, rows: Rows) -> None:
        """Add the lines under the title."""
        raise NotImplementedError

    def key(self, press: Press) -> bool:
        """Take a press. False: not mine, the key table decides."""
        return False

    def paste(self, text: str) -> None:
        """Text was pasted: taken only where text is typed."""


def say(rows: Rows, text: str, most: int = 3) -> None:
    """A sentence over at most so many rows."""
    for part in fold(inert(text, rows.plain), rows.width - 2, min(most, max(1, rows.left))):
        rows.add(Piece(f" {part}"))


class Lead:
    """What stands above a list or a line to type in. Where it is longer than its room, it is turned, never cut."""

    def __init__(self, lines: Sequence[str]) -> None:
        self.lines = tuple(lines)
        self._at = 0
        self._page = 0

    def draw(self, rows: Rows, keep: int) -> None:
        """Add the lines, and leave so many rows for what stands below."""
        folded = [part for text in self.lines for part in fold(inert(text, rows.plain), rows.width - 2, 3)]
        room = max(1, rows.left - keep)
        self._page = 0 if len(folded) <= room else max(1, room - 1)
        self._at = min(self._at, len(folded) - self._page) if self._page else 0
        for part in folded[self._at : self._at + (self._page or room)]:
            rows.add(Piece(f" {part}"))
        if self._page:
            seen = f"lines {self._at + 1} to {self._at + self._page} of {len(folded)}"
            rows.add(Piece(f" {seen}: PageDown, PageUp", "amber"))

    def key(self, press: Press) -> bool:
        """Turn it; False where it is all in sight, or for another key."""
        by = {"pagedown": self._page, "pageup": -self._page}.get(press.key, 0)
        self._at = max(0, self._at + by)
        return by != 0


class Leading(Panel):
    """A panel with lines above what it offers."""

    def __init__(self, desk: Desk, title: str, lead: Sequence[str] = ()) -> None:
        super().__init__(desk, title)
        self._lead = Lead(lead)

    @property
    def lead(self) -> tuple[str, ...]:
        """What is said above."""
        return self._lead.lines

    @lead.setter
    def lead(self, lines: Sequence[str]) -> None:
        if tuple(lines) != self._lead.lines:
            self._lead = Lead(lines)


def record(desk: Desk, press: Press, model: Callable[..., Intent], **fields: Any) -> None:
    """Close the panel and record: the one way in which a panel writes."""
    desk.turn(None)
    desk.send(model(press=desk.press_id(), **fields), press.stamp)
