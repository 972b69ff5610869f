"""The writer thread: presses go in, acknowledgements come out, and nothing looks saved before it is.

A commit can stall for seconds on a bad disk; the console's thread never waits for one. Order is strictly
first in, first out. When a press could not be saved, every later one waits behind it, because it was decided
on it.
"""

from __future__ import annotations

import contextlib
import queue
import threading
from collections.abc import Callable, Sequence
from concurrent.futures import Future
from pathlib import Path
from typing import Any, Literal

from labcheck.caselog.events import Event
from labcheck.caselog.stamps import Moment
from labcheck.ledger.contract import Ack, Ledger
from labcheck.ledger.errors import Busy, Fenced, LedgerError, NotSaved, Refused
from labcheck.ledger.unsaved import SideFile

State = Literal["open", "held", "read_only", "fenced", "closed"]
"""``held``: a press waits to be sent again. ``read_only``: the disk failed twice, use paper.
``fenced``: another console has the case."""

Press = tuple[Event, ...]
_Job = tuple[Callable[[], Any], Future[Any]]


class Writer:
    """Owns the ledger's write side for one console.

    ``side_folder``: where presses that could not be saved are also written as plain text; None for none.
    ``on_state`` is called from the writer thread whenever the state changes.
    """

    def __init__(
        self,
        ledger: Ledger,
        *,
        side_folder: Path | None = None,
        on_state: Callable[[State], None] | None = None,
    ) -> None:
        self._ledger = ledger
        self._side = SideFile(side_folder) if side_folder is not None else None
        self._on_state = on_state
        self._queue: queue.SimpleQueue[_Job | None] = queue.SimpleQueue()
        self._state: State = "open"
        self._unsaved: list[Press] = []
        self._why: LedgerError | None = None
        self._guard = threading.Lock()
        self._thread = threading.Thread(target=self._run, name="ledger-writer", daemon=True)
        self._thread.start()

    @property
    def state(self) -> State:
        """How the writer stands; see ``State``."""
        return self._state

    @property
    def unsaved(self) -> tuple[Press, ...]:
        """The presses that are not in the ledger, oldest first, kept with their ids."""
        with self._guard:
            return tuple(self._unsaved)

    def submit(self, events: Sequence[Event]) -> Future[Ack]:
        """Hand over one press and return at once. The future gives the ``Ack`` or raises why not."""
        press = tuple(events)
        return self._put(lambda: self._first(press))

    def retry(self) -> Future[Ack]:
        """Send everything unsaved again, oldest first, with the same ids. The future gives the last ``Ack``.

        Raises ``NotSaved`` from the future when it fails again or nothing is waiting.
        """
        return self._put(self._again)

    def take_unsaved(self) -> tuple[Press, ...]:
        """Hand the unsaved presses out for re-entry elsewhere and forget them; their side file stays."""
        with self._guard:
            taken = tuple(self._unsaved)
            self._unsaved.clear()
        if self._state == "held":
            self._turn("open")
        return taken

    def keep(self, press: Sequence[Event]) -> None:
        """Write a press to the side file only, never to be sent: somebody was told to enter it anew."""
        side, kept = self._side, tuple(press)
        if side is not None:
            self._put(lambda: side.keep(kept, again=False))

    def keep_words(self, case: str, words: str, at: Moment) -> None:
        """Write to the side file what was pressed, and when, where it could not be decided what becomes of it."""
        side = self._side
        if side is not None:
            self._put(lambda: side.keep_words(case, words, at))

    def see(self, case: str, keys: Sequence[str]) -> None:
        """Note in the side file that somebody has dealt with these presses."""
        side, seen = self._side, tuple(keys)
        if side is not None:
            self._put(lambda: side.see(case, seen))

    def let_go(self, case: str) -> None:
        """Another console has this case, and this one leaves it: its presses wait no longer (their side file stays).

        Other cases can be written again.
        """
        self._put(lambda: self._leave(case))

    def close(self, timeout_s: float | None = None) -> bool:
        """Finish what was handed over, then stop; False if that takes longer. The ledger stays open, for its owner."""
        if self._state != "closed":
            self._queue.put(None)
            self._thread.join(timeout_s)
        return not self._thread.is_alive()

    def _put(self, do: Callable[[], Any]) -> Future[Any]:
        future: Future[Any] = Future()
        # From here on nobody can cancel it: a press is saved whether or not somebody still waits for the answer.
        future.set_running_or_notify_cancel()
        if not self._thread.is_alive() or self._state == "closed":
            future.set_exception(NotSaved("the writer is closed; nothing was saved"))
        else:
            self._queue.put((do, future))
        return future

    def _run(self) -> None:
        while (job := self._queue.get()) is not None:
            do, future = job
            try:
                done = do()
            except BaseException as failed:  # whoever waits must hear of it, whatever it is
                future.set_exception(failed)
            else:
                future.set_result(done)
        self._turn("closed")

    def _first(self, press: Press) -> Ack:
        if self._state != "open":
            self._keep(press, again=self._state != "fenced")
            raise self._refusal()
        try:
            return self._send(press)
        except NotSaved:
            self._keep(press)
            raise
        except Fenced:
            self._keep(press, again=False)
            raise
        except Refused:
            # Nothing waits behind it, and it will not be sent again; but it was pressed, and somebody will ask.
            self._set_aside(press, again=False)
            raise

    def _again(self) -> Ack:
        ack: Ack | None = None
        sent = self.unsaved
        for press in sent:
            try:
                ack = self._send(press)
            except Fenced:
                self._set_aside(press, again=False)
                raise
            except Refused:
                self._forget(press)
                self._set_aside(press, again=False)
                raise
            self._forget(press)
        if ack is None:
            raise NotSaved("nothing is waiting to be saved")
        for case in {press[0].case for press in sent}:
            self._settle(case)
        return ack

    def _settle(self, case: str) -> None:
        """What the ledger does not have stays in the side file, and so does all of it if nobody can look."""
        if self._side is not None:
            with contextlib.suppress(LedgerError):
                self._side.settle(case, {record.event_id for record in self._ledger.records(case)})

    def _forget(self, press: Press) -> None:
        with self._guard:
            self._unsaved.remove(press)
        self._turn("held" if self.unsaved else "open")

    def _leave(self, case: str) -> None:
        with self._guard:
            self._unsaved = [press for press in self._unsaved if press[0].case != case]
        self._turn("held" if self.unsaved else "open")

    def _send(self, press: Press) -> Ack:
        """Append; after a failure of the disk reopen and send once more; note what became of it."""
        try:
            try:
                return self._ledger.append(press)
            except Busy:
                return self._ledger.append(press)
            except (NotSaved, OSError):
                self._ledger.reopen()
                return self._ledger.append(press)
        except Fenced as lost:
            self._why = lost
            self._turn("fenced")
            raise
        except Busy as held:
            self._why = held
            self._turn("held")
            raise
        except Refused:
            raise
        except (LedgerError, OSError) as failed:
            why = failed if isinstance(failed, NotSaved) else NotSaved(f"not saved ({failed}); use paper")
            self._why = why
            self._turn("read_only")
            raise why from failed

    def _refusal(self) -> LedgerError:
        why = self._why or NotSaved("not saved")
        return type(why)(f"waits behind an unsaved press: {why}")

    def _keep(self, press: Press, *, again: bool = True) -> None:
        with self._guard:
            self._unsaved.append(press)
        self._set_aside(press, again=again)

    def _set_aside(self, press: Press, *, again: bool) -> None:
        if self._side is not None:
            self._side.keep(press, again=again)

    def _turn(self, state: State) -> None:
        if state != self._state:
            self._state = state
            if self._on_state is not None:
                # A console that fails to repaint must not stop the saving.
                with contextlib.suppress(Exception):
                    self._on_state(state)
