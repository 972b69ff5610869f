"""The console program: thin on purpose. It owns the ledger's writer, the clock, the screens and the way out."""

from __future__ import annotations

import asyncio
import contextlib
import contextvars
import importlib
import os
import signal
import sys
import threading
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from textual import events
from textual.app import App
from textual.screen import Screen

from labcheck.console.driver import console_driver
from labcheck.console.dropped import named
from labcheck.console.faults import noted
from labcheck.console.hand import Hand
from labcheck.console.keys import printed
from labcheck.console.panels.panel import Press
from labcheck.console.start_screen import StartScreen
from labcheck.console.theme import THEME, ZONE_CSS

if TYPE_CHECKING:
    from labcheck.console.bench import Bench, Shelf
    from labcheck.console.playing import Player
    from labcheck.console.session import Session
    from labcheck.ledger.clocks import Clock
    from labcheck.ledger.contract import Ledger
    from labcheck.ledger.lease import Lease
    from labcheck.ledger.writer import Writer

TICK_S = 1.0
WRITING_SHOWN_S = 0.03
"""A commit usually takes a thousandth of a second; the word "writing" appears only when one takes longer than this."""
SLOW_S = 0.3
STALL_US = 4_000_000
"""Without a tick for so long the program was stopped or starved; the log says so."""


@dataclass(frozen=True, slots=True)
class Stock:
    """What the console works with. ``folder``: the ledger's folder on the disk, None for one in memory."""

    ledger: Ledger
    shelf: Shelf
    folder: Path | None = None
    clock: Clock | None = None
    player: Player | None = None


