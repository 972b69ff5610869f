"""Reads the clocks in a process whose wall clock somebody else moves (libfaketime), or whose boot clock is ahead."""

from __future__ import annotations

import json
import sys
import threading
from pathlib import Path

from labcheck.caselog.stamps import span
from labcheck.ledger.clocks import SystemClock
from labcheck.ledger.clockwatch import ClockWatch

PAUSE_S = 0.05


def jumping(offsets_file: Path, offsets: list[str]) -> dict[str, object]:
    """Stamp, let the wall clock jump, stamp again: the notices, and the intervals by both clocks."""
    clock, watch = SystemClock(), ClockWatch()
    offsets_file.write_text("+0")
    stamps = [clock.stamp()]
    watch.notices(stamps[0])
    notices = []
    for offset in offsets:
        offsets_file.write_text(offset)
        threading.Event().wait(PAUSE_S)
        stamps.append(clock.stamp())
        notices += [notice.model_dump() for notice in watch.notices(stamps[-1])]
    whole = span(stamps[0].moment(), stamps[-1].moment())
    return {"notices": notices, "span": whole.model_dump(), "wall_us": stamps[-1].wall_us - stamps[0].wall_us}


if __name__ == "__main__":
    if sys.argv[1] == "stamp":
        print(SystemClock().stamp().model_dump_json())
    else:
        print(json.dumps(jumping(Path(sys.argv[2]), sys.argv[3:])))
