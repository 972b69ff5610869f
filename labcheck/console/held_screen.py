"""A case that another console has: it can be read, and grows as it is recorded there; nothing is written here."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from labcheck.console.case_screen import CaseScreen
from labcheck.console.keys import by_id
from labcheck.console.taking_up import who_holds
from labcheck.ledger.errors import LedgerError

if TYPE_CHECKING:
    from labcheck.caselog.events import Event
    from labcheck.caselog.intents import Intent
    from labcheck.caselog.stamps import Stamp
    from labcheck.console.keys import Key
    from labcheck.console.panels.panel import Press
    from labcheck.console.view import View

READING = frozenset({"down", "up", "back", "quit", "help", "sources", "debrief", "entries", "takeover"})
"""Keys of the table that only read, or leave."""

ASK_HOLDER_TICKS = 5
"""Seconds between two looks whether the other console is still there."""


class HeldScreen(CaseScreen):
    """The case as the ledger has it, read again every second. T takes it over."""

    read_only = True
    # The program's clock may tick before the screen is mounted.
    _holder: str | None = None
    _ticks = 0

    @property
    def holder(self) -> str:
        """Which console has the case and since when, or "" once it has left."""
        if self._holder is None:
            self._holder = who_holds(self.console, self.case.key, self.case.epoch)
        return self._holder

    def tick(self) -> None:
        self._ticks += 1
        if self._ticks % ASK_HOLDER_TICKS == 0:
            self._holder = None
        self._follow()
        super().tick()

    def _follow(self) -> None:
        """What the other console has written since. It may be writing just now: then the next second will tell."""
        ledger = self.console.ledger
        try:
            head = ledger.head(self.case.key)
            if head.seq <= self.case.head_seq:
                return
            fresh = [event for event in ledger.events(self.case.key) if event.seq > self.case.head_seq]
        except LedgerError as fault:
            self.tell(f"not up to date: {fault}")
            return
        self.session.heard(tuple(fresh), head.hash_hex)

    @property
    def words(self) -> str:
        """Why nothing can be recorded, and the way out."""
        key = by_id("takeover").shown
        if self.holder:
            return f"READ ONLY: open on {self.holder}. {key} takes it over"
        return f"READ ONLY: the other console has left the case. {key} goes on with it here"

    def view(self, hurry: bool = False) -> View:
        seen = super().view(hurry)
        return replace(seen, read_only=True, answer=seen.answer or self.words)

    def _act(self, line: Key, press: Press) -> None:
        if line.id in READING:
            super()._act(line, press)
        else:
            self.tell(f"not recorded. {self.words}")

    def send(self, intent: Intent, stamp: Stamp) -> None:
        """From a panel that also corrects (the entries): nothing is recorded here."""
        self.tell(f"not recorded. {self.words}")

    def case_changed(self, events: tuple[Event, ...]) -> None:
        self._paint_press()
