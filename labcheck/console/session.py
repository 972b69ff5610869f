"""The controller of a running case, without a widget: press -> stamp -> queue -> decide -> write -> fold.

Presses are decided one after the other, each against the case as the former left it, but every press keeps the
stamp of its own moment. Nothing is folded, and so nothing is shown as recorded, before the ledger has
acknowledged it. A press that could not be written stays at the head of the queue and is sent again with the same ids.
One that never will be written from here is named, with its time, until somebody has had the time to read it.
"""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable, Sequence
from concurrent.futures import Future
from dataclasses import dataclass, field
from typing import Any

from labcheck.caselog.case import Case
from labcheck.caselog.deciding import Decided
from labcheck.caselog.events import Event
from labcheck.caselog.folding import fold_all
from labcheck.caselog.intents import Intent
from labcheck.caselog.stamps import Stamp
from labcheck.console.bench import Deliver, Writes
from labcheck.console.earlier import Earlier
from labcheck.console.keys import by_id
from labcheck.console.listening import Acknowledged, Listener, Refusal, Unseen
from labcheck.console.unwritten import (
    OWN_INTENTS,
    Asked,
    Make,
    Unless,
    Unwritten,
    foresee,
    listed,
    of_events,
)
from labcheck.console.view import Save, SaveState
from labcheck.ledger.errors import Fenced, LedgerError, NotSaved

__all__ = ["Listener", "Refusal", "Session"]

SLOW_US = 300_000
"""From here a press that is not yet acknowledged is called slow on the screen."""

READ_US = 1_000_000
"""A key that comes later than this after a press was said to be lost was pressed by somebody who has read it."""
AGAIN_S = 0.2
"""So often a press that the disk refuses is sent again while the program ends."""
TAKEN = "another console has this case"
WAY_OUT = f"{by_id('quit').shown} leaves"


@dataclass(slots=True)
class _Writing:
    """The press that is with the writer, or waits to be sent again."""

    events: tuple[Event, ...]
    stamp: Stamp
    future: Future[Any] | None = None


