"""The console program: thin on purpose. It owns the ledger's writer, the clock, the screens and the way out."""

from __future__ import annotations

import asyncio
import contextlib
import contextvars
import os
import signal
import sys
import time
import traceback
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from textual import events
from textual.app import App
from textual.screen import Screen

from labcheck.checklist.complaint import ChecklistError
from labcheck.console.driver import console_driver
from labcheck.console.home import HomeScreen
from labcheck.console.opening import Bench, Shelf
from labcheck.console.panels.panel import Press
from labcheck.console.theme import THEME, ZONE_CSS
from labcheck.ledger.clocks import Clock, SystemClock
from labcheck.ledger.clockwatch import ClockWatch
from labcheck.ledger.contract import Ledger
from labcheck.ledger.errors import LedgerError
from labcheck.ledger.writer import Writer

if TYPE_CHECKING:
    from labcheck.console.playing import Player
    from labcheck.console.session import Session

TICK_S = 1.0
WRITING_SHOWN_S = 0.03
"""A commit usually takes a thousandth of a second; the word "writing" appears only when one takes longer than this."""
SLOW_S = 0.3
STALL_US = 4_000_000
"""Without a tick for so long the program was stopped or starved; the log says so."""


class Console(App[None]):
    """The console. ``return_code`` is the exit status: 128 + n after signal n, 1 after a fault of ours."""

    ENABLE_COMMAND_PALETTE = False
    ALLOW_SELECT = False
    AUTO_FOCUS = None
    ESCAPE_TO_MINIMIZE = False
    BINDINGS: ClassVar = []
    CSS = ZONE_CSS + "\nScreen { background: $background; overflow: hidden; layers: zones; }\n"

    def __init__(
        self,
        ledger: Ledger,
        shelf: Shelf,
        *,
        clock: Clock | None = None,
        folder: Path | None = None,
        player: Player | None = None,
        strict: bool = False,
    ) -> None:
        super().__init__(driver_class=console_driver(self.get_driver_class()))
        self.register_theme(THEME)
        self.theme = THEME.name
        self.ledger = ledger
        self.shelf = shelf
        self.clock = clock or SystemClock()
        self.folder = folder
        self.player = player
        self.strict = strict
        self.plain = (getattr(sys.__stderr__, "encoding", None) or "ascii").lower().replace("-", "") != "utf8"
        self.mono = "NO_COLOR" in os.environ
        self.writer = Writer(ledger, side_folder=folder)
        self.bench = Bench(ledger, self.writer, self._deliver, folder)

    # --- starting and leaving -----------------------------------------------------------------------------

    def on_mount(self) -> None:
        self._console_context = contextvars.copy_context()
        loop = asyncio.get_running_loop()
        self._console_loop = loop
        for number in (signal.SIGTERM, getattr(signal, "SIGHUP", None)):
            if number is not None:
                with contextlib.suppress(NotImplementedError, ValueError, RuntimeError):
                    loop.add_signal_handler(number, self._signalled, int(number))
        self.set_interval(TICK_S, self.safely(self._tick))
        if self.player is not None:
            self.player.begin(self)
        else:
            self.go_home()

    def _signalled(self, number: int) -> None:
        self.exit(return_code=128 + number)

    def leave(self) -> None:
        """End the program; the open case waits for the next start."""
        self.exit()

    def finish(self) -> None:
        """After the screen is gone: what was handed to the writer is still written."""
        self.writer.close(timeout_s=5.0)

    # --- the screens --------------------------------------------------------------------------------------

    def go_home(self) -> None:
        """The first screen, with the list as it now is."""
        self._show(HomeScreen(self.ledger.cases(unfinished_only=True), self.plain))

    def plan(self, *, rehearsal: bool) -> None:
        """The plan of a new case."""
        from labcheck.console.plan_screen import PlanScreen

        self._show(PlanScreen(self.shelf, rehearsal=rehearsal, plain=self.plain))

    def resume(self, key: str) -> None:
        """Go on with a case, or look at a closed one. A case that cannot be read is told in one line."""
        from labcheck.console.opening import resume_case

        try:
            self.show_case(resume_case(self.bench, key, self.clock.stamp()))
        except (LedgerError, ChecklistError) as fault:
            self.say_home(str(fault))

    def show_case(self, session: Session) -> None:
        """The running case."""
        from labcheck.console.case_screen import CaseScreen
        from labcheck.console.viewing import Viewing

        viewing = Viewing(plain=self.plain, mono=self.mono)
        # A script's clock runs as it is told to; only real time is worth watching.
        watch = ClockWatch(self.clock.stamp(), stall_us=STALL_US) if self.player is None else None
        self._show(CaseScreen(session, viewing, self.clock.stamp, watch))

    def say_here(self, words: str) -> None:
        """One line in answer to the last press, on whatever screen there is."""
        screen = self.screen
        if hasattr(screen, "answer"):
            screen.answer = words
            self._tick()

    def say_home(self, words: str) -> None:
        """One line on the first screen."""
        if isinstance(self.screen, HomeScreen):
            self.screen.answer = words
            self.screen.paint()

    def _show(self, screen: Screen[None]) -> None:
        if len(self.screen_stack) > 1:
            self.switch_screen(screen)
        else:
            self.push_screen(screen)

    # --- the keys: the stamp first ------------------------------------------------------------------------

    async def on_event(self, event: events.Event) -> None:
        if isinstance(event, events.Key) and not event.is_forwarded:
            stamp = self.clock.stamp(event.time)
            if self.player is not None and self.player.playing:
                # The first key of a person only takes the keys back: it was meant for another moment.
                self.player.hand_over()
                self.say_here("the script has stopped: you have the keys")
                return
            take = getattr(self.screen, "take", None)
            if self.player is not None and self.player.playing:
                self.player.hand_over()
            if take is not None:
                self.safely(take)(Press(event.key, event.character, stamp, event.time))
            return
        if isinstance(event, events.Paste) and not event.is_forwarded:
            paste = getattr(self.screen, "paste", None)
            if paste is not None:
                self.safely(paste)(event.text)
            return
        await super().on_event(event)

    # --- time ---------------------------------------------------------------------------------------------

    def play(self, step_s: float, step: Callable[[], object]) -> None:
        """Call the player's ``step`` again and again."""
        self.set_interval(step_s, self.safely(step))

    def _tick(self) -> None:
        tick = getattr(self.screen, "tick", None)
        if tick is not None:
            tick()

    def watch_writing(self, session: Session) -> None:
        """Look again shortly: a press that is not acknowledged by then is said to be writing, later slow."""
        if session.waiting:
            self.set_timer(WRITING_SHOWN_S, self.safely(session.show_writing))
            self.set_timer(SLOW_S, self.safely(lambda: session.look(self.clock.stamp())))

    def script_words(self) -> str:
        """What a script that is playing says just now, or ""."""
        if self.player is None or not self.player.playing:
            return ""
        done, of = self.player.place
        said = f': "{self.player.said}"' if self.player.said else ""
        return f"script {done} of {of}{said}   (any key takes over)"

    def _deliver(self, call: Callable[[], None]) -> None:
        """Run on the console's own thread; may be called from the writer's."""
        safe = self.safely(call)
        if self._thread_id == _thread():
            safe()
            return
        with contextlib.suppress(RuntimeError):  # the loop is closed: the press is in the ledger all the same
            self._console_loop.call_soon_threadsafe(safe, context=self._console_context)

    # --- faults of ours -----------------------------------------------------------------------------------

    def safely(self, call: Callable[..., object]) -> Callable[..., None]:
        """A fault in a handler or timer must not take the console away in the middle of a case.

        It is said on the screen, and written to a file beside the ledger for whoever mends it.
        """

        def guarded(*arguments: object) -> None:
            try:
                call(*arguments)
            except Exception as fault:
                if self.strict:
                    raise
                self._note_fault(fault)

        return guarded

    def _note_fault(self, fault: Exception) -> None:
        words = f"fault in the program ({type(fault).__name__}): look whether the last press was saved, else use paper"
        if self.folder is not None:
            with contextlib.suppress(OSError), (self.folder / "faults.log").open("a", encoding="utf-8") as log:
                log.write(f"{time.strftime('%Y-%m-%dT%H:%M:%S%z')} {''.join(traceback.format_exception(fault))}\n")
        screen = self.screen
        if hasattr(screen, "answer"):
            screen.answer = words


def _thread() -> int:
    import threading

    return threading.get_ident()


def run_console(
    ledger: Ledger,
    shelf: Shelf,
    *,
    clock: Clock | None = None,
    folder: Path | None = None,
    player: Player | None = None,
    mouse: bool = False,
) -> int:
    """Run the console until it is left, and give the exit status. The ledger stays open; closing it is the owner's."""
    console = Console(ledger, shelf, clock=clock, folder=folder, player=player)
    try:
        console.run(mouse=mouse)
    finally:
        console.finish()
    return console.return_code or 0


