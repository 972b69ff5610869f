"""The child that is killed, cut off and starved: it writes presses and says what was acknowledged.

``python -m tests.faults.workload FOLDER HOW PRESSES [START]``. One line on standard output for each fact:
``ack SEQ HEAD`` once the ledger said so, ``not-saved SEQ`` when it did not, ``done`` at the end.
"""

from __future__ import annotations

import os
import sys
from concurrent.futures import Future
from pathlib import Path

from labcheck.caselog.events import NoteWritten
from labcheck.ledger import log_room
from labcheck.ledger.contract import Ack
from labcheck.ledger.errors import LedgerError
from labcheck.ledger.store import FileLedger, open_ledger
from labcheck.ledger.writer import Writer
from tests.ledger.making import CASE, CHECKLIST, Maker

SMALL_LOG = 20
"""Pages after which the log is copied into the main file: small, so that a short run has many such moments."""
SMALL_ROOM = 16 * 4120
"""Bytes of the log made beforehand: less than it comes to, so that it is both overwritten and made longer."""


def say(line: str) -> None:
    """One write, so that the trace shows it as one operation."""
    os.write(1, f"{line}\n".encode())


def press(maker: Maker, number: int) -> tuple[object, ...]:
    """Every third press says three things at once."""
    if number % 3 == 2:
        return maker.press(*(NoteWritten(text=f"press {number} part {part}") for part in range(3)))
    return maker.note(f"press {number} " + "x" * (number * 37 % 600))


def open_small(folder: Path) -> FileLedger:
    """The ledger, with a log that is copied often."""
    log_room.ROOM = SMALL_ROOM
    ledger = open_ledger(folder)
    assert ledger._writer is not None
    ledger._writer.conn.execute(f"PRAGMA wal_autocheckpoint = {SMALL_LOG}")
    return ledger


def straight(folder: Path, presses: int) -> None:
    """Append in this thread, closing and opening again half-way."""
    maker = Maker()
    ledger = open_small(folder)
    ledger.keep_checklist(CHECKLIST)
    tell(ledger.append(maker.opening()))
    for number in range(presses):
        if number == presses // 2:
            ledger.close()
            ledger = open_small(folder)
        tell(ledger.append(press(maker, number)))  # type: ignore[arg-type]
    ledger.close()


def threaded(folder: Path, presses: int) -> None:
    """Through the writer thread, sending again what was not saved, as the console does."""
    maker = Maker()
    try:
        ledger = open_small(folder)
        ledger.keep_checklist(CHECKLIST)
    except LedgerError as refused:
        say(f"refused {refused}")
        return
    writer = Writer(ledger, side_folder=folder)
    first = maker.opening()
    settle(writer, first[-1].seq, writer.submit(first))
    for number in range(presses):
        events = press(maker, number)
        settle(writer, events[-1].seq, writer.submit(events))  # type: ignore[attr-defined,arg-type]
    writer.close(30)
    ledger.close()


def settle(writer: Writer, seq: int, future: Future[Ack]) -> None:
    """Wait for the answer; ask for one more try where it was no."""
    for _ in range(2):
        try:
            tell(future.result(60))
        except LedgerError:
            say(f"not-saved {seq} {writer.state}")
            future = writer.retry()
        else:
            return


def endless(folder: Path, presses: int) -> None:
    """Append until killed; goes on with the case where it stands."""
    maker = Maker(start=int(sys.argv[4]))
    ledger = open_small(folder)
    ledger.keep_checklist(CHECKLIST)
    ledger.settle(CASE)
    head = ledger.head(CASE)
    maker.seq = head.seq
    if head.seq == 0:
        tell(ledger.append(maker.opening()))
    for number in range(presses):
        tell(ledger.append(press(maker, number)))  # type: ignore[arg-type]


def tell(ack: Ack) -> None:
    """Say what was acknowledged: exactly what a screen would show as saved."""
    say(f"ack {ack.seqs[-1]} {ack.head_hex}")


if __name__ == "__main__":
    {"straight": straight, "threaded": threaded, "endless": endless}[sys.argv[2]](
        Path(sys.argv[1]), int(sys.argv[3])
    )
    say("done")
