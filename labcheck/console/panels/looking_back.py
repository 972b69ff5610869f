"""Looking back on the case in the console: the debrief's own pages, turned with the arrows. It records nothing."""

from __future__ import annotations

from typing import TYPE_CHECKING

from labcheck.console.panels.panel import Desk, Panel, Press
from labcheck.console.zones.rows import Piece, Rows, inert
from labcheck.debrief.screen import UNREAD, screen_lines, screen_pages
from labcheck.ledger.errors import LedgerError

if TYPE_CHECKING:
    from labcheck.debrief.history import History


class LookingBack(Panel):
    """One page at a time, beside own earlier cases as far as their figures are kept: no old log is read here."""

    id = "debrief"
    hints = (("Down", "next page"), ("Up", "page before"))

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk, "LOOK BACK  so far" if desk.case.seal is None else "LOOK BACK")
        self.page = 1
        self.size = (80, 20)
        self.history, self.unread = _own_history(desk)

    def body(self, rows: Rows) -> None:
        self.size = (rows.width, rows.left)
        shown = screen_lines(self.desk.case, rows.width, rows.left, self.history, self.page, self.unread)
        for line in shown[: rows.left]:
            rows.add(Piece(inert(line, rows.plain)))

    def key(self, press: Press) -> bool:
        move = {"down": 1, "pagedown": 1, "right": 1, "up": -1, "pageup": -1, "left": -1}.get(press.key)
        if move is None:
            return False
        last = len(screen_pages(self.desk.case, *self.size, self.history, self.unread))
        self.page = min(max(1, self.page + move), last)
        return True


def _own_history(desk: Desk) -> tuple[History | None, str]:
    """Own earlier cases beside a sealed real case, and what is to be said of those that are not there."""
    case = desk.case
    if case.rehearsal:
        return None, "a rehearsal is not compared with cases"
    if case.seal is None:
        return None, "own earlier cases stand here once the case is sealed"
    # Only the running case's own screen has a console, and with it a ledger, behind it.
    console = getattr(desk, "console", None)
    if console is None or console.folder is None:
        return None, UNREAD
    from labcheck.debrief.at_hand import history_at_hand

    try:
        found, without = history_at_hand(console.ledger, console.folder, case, desk.head_hex)
    except LedgerError:
        return None, UNREAD
    if not without:
        return found, ""
    return found, f"figures of {without} more cases are not kept yet: labcheck debrief {case.key} reads them"


def open_panel(desk: Desk) -> Panel:
    """The first page of the present case's debrief."""
    return LookingBack(desk)
