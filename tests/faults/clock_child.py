"""Reads the clocks in a process whose wall clock somebody else moves (libfaketime), or whose boot clock is ahead."""

from __future__ import annotations

import json
import sys
import threading
from pathlib import Path

from labcheck.caselog.events import NoteWritten
from labcheck.caselog.stamps import span
from labcheck.ledger.clocks import SystemClock
from labcheck.ledger.clockwatch import ClockWatch
from labcheck.ledger.store import open_ledger
from tests.ledger.making import CHECKLIST, Maker

PAUSE_S = 0.05


def jumping(folder: Path, offsets_file: Path, offsets: list[str]) -> dict[str, object]:
    """Press, let the wall clock jump, press again: the notices, the intervals by both clocks, what was saved."""
    clock, watch, maker = SystemClock(), ClockWatch(), Maker()
    ledger = open_ledger(folder)
    ledger.keep_checklist(CHECKLIST)
    offsets_file.write_text("+0")
    stamps = [clock.stamp()]
    watch.notices(stamps[0])
    (opened,) = maker.opening()
    acks = [ledger.append([opened.model_copy(update={"happened": stamps[0].moment(), "entered": stamps[0]})])]
    notices = []
    for offset in offsets:
        offsets_file.write_text(offset)
        threading.Event().wait(PAUSE_S)
        stamps.append(clock.stamp())
        found = watch.notices(stamps[-1])
        notices += [notice.model_dump() for notice in found]
        said = (*found, NoteWritten(text=f"after {offset}"))
        acks.append(ledger.append(maker.press(*said, happened=stamps[-1].moment(), entered=stamps[-1])))
    ledger.close()
    return {
        "notices": notices,
        "span": span(stamps[0].moment(), stamps[-1].moment()).model_dump(),
        "wall_us": stamps[-1].wall_us - stamps[0].wall_us,
        "acknowledged": {ack.seqs[-1]: ack.head_hex for ack in acks},
    }


if __name__ == "__main__":
    if sys.argv[1] == "stamp":
        print(SystemClock().stamp().model_dump_json())
    else:
        print(json.dumps(jumping(Path(sys.argv[2]), Path(sys.argv[3]), sys.argv[4:])))