@dataclass(slots=True)
class Session:
    """One running case. ``clock_words`` turns a stamp into "14:31:24" for the save line.

    ``reload`` reads the case from the ledger again, for when the ledger refuses what was decided. ``clock``: the one
    that stamps the presses. ``lost``: what was pressed and will not be written from here. ``fenced``: why nothing is.
    ``earlier``: what the run before could not save.
    """

    case: Case
    writer: Writes
    deliver: Deliver
    clock_words: Callable[[Stamp], str]
    head_hex: str = ""
    listeners: list[Listener] = field(default_factory=list)
    save: Save = field(default_factory=Save)
    fenced: str = ""
    reload: Callable[[], Case] | None = None
    clock: Callable[[], Stamp] | None = None
    lost: list[Unwritten] = field(default_factory=list)
    earlier: Earlier = field(default_factory=Earlier)
    _queue: deque[Asked] = field(default_factory=deque)
    _writing: _Writing | None = None
    _stands: tuple[SaveState, str] = ("idle", "")
    _saved: tuple[SaveState, str] = ("idle", "")
    _unread: tuple[Unwritten, ...] = ()
    _why_lost: str = ""
    _lost_us: int = 0
    _beyond: Case | None = None

    # --- from the keys ------------------------------------------------------------------------------------

    def ask(self, make: Make, stamp: Stamp, own: bool = False, unless: Unless | None = None) -> None:
        """Queue a press. It is decided at once when nothing is being written. ``own``: the program's own entry."""
        asked = Asked(make, stamp, own, unless)
        if not own and self._unread and stamp.mono_us >= self._lost_us + READ_US:
            self._unread = ()
            self._set(*self._stands)
        if self.fenced:
            self._put_aside((asked,))
            return
        self._queue.append(asked)
        if self._writing is None:
            self._next()
        elif self._writing.future is None:
            self.retry()
        else:
            self._say(*self._stands)

    def send(self, intent: Intent, stamp: Stamp) -> None:
        """Queue an intent that does not depend on what is still being written."""
        self.ask(lambda _case: intent, stamp, own=getattr(intent, "do", "") in OWN_INTENTS)

    @property
    def waiting(self) -> int:
        """Presses that are stamped but not yet in the ledger."""
        return len(self._queue) + (self._writing is not None)

    def pending(self) -> tuple[Unwritten, ...]:
        """The presses that wait, named by what they would become; asking records nothing."""
        case, found = self.case, list[Unwritten | None]()
        if self._writing is not None:
            case, first = of_events(case, self._writing.events)
            found.append(first)
        for asked in self._queue:
            case, press = foresee(case, asked)
            found.append(press)
        return tuple(press for press in found if press is not None)

    def look(self, now: Stamp) -> None:
        """To be called about once a second: says "slow", and sends again what could not be written."""
        if self._writing is None:
            return
        if self._writing.future is None:
            self.retry()
        elif now.mono_us - self._writing.stamp.mono_us > SLOW_US and self._stands[0] == "writing":
            self._say("slow", f"still writing {self._describe(self._writing)}")

    def show_writing(self) -> None:
        """Say "writing" if the press is not acknowledged by now (a quick commit would only flicker)."""
        if self._writing is not None and self._writing.future is not None and self._stands[0] in ("idle", "saved"):
            self._say("writing", f"writing {self._describe(self._writing)}")

    def heard(self, events: tuple[Event, ...], head_hex: str) -> None:
        """Entries that another console made, read from the ledger."""
        self.case = fold_all(self.case, events)
        self.head_hex = head_hex
        self._tell(lambda listener: listener.case_changed(events))

    def retry(self) -> None:
        """Send the unsaved press again, with the ids it had."""
        if self._writing is not None and self._writing.future is None and not self.fenced:
            self._wait_for(self._writing, self.writer.retry())

    def see_earlier(self) -> None:
        """Somebody has entered what an earlier run left, or has it on paper: it is named no more."""
        self.writer.see(self.case.key, [left.key for left in self.earlier.left])
        self.earlier = Earlier(self.earlier.brought_in)

    def drain(self, until_s: float) -> tuple[Unwritten, ...]:
        """When the program ends: decide and write what waits, until that moment of the machine's own clock.

        Nobody is told any more. Gives what is not in the ledger then, and what became nothing unseen.
        """
        unseen = Unseen()
        self.listeners[:] = [unseen]
        self.deliver = lambda _call: None
        known = len(self.lost)
        while self.waiting and not self.fenced:
            self._drain_one(until_s)
            if time.monotonic() >= until_s:
                break
        return (*self.pending(), *unseen.presses, *self.lost[known:])

    # --- decide and write ---------------------------------------------------------------------------------

    def _next(self) -> None:
        fault: Exception | None = None
        while self._queue and self._writing is None:
            try:
                self._decide(self._queue.popleft())
            except Exception as ours:  # what stands behind a fault of ours must not wait for the next key
                fault = fault or ours
        if self._writing is None and self.save.waiting:
            self._say(*self._stands)
        if fault is not None:
            raise fault

    def _decide(self, asked: Asked) -> None:
        try:
            intent, outcome = asked.decide(self.case)
        except Exception:
            self._lose((Unwritten("a press", asked.stamp.moment(), own=asked.own),), "fault in the program, use paper")
            raise
        if isinstance(outcome, Decided):
            if outcome.events:
                self._submit(_Writing(tuple(outcome.events), asked.stamp))
        elif outcome is not None and intent is not None:
            refusal = Refusal(outcome, intent, asked.stamp)
            self._tell(lambda listener: listener.refused(refusal))

    def _submit(self, writing: _Writing) -> None:
        self._writing = writing
        self._wait_for(writing, self.writer.submit(writing.events))

    def _wait_for(self, writing: _Writing, future: Future[Any]) -> None:
        writing.future = future
        future.add_done_callback(lambda done: self.deliver(lambda: self._done(writing, done)))

    def _drain_one(self, until_s: float) -> None:
        writing = self._writing
        try:
            if writing is None:
                self._next()
            elif writing.future is None:
                time.sleep(AGAIN_S)
                self.retry()
            else:
                writing.future.exception(timeout=max(0.0, until_s - time.monotonic()))
                self._done(writing, writing.future)
        except TimeoutError:
            return
        except Exception:  # named already; the presses behind it are still to be written
            return

    def _done(self, writing: _Writing, done: Future[Any]) -> None:
        if writing is not self._writing or writing.future is not done:
            return
        error = done.exception()
        if error is None:
            self._acknowledged(writing, done.result())
        elif isinstance(error, Fenced):
            self._fence(writing, str(error))
        elif isinstance(error, NotSaved | OSError):
            writing.future = None
            _, press = of_events(self.case, writing.events)
            use = "nothing to write down" if press.own else "use paper"
            self._say("not_saved", f"NOT SAVED {press.named}, {use}; trying again ({error})")
        else:
            self._unfit(writing, error)

    def _acknowledged(self, writing: _Writing, ack: Acknowledged) -> None:
        self._writing = None
        self.case = fold_all(self.case, writing.events)
        self.head_hex = ack.head_hex
        self._saved = ("saved", f"saved {self._describe(writing)}")
        self._set(*self._saved)
        try:
            self._tell(lambda listener: listener.case_changed(writing.events))
        finally:
            self._next()

    # --- what is not written from here --------------------------------------------------------------------

    def _fence(self, writing: _Writing, why: str) -> None:
        """Another console has the case: what was pressed here is named and kept, and nothing waits any more."""
        queued = tuple(self._queue)
        self._queue.clear()
        self.fenced, self._writing = why, None
        self._stands = ("idle", "")
        self._beyond, press = of_events(self.case, writing.events)  # the writer kept it
        self._put_aside(queued, press)

    def _put_aside(self, queued: Sequence[Asked], first: Unwritten | None = None) -> None:
        case, found = self._beyond or self.case, [first]
        for asked in queued:
            case, press = foresee(case, asked)
            found.append(press)
            if press is None or press.own:
                continue
            if press.events:
                self.writer.keep(press.events)
            else:
                self.writer.keep_words(self.case.key, press.words, press.at)
        self._beyond = case
        self._lose([press for press in found if press is not None], f"{TAKEN}, enter it there ({WAY_OUT})")

    def _unfit(self, writing: _Writing, error: BaseException) -> None:
        """The ledger knows better how the case stands; what was decided on the old state is void."""
        self._writing = None
        _, press = of_events(self.case, writing.events)
        if press.own:
            self._say(*self._saved)
        else:
            self._stands = ("idle", "")
            self.writer.keep(writing.events)
            # Said first: reading the case again may fail too.
            self._lose((press,), f"press it again ({error})")
        try:
            if self.reload is not None:
                self.case = self.reload()
        except LedgerError as fault:
            self._lose((), f"use paper: the log cannot be read again ({fault})")
        finally:
            self._next()

    def _lose(self, presses: Sequence[Unwritten], why: str) -> None:
        """Name what will not be written from here, until a key that was pressed after it could be read."""
        lost = tuple(press for press in presses if not press.own)
        self.lost += lost
        self._unread += lost
        self._why_lost = why
        if lost:
            self._lost_us = self.clock().mono_us if self.clock is not None else 0
        self._say(*self._stands)

    # --- telling ------------------------------------------------------------------------------------------

    def _describe(self, writing: _Writing) -> str:
        return f"{writing.events[-1].seq} {self.clock_words(writing.stamp)}"

    def _set(self, state: SaveState, words: str) -> None:
        self._stands = (state, words)
        if self._unread:
            *others, latest = self._unread
            also = f"; also {listed(others)}" if others else ""
            # The latest and what to do come first: a narrow screen ends before the rest.
            said = f"NOT SAVED {latest.named}: {self._why_lost}{also}"
            state, words = "not_saved", f"{said}; {words}" if words else said
        elif self.fenced:
            state, words = "not_saved", f"NOT SAVED from now on: {TAKEN}; {WAY_OUT}"
        self.save = Save(state, words, self.waiting)

    def _say(self, state: SaveState, words: str) -> None:
        self._set(state, words)
        self._tell(lambda listener: listener.save_changed())

    def _tell(self, call: Callable[[Listener], None]) -> None:
        fault: Exception | None = None
        for listener in tuple(self.listeners):
            try:
                call(listener)
            except Exception as ours:  # the others must hear of it all the same
                fault = fault or ours
        if fault is not None:
            raise fault
