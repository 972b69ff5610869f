"""What stands on the screen while the ledger is being opened. It knows nothing but the program's name."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from textual.screen import Screen

from labcheck.console.zone import Zone
from labcheck.console.zones.rows import Piece, Rows

if TYPE_CHECKING:
    from textual.content import Content

    from labcheck.console.app import Console


class StartScreen(Screen[None]):
    """One line. Keys pressed here are not taken, there is nothing yet that they could mean; the next screen says so."""

    def __init__(self) -> None:
        super().__init__()
        self.early: list[str] = []

    def compose(self) -> Any:
        body = Zone("start")
        body.add_class("zone")
        yield body

    def on_mount(self) -> None:
        body = self.query_one(Zone)
        size = self.app.size
        body.styles.width, body.styles.height = size.width, size.height
        body.show(self._draw)
        console: Console = self.app  # type: ignore[assignment]
        self.call_after_refresh(console.first_picture_shown)

    def _draw(self, width: int, height: int) -> Content:
        rows = Rows(width, height)
        rows.add(Piece(" labcheck "), fill="held")
        rows.blank()
        rows.add(Piece("  opening the ledger"))
        return rows.content()
