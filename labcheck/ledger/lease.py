"""Who holds a case: a lock per case and epoch, to be seen by other consoles.

The lock only says that the holder is alive. The authority is the epoch in the ledger: a takeover writes
``lease.taken`` with the next one, and from then on the ledger refuses the old console, whether it is dead,
stopped, or never knew. So a lock file that somebody deletes does no harm, and no lock is ever broken.
"""

from __future__ import annotations

import json
import os
from dataclasses import dataclass
from pathlib import Path

from labcheck.ledger.locks import FileLock

FOLDER = "lease"
PROBE_S = 0.05


@dataclass(frozen=True, slots=True)
class Holder:
    """Who holds a case. ``since_us``: UTC microseconds, 0 if unknown. ``process``: its number, 0 if unknown."""

    console: str
    since_us: int
    process: int


UNKNOWN = Holder(console="another console", since_us=0, process=0)


class Lease:
    """The cases this console holds. ``console``: how it calls itself to the others (a desk, not a person)."""

    def __init__(self, ledger_folder: Path, console: str) -> None:
        self.folder = ledger_folder / FOLDER
        self.console = console
        self._held: dict[str, tuple[int, FileLock]] = {}

    def acquire(self, case: str, epoch: int, since_us: int) -> bool:
        """Hold the case in this epoch (0 counts as 1: a case about to be opened); False if another console does.

        Holding a newer epoch lets the older one go.
        """
        epoch = max(1, epoch)
        if case in self._held and self._held[case][0] == epoch:
            return True
        self.folder.mkdir(mode=0o700, exist_ok=True)
        lock = FileLock(self._path(case, epoch))
        # Long enough to outlast somebody who only asks.
        if not lock.take(PROBE_S):
            lock.close()
            return False
        lock.write(json.dumps({"console": self.console, "since_us": since_us, "process": os.getpid()}))
        self.let_go(case)
        self._held[case] = (epoch, lock)
        return True

    def take_over(self, case: str, epoch: int, since_us: int) -> bool:
        """Hold the case in the epoch after ``epoch``, whoever holds it in that one; False if a third was faster.

        To be followed by ``lease.taken`` in the ledger, which is what counts.
        """
        return self.acquire(case, max(1, epoch) + 1, since_us)

    def held_by(self, case: str, epoch: int) -> Holder | None:
        """The console that holds the case in this epoch and is alive (this one included), or None."""
        epoch = max(1, epoch)
        lock = FileLock(self._path(case, epoch))
        if not lock.path.exists() or lock.is_free():
            return None
        return _holder(lock.read())

    def let_go(self, case: str) -> None:
        """Give the case up; harmless if it is not held."""
        if case in self._held:
            self._held.pop(case)[1].close()

    def close(self) -> None:
        """Give everything up."""
        for case in tuple(self._held):
            self.let_go(case)

    def _path(self, case: str, epoch: int) -> Path:
        return self.folder / f"{case}.{epoch}.lock"


def _holder(text: str) -> Holder:
    try:
        said = json.loads(text)
        return Holder(
            console=str(said["console"]), since_us=int(said["since_us"]), process=int(said["process"])
        )
    except (ValueError, KeyError, TypeError):
        return UNKNOWN