class Console(App[None]):
    """The console. ``return_code`` is the exit status: 128 + n after signal n, 1 after a fault of ours.

    ``later`` gives the stock after the first picture is on the screen: opening a ledger takes longer than that.
    """

    ENABLE_COMMAND_PALETTE = False
    ALLOW_SELECT = False
    AUTO_FOCUS = None
    ESCAPE_TO_MINIMIZE = False
    BINDINGS: ClassVar = []
    CSS = ZONE_CSS + "\nScreen { background: $background; overflow: hidden; layers: zones; }\n"

    ledger: Ledger
    shelf: Shelf
    clock: Clock
    own_clock: Clock
    writer: Writer
    bench: Bench

    def __init__(
        self,
        ledger: Ledger | None = None,
        shelf: Shelf | None = None,
        *,
        clock: Clock | None = None,
        folder: Path | None = None,
        player: Player | None = None,
        later: Callable[[], Stock] | None = None,
        strict: bool = False,
    ) -> None:
        super().__init__(driver_class=console_driver(self.get_driver_class()))
        self.register_theme(THEME)
        self.theme = THEME.name
        self.folder: Path | None = None
        self.player: Player | None = None
        self.lease: Lease | None = None
        self.session: Session | None = None
        self.lease_name = f"console {os.getpid()}"
        self.strict = strict
        self.plain = (getattr(sys.__stderr__, "encoding", None) or "ascii").lower().replace("-", "") != "utf8"
        self.mono = "NO_COLOR" in os.environ
        self.ready = False
        self.failure: BaseException | None = None
        self.hand = Hand(self._look_again, lambda: self.screen)  # type: ignore[arg-type, return-value]
        self._later = later
        if ledger is not None and shelf is not None:
            self._equip(Stock(ledger, shelf, folder, clock, player))

    def _equip(self, stock: Stock) -> None:
        from labcheck.console.bench import Bench
        from labcheck.ledger.clocks import SystemClock
        from labcheck.ledger.lease import Lease
        from labcheck.ledger.writer import Writer

        self.ledger, self.shelf, self.folder, self.player = stock.ledger, stock.shelf, stock.folder, stock.player
        # A script's clock is its case's alone: everything else in this program happens in real time.
        self.own_clock = SystemClock() if stock.player is not None else stock.clock or SystemClock()
        self.clock = stock.clock or self.own_clock
        self.writer = Writer(stock.ledger, side_folder=stock.folder)
        self.bench = Bench(stock.ledger, self.writer, self._deliver, stock.folder)
        if stock.folder is not None:
            self.lease = Lease(stock.folder, self.lease_name)
        self.ready = True

    # --- starting and leaving -----------------------------------------------------------------------------

    def on_mount(self) -> None:
        self._console_context = contextvars.copy_context()
        loop = self._console_loop = asyncio.get_running_loop()
        for number in (signal.SIGTERM, getattr(signal, "SIGHUP", None)):
            if number is not None:
                with contextlib.suppress(NotImplementedError, ValueError, RuntimeError):
                    loop.add_signal_handler(number, self._signalled, int(number))
        self.set_interval(TICK_S, self.safely(self._tick))
        if self.ready:
            self._begin()
        else:
            self.push_screen(StartScreen())

    def first_picture_shown(self) -> None:
        """The start screen is on the terminal: now open the ledger, beside the screen's own thread."""
        if self._later is not None and not self.ready:
            threading.Thread(target=self._open, name="opening", daemon=True).start()

    def _open(self) -> None:
        later = self._later
        try:
            stock = later() if later is not None else None
            importlib.import_module("labcheck.console.home")
        except BaseException as failure:
            self.failure = failure
            self._deliver(lambda: self.exit(return_code=1))
            return
        if stock is not None:
            self._deliver(lambda: self._opened(stock))

    def _opened(self, stock: Stock) -> None:
        early = getattr(self.screen, "early", ())
        try:
            self._equip(stock)
            self._begin()
        except Exception as failure:  # nothing is on the screen yet that could go on
            self.failure = failure
            self.exit(return_code=1)
            return
        if early:
            self.say_home(f"{named(early)} not taken, the ledger was not open yet: press again")

    def _begin(self) -> None:
        if self.player is not None:
            self.player.begin(self)
        else:
            self.go_home()

    def _signalled(self, number: int) -> None:
        self.safely(self.hand.settle)()
        self.exit(return_code=128 + number)

    def leave(self) -> None:
        """End the program; the open case waits for the next start."""
        self.exit()

    def finish(self) -> None:
        """After the screen is gone: what waits is still written, or else kept beside the ledger, and said."""
        if self.ready:
            from labcheck.console.leaving import finish

            finish(self.session, self.writer, self.folder)
            if self.lease is not None:
                self.lease.close()

    # --- the screens --------------------------------------------------------------------------------------

    def go_home(self) -> None:
        """The first screen, with the list as it now is."""
        from labcheck.console.home import HomeScreen
        from labcheck.console.leaving import taken_along

        left, self.session = self.session, None
        if left is not None and left.fenced:
            self.writer.let_go(left.case.key)
        if self.lease is not None:
            self.lease.close()
        self.clock = self.own_clock
        if self.player is not None:
            self.player.hand_over()
            self.player = None
        self._show(HomeScreen(self.ledger.cases(unfinished_only=True), self.plain))
        if left is not None and (lost := taken_along(left)):
            self.say_home(lost)

    def plan(self, *, rehearsal: bool) -> None:
        """The plan of a new case."""
        from labcheck.console.plan_screen import PlanScreen

        self._show(PlanScreen(self.shelf, rehearsal=rehearsal, plain=self.plain))

    def resume(self, key: str, *, take: bool = False) -> None:
        """Go on with a case, or look at a closed one, or at one that another console has (``take``: take it over)."""
        from labcheck.console.taking_up import take_up

        take_up(self, key, take=take)

    def show_held(self, session: Session) -> None:
        """A case that another console has."""
        from labcheck.console.held_screen import HeldScreen
        from labcheck.console.viewing import Viewing

        self._show(HeldScreen(session, Viewing(plain=self.plain, mono=self.mono), self.clock.stamp))

    def show_case(self, session: Session) -> None:
        """The running case."""
        from labcheck.console.case_screen import CaseScreen
        from labcheck.console.viewing import Viewing
        from labcheck.ledger.clockwatch import ClockWatch

        if self.lease is not None and not session.case.log:
            self.lease.acquire(session.case.key, session.case.epoch, self.own_clock.stamp().wall_us)
        viewing = Viewing(plain=self.plain, mono=self.mono)
        # Rehearsed time runs as it is told to; only real time is worth watching.
        real = self.clock is self.own_clock
        watch = ClockWatch(self.clock.stamp(), stall_us=STALL_US) if real else None
        screen = CaseScreen(session, viewing, self.clock.stamp, watch)
        self.session, session.clock = session, self.clock.stamp
        if session.earlier.brought_in or session.earlier.left:
            importlib.import_module("labcheck.console.panels.kept").show(screen)
        self._show(screen)

    def say_here(self, words: str) -> None:
        """One line in answer to the last press, on whatever screen there is."""
        screen = self.screen
        if hasattr(screen, "answer"):
            screen.answer = words
            self._tick()

    def say_home(self, words: str) -> None:
        """One line on the first screen, or on the one that is there instead."""
        say = getattr(self.screen, "say", None)
        if say is not None:
            say(words)
        else:
            self.say_here(words)

    def _show(self, screen: Screen[None]) -> None:
        if len(self.screen_stack) > 1:
            self.switch_screen(screen)
        else:
            self.push_screen(screen)

    # --- the keys: the stamp first ------------------------------------------------------------------------

    async def on_event(self, event: events.Event) -> None:
        if isinstance(event, events.Key) and not event.is_forwarded:
            if not self.ready:
                self._too_early(event)
                return
            stamp = self.clock.stamp(event.time)
            if self.player is not None and self.player.playing:
                # The first key of a person only takes the keys back: it was meant for another moment.
                self.player.hand_over()
                self.hand.saw(Press(event.key, event.character, stamp, event.time))
                self.say_here("the script has stopped: you have the keys")
                return
            take = getattr(self.screen, "take", None)
            if take is not None:
                self.safely(take)(Press(event.key, event.character, stamp, event.time))
            return
        if isinstance(event, events.Paste) and not event.is_forwarded:
            paste = getattr(self.screen, "paste", None)
            if paste is not None:
                self.safely(self.hand.settle)()
                self.safely(paste)(event.text)
            return
        await super().on_event(event)

    def _too_early(self, event: events.Key) -> None:
        """A key before there is a ledger, and so no clock to stamp it with: the first screen will say so."""
        early = getattr(self.screen, "early", None)
        if early is not None:
            early.append(printed(event.key, event.character))

    # --- time ---------------------------------------------------------------------------------------------

    def play(self, step_s: float, step: Callable[[], object]) -> None:
        """Call the player's ``step`` again and again, as long as it plays."""

        def go() -> None:
            step()
            if self.player is None or not self.player.playing:
                timer.stop()

        timer = self.set_interval(step_s, self.safely(go))

    def _tick(self) -> None:
        # While the program ends there is no screen any more, and a timer may still come.
        tick = getattr(self.screen, "tick", None) if self.screen_stack else None
        if tick is not None:
            tick()

    def _look_again(self, wait_s: float, call: Callable[[], None]) -> object:
        """After so long, if there still is a screen."""
        return self.set_timer(wait_s, self.safely(lambda: call() if self.screen_stack else None))

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
        if self._thread_id == threading.get_ident():
            safe()
            return
        with contextlib.suppress(RuntimeError):  # the loop is closed: finish takes what is left
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
        words = noted(self.folder, fault)
        screen = self.screen
        if hasattr(screen, "answer"):
            screen.answer = words


def run_console(
    ledger: Ledger,
    shelf: Shelf,
    *,
    clock: Clock | None = None,
    folder: Path | None = None,
    player: Player | None = None,
    mouse: bool = False,
) -> int:
    """Run the console on an open ledger until it is left, and give the exit status. The owner closes the ledger."""
    return _run(Console(ledger, shelf, clock=clock, folder=folder, player=player), mouse)


def start_console(later: Callable[[], Stock], *, mouse: bool = False) -> int:
    """Show the first picture, then get the stock, then run until it is left. Raises what ``later`` raises."""
    return _run(Console(later=later), mouse)


def _run(console: Console, mouse: bool) -> int:
    try:
        console.run(mouse=mouse)
    finally:
        console.finish()
    if console.failure is not None:
        raise console.failure
    return console.return_code or 0
