"""The way out: what waits gets its time to be written, what is not in the ledger then is kept beside it and named."""

from __future__ import annotations

import contextlib
import signal
import sys
import threading
import time
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from labcheck.console.unwritten import Unwritten, listed
from labcheck.console.zones.rows import inert

if TYPE_CHECKING:
    from labcheck.console.session import Session
    from labcheck.ledger.writer import Writer

WRITE_S = 5.0
"""So long a disk that stalls is waited for when the program ends."""
SAID_S = 0.7
"""After so long the terminal says why it does not come back."""
KEEP_S = 1.0
"""So much longer for the side file, which may lie on the same disk."""


def finish(session: Session | None, writer: Writer, folder: Path | None) -> None:
    """Decide and write what waits, then stop the writer. What is not in the ledger is kept, and said in the terminal.

    A second signal does not cut it short: it takes no longer than ``WRITE_S`` and ``KEEP_S`` together.
    """
    with _undisturbed():
        until = time.monotonic() + WRITE_S
        waiting = session.waiting if session is not None else 0
        patience = threading.Timer(SAID_S, _say, [[f"{waiting} press(es) still being written: a few seconds"]])
        patience.daemon = True
        if waiting:
            patience.start()
        left = session.drain(until) if session is not None else ()
        writer.close(max(0.05, until - time.monotonic()))
        patience.cancel()
        if session is None or not left:
            return
        kept = folder is not None and _keep(folder, session.case.key, left)
    lines = [f"NOT SAVED: {press.named}" for press in left if not press.own]
    if lines:
        way = "kept beside the ledger: the next start saves or names them" if kept else "kept nowhere: use paper now"
        lines.append(f"{session.case.key}: {way}")
    _say(lines)


def _say(lines: Sequence[str]) -> None:
    with contextlib.suppress(OSError):  # the terminal may be gone
        for line in lines:
            print(inert(line), file=sys.stderr)


def lead(session: Session) -> list[str]:
    """What is said before a case is left: what is not saved, press by press."""
    lines = [] if session.fenced else ["the case stays as it is; the next start offers it first"]
    pending = [press.named for press in session.pending() if not press.own]
    if session.waiting:
        lines.append(f"NOT SAVED YET: {session.waiting} press(es); write them on paper before you quit")
        lines += [f"  {name}" for name in pending]
    if session.fenced:
        lines.append("another console has this case: nothing pressed here is recorded any more")
    if session.lost:
        where = "enter them where the case is now" if session.fenced else "enter those that are still missing"
        lines.append(f"NOT SAVED from here: {where}")
        lines += [f"  {press.named}" for press in session.lost]
    if session.earlier.left:
        lines.append("NOT SAVED in an earlier run:")
        lines += [f"  {line.words}" for line in session.earlier.left]
    return lines


def not_yet(session: Session) -> str:
    """Why the first screen has to wait: a press that the disk has not taken."""
    named = listed([press for press in session.pending() if not press.own])
    return f"not yet: {named or 'an entry of the program'} still to be saved; quitting keeps it beside the ledger"


def taken_along(session: Session) -> str:
    """What the first screen says of a case that was left because another console has it, or ""."""
    if not session.fenced or not session.lost:
        return ""
    return f"NOT SAVED in {session.case.key}: {listed(session.lost)}. Enter it at the console that has the case"


def _keep(folder: Path, case: str, left: Sequence[Unwritten]) -> bool:
    """Whether all of it is in the side file. On a thread of its own: the disk may stand still."""
    from labcheck.ledger.unsaved import SideFile

    side = SideFile(folder)
    kept: list[bool] = []

    def write() -> None:
        for press in left:
            if press.events:
                kept.append(side.keep(press.events))
            else:
                kept.append(press.own or side.keep_words(case, press.words, press.at))

    keeping = threading.Thread(target=write, name="keeping", daemon=True)
    keeping.start()
    keeping.join(KEEP_S)
    return len(kept) == len(left) and all(kept)


@contextlib.contextmanager
def _undisturbed() -> Iterator[None]:
    """Signals that would end the program are not heard; the event loop, which heard them, is gone."""
    before = {}
    for name in ("SIGTERM", "SIGHUP", "SIGINT"):
        number = getattr(signal, name, None)
        if number is not None:
            with contextlib.suppress(ValueError, OSError):  # not on the main thread
                before[number] = signal.signal(number, signal.SIG_IGN)
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, signal.SIG_DFL if handler is None else handler)
