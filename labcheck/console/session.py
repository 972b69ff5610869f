"""The controller of a running case, without a widget: press -> stamp -> queue -> decide -> write -> fold.

Presses are decided one after the other, each against the case as the former left it, but every press keeps the
stamp of its own moment. Nothing is folded, and so nothing is shown as recorded, before the ledger has
acknowledged it. A press that could not be written stays at the head of the queue and is sent again with the same ids.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from concurrent.futures import Future
from dataclasses import dataclass, field
from typing import Any, Protocol

from labcheck.caselog.case import Case
from labcheck.caselog.deciding import Decided, Refused, decide
from labcheck.caselog.events import Event
from labcheck.caselog.folding import fold_all
from labcheck.caselog.intents import Intent
from labcheck.caselog.stamps import Stamp
from labcheck.console.bench import Deliver, Writes
from labcheck.console.view import Save, SaveState
from labcheck.ledger.errors import Fenced, NotSaved

SLOW_US = 300_000
"""From here a press that is not yet acknowledged is called slow on the screen."""

Make = Callable[[Case], Intent | None]
"""Makes the intent of a press once it is its turn, from the case as it then stands; None: nothing to do."""

class Acknowledged(Protocol):
    """What the ledger says once the events are committed."""

    @property
    def seqs(self) -> tuple[int, ...]: ...
    @property
    def head_hex(self) -> str: ...


class Listener(Protocol):
    """Who is told. Every call comes on the session's own thread."""

    def case_changed(self, events: tuple[Event, ...]) -> None: ...
    def refused(self, refusal: Refusal) -> None: ...
    def save_changed(self) -> None: ...


@dataclass(frozen=True, slots=True)
class Refusal:
    """A press that became nothing: why, what was meant, and when it was pressed (to send it again)."""

    why: Refused
    intent: Intent
    stamp: Stamp


@dataclass(frozen=True, slots=True)
class _Asked:
    make: Make
    stamp: Stamp


@dataclass(slots=True)
class _Writing:
    """The press that is with the writer, or waits to be sent again."""

    events: tuple[Event, ...]
    stamp: Stamp
    future: Future[Any] | None = None
    complaint: str = ""


@dataclass(slots=True)
class Session:
    """One running case. ``clock_words`` turns a stamp into "14:31:24" for the save line.

    ``reload`` reads the case from the ledger again, for when the ledger refuses what was decided.
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
    _queue: deque[_Asked] = field(default_factory=deque)
    _writing: _Writing | None = None

    # --- from the keys ------------------------------------------------------------------------------------

    def ask(self, make: Make, stamp: Stamp) -> None:
        """Queue a press. It is decided at once when nothing is being written."""
        if self.fenced:
            self._say("not_saved", self.fenced)
            return
        self._queue.append(_Asked(make, stamp))
        if self._writing is None:
            self._next()
        elif self._writing.future is None:
            self.retry()
        else:
            self._count_waiting()

    def send(self, intent: Intent, stamp: Stamp) -> None:
        """Queue an intent that does not depend on what is still being written."""
        self.ask(lambda _case: intent, stamp)

    @property
    def waiting(self) -> int:
        """Presses that are stamped but not yet in the ledger."""
        return len(self._queue) + (self._writing is not None)

    def look(self, now: Stamp) -> None:
        """To be called about once a second: says "slow", and sends again what could not be written."""
        if self._writing is None:
            return
        if self._writing.future is None:
            self.retry()
        elif now.mono_us - self._writing.stamp.mono_us > SLOW_US and self.save.state == "writing":
            self._say("slow", f"still writing {self._describe(self._writing)}")

    def show_writing(self) -> None:
        """Say "writing" if the press is not acknowledged by now (a quick commit would only flicker)."""
        if self._writing is not None and self._writing.future is not None and self.save.state in ("idle", "saved"):
            self._say("writing", f"writing {self._describe(self._writing)}")

    def heard(self, events: tuple[Event, ...], head_hex: str) -> None:
        """Entries that another console made, read from the ledger."""
        self.case = fold_all(self.case, events)
        self.head_hex = head_hex
        for listener in tuple(self.listeners):
            listener.case_changed(events)

    def retry(self) -> None:
        """Send the unsaved press again, with the ids it had."""
        if self._writing is not None and self._writing.future is None and not self.fenced:
            self._wait_for(self._writing, self.writer.retry())

    # --- decide and write ---------------------------------------------------------------------------------

    def _next(self) -> None:
        while self._queue and self._writing is None:
            asked = self._queue.popleft()
            intent = asked.make(self.case)
            if intent is None:
                continue
            outcome = decide(self.case, intent, asked.stamp)
            if isinstance(outcome, Decided):
                if outcome.events:
                    self._submit(_Writing(tuple(outcome.events), asked.stamp))
            else:
                self._tell_refused(Refusal(outcome, intent, asked.stamp))

    def _submit(self, writing: _Writing) -> None:
        self._writing = writing
        self._wait_for(writing, self.writer.submit(writing.events))

    def _wait_for(self, writing: _Writing, future: Future[Any]) -> None:
        writing.future = future
        future.add_done_callback(lambda done: self.deliver(lambda: self._done(writing, done)))

    def _done(self, writing: _Writing, done: Future[Any]) -> None:
        if writing is not self._writing or writing.future is not done:
            return
        error = done.exception()
        if error is None:
            self._acknowledged(writing, done.result())
        elif isinstance(error, Fenced):
            words = "another console has this case, enter it there"
            self.fenced = f"NOT SAVED {self._describe(writing)}: {words} ({error})"
            self._queue.clear()
            self._say("not_saved", self.fenced)
        elif isinstance(error, NotSaved | OSError):
            writing.future, writing.complaint = None, str(error)
            self._say("not_saved", f"NOT SAVED {self._describe(writing)}, use paper; trying again ({error})")
        else:
            self._writing = None
            if self.reload is not None:
                # The ledger knows better how the case stands; what was decided on the old state is void.
                self.case = self.reload()
            self._say("not_saved", f"NOT SAVED {self._describe(writing)}, press it again ({error})")
            self._next()

    def _acknowledged(self, writing: _Writing, ack: Acknowledged) -> None:
        self._writing = None
        self.case = fold_all(self.case, writing.events)
        self.head_hex = ack.head_hex
        self.save = Save("saved", f"saved {writing.events[-1].seq} {self.clock_words(writing.stamp)}", len(self._queue))
        for listener in tuple(self.listeners):
            listener.case_changed(writing.events)
        self._next()

    # --- telling ------------------------------------------------------------------------------------------

    def _describe(self, writing: _Writing) -> str:
        return f"{writing.events[-1].seq} {self.clock_words(writing.stamp)}"

    def _count_waiting(self) -> None:
        self._say(self.save.state, self.save.words)

    def _say(self, state: SaveState, words: str) -> None:
        self.save = Save(state, words, self.waiting)
        for listener in tuple(self.listeners):
            listener.save_changed()

    def _tell_refused(self, refusal: Refusal) -> None:
        for listener in tuple(self.listeners):
            listener.refused(refusal)
