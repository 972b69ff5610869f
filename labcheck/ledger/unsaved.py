"""The plain side file for presses that the ledger did not take: one line of JSON each, readable by anyone.

A press is several entries that are true together (a stage ended, the next one began), so a line holds all of them:
a power cut in the middle of a line costs that press and never leaves half of one.
"""

from __future__ import annotations

import contextlib
import json
import os
from collections.abc import Sequence
from pathlib import Path

from labcheck.caselog.events import Event, from_json, to_body
from labcheck.ledger import canonical, place


class SideFile:
    """``unsaved-<case>.jsonl`` in the ledger's folder.

    A best effort: the disk that refused the ledger may refuse this too, and memory still holds the press.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def path(self, case: str) -> Path:
        """Where a case's unsaved presses are written."""
        return self.folder / f"unsaved-{case}.jsonl"

    def keep(self, press: Sequence[Event]) -> bool:
        """Add one press, whole or not at all; False if even that failed."""
        line = b"[" + b",".join(canonical.encode(to_body(event)) for event in press) + b"]\n"
        try:
            descriptor = place.private_file(self.path(press[0].case), os.O_CREAT | os.O_RDWR | os.O_APPEND)
            try:
                _add(descriptor, line)
            finally:
                os.close(descriptor)
        except OSError:
            return False
        return True

    def settle(self, case: str) -> None:
        """Everything in it is in the ledger now: remove it."""
        try:
            self.path(case).unlink(missing_ok=True)
        except OSError:
            # Left behind it does no harm: its ids are recognised when they are sent again.
            return

    def read(self, case: str) -> tuple[Event, ...]:
        """What an earlier run left unsaved; a press whose line is torn is skipped."""
        try:
            lines = self.path(case).read_bytes().splitlines()
        except OSError:
            return ()
        found: list[Event] = []
        for line in lines:
            try:
                found += [from_json(json.dumps(body).encode()) for body in json.loads(line)]
            except (ValueError, TypeError, RecursionError):
                continue
        return tuple(found)


def _add(descriptor: int, line: bytes) -> None:
    """Half a line would be lost, and the next press with it: it would be written on the same line."""
    size = os.fstat(descriptor).st_size
    torn = size > 0 and os.pread(descriptor, 1, size - 1) != b"\n"
    lines = b"\n" + line if torn else line
    try:
        done = 0
        while done < len(lines):
            done += os.write(descriptor, lines[done:])
        os.fsync(descriptor)
    except OSError:
        with contextlib.suppress(OSError):
            os.ftruncate(descriptor, size)
        raise
