"""Advisory file locks that are never waited for longer than asked.

The lock's file is never deleted: deleting it would let two programs hold "the" lock at once.
"""

from __future__ import annotations

import os
import time
from pathlib import Path

from labcheck.ledger import place

try:
    import fcntl
except ImportError:  # pragma: no cover - Windows has no flock; SQLite's own lock remains
    fcntl = None  # type: ignore[assignment]

PAUSE_S = 0.005


class FileLock:
    """An exclusive lock on one file, held by this process until let go or until the process ends."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._descriptor: int | None = None
        self._held = False

    @property
    def held(self) -> bool:
        """Do we hold it?"""
        return self._held

    def take(self, wait_s: float = 0.0) -> bool:
        """Take the lock, waiting at most ``wait_s`` seconds; False if somebody else keeps it."""
        if self._held:
            return True
        if self._descriptor is None:
            self._descriptor = place.private_file(self.path, os.O_CREAT | os.O_RDWR)
        last = time.monotonic() + wait_s
        while not _flock(self._descriptor):
            if time.monotonic() >= last:
                return False
            time.sleep(PAUSE_S)
        self._held = True
        return True

    def is_free(self) -> bool:
        """Does nobody hold it just now? Asked with a shared lock, so that two who ask do not disturb each other."""
        if self._held:
            return False
        descriptor = place.private_file(self.path, os.O_CREAT | os.O_RDWR)
        try:
            return _flock(descriptor, shared=True)
        finally:
            os.close(descriptor)

    def let_go(self) -> None:
        """Give the lock up; harmless if it is not held. The file stays open, to be taken again at little cost."""
        if self._held and self._descriptor is not None:
            _flock(self._descriptor, free=True)
            self._held = False

    def close(self) -> None:
        """Give the lock up and close its file."""
        if self._descriptor is not None:
            os.close(self._descriptor)
            self._descriptor = None
            self._held = False

    def write(self, text: str) -> None:
        """Say in the file who holds it, for people and for the other console; only while held."""
        if self._held and self._descriptor is not None:
            os.ftruncate(self._descriptor, 0)
            os.pwrite(self._descriptor, text.encode("utf-8"), 0)

    def read(self) -> str:
        """What the holder wrote, or nothing."""
        try:
            return self.path.read_text(encoding="utf-8", errors="replace")
        except OSError:
            return ""


def _flock(descriptor: int, *, shared: bool = False, free: bool = False) -> bool:
    if fcntl is None:  # pragma: no cover
        return True
    how = fcntl.LOCK_UN if free else (fcntl.LOCK_SH if shared else fcntl.LOCK_EX) | fcntl.LOCK_NB
    try:
        fcntl.flock(descriptor, how)
    except BlockingIOError:
        return False
    return True
