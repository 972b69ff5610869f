"""What every panel is: it draws itself as text, takes key presses, and sends intents through the desk."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Protocol

from textual.content import Content

from labcheck.caselog.case import Case
from labcheck.caselog.intents import Intent
from labcheck.caselog.stamps import Stamp

STRONG = "bold"
MARKED = "reverse"


@dataclass(frozen=True, slots=True)
class Press:
    """A key press with the stamp of its own moment. ``character`` is what it types, or None."""

    key: str
    character: str | None
    stamp: Stamp


class Desk(Protocol):
    """What a panel may do. The running case's screen is one; a late entry wraps another."""

    @property
    def case(self) -> Case: ...

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
    """Base of all panels. ``typing``: printable keys are text here."""

    id = "panel"
    typing = False

    def __init__(self, desk: Desk, title: str) -> None:
        self.desk = desk
        self.title = title

    def draw(self, width: int, height: int) -> Content:
        """The panel's text for that many cells; never more lines than ``height``."""
        rows = [self._head(width), *self.body(width, max(1, height - 1))]
        return Content("\n").join(row.truncate(width, ellipsis=True) for row in rows[:height])

    def _head(self, width: int) -> Content:
        leave = "Esc leaves"
        title = self.title[: max(4, width - len(leave) - 4)]
        gap = " " * max(1, width - len(title) - len(leave) - 2)
        return Content.assemble((f" {title}", STRONG), (f"{gap}{leave} ", ""))

    def body(self, width: int, height: int) -> list[Content]:
        """The lines under the title."""
        raise NotImplementedError

    def key(self, press: Press) -> bool:
        """Take a press. False: not mine, the key table decides."""
        return False

    def paste(self, text: str) -> None:
        """Text was pasted: taken only where text is typed."""


def line(*parts: Any) -> Content:
    """One row of text, never read as markup."""
    return Content.assemble(*(part if isinstance(part, tuple | Content) else (str(part), "") for part in parts))


def wrapped(text: str, width: int, indent: str = " ") -> list[Content]:
    """A paragraph as rows."""
    rows, room = [""], max(8, width - 2 * len(indent))
    for word in text.split():
        if rows[-1] and len(rows[-1]) + 1 + len(word) > room:
            rows.append("")
        rows[-1] = f"{rows[-1]} {word}".strip()
    return [line(indent + row) for row in rows]
