"""Looking back on the case in the console: the debrief's own pages, turned with the arrows. It records nothing."""

from __future__ import annotations

from labcheck.console.panels.panel import Desk, Panel, Press
from labcheck.console.zones.rows import Piece, Rows, inert
from labcheck.debrief.screen import screen_lines, screen_pages


class LookingBack(Panel):
    """One page at a time. Own history is not read here: the sheet and the page on paper compare."""

    id = "debrief"
    hints = (("Down", "next page"), ("Up", "page before"))

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk, "LOOK BACK  so far" if desk.case.seal is None else "LOOK BACK")
        self.page = 1
        self.size = (80, 20)

    def body(self, rows: Rows) -> None:
        self.size = (rows.width, rows.left)
        for line in screen_lines(self.desk.case, rows.width, rows.left, page=self.page)[: rows.left]:
            rows.add(Piece(inert(line, rows.plain)))

    def key(self, press: Press) -> bool:
        move = {"down": 1, "pagedown": 1, "right": 1, "up": -1, "pageup": -1, "left": -1}.get(press.key)
        if move is None:
            return False
        last = len(screen_pages(self.desk.case, *self.size))
        self.page = min(max(1, self.page + move), last)
        return True


def open_panel(desk: Desk) -> Panel:
    """The first page of the present case's debrief."""
    return LookingBack(desk)
