"""Room in the write-ahead log before it is needed, so that a save overwrites the log instead of making it longer.

A sync of a file that grew must also make its new length durable, and that is most of its cost. SQLite goes back to
the log's beginning once it was copied into the main file; only the first saves after each opening make it grow, and
in a theatre these are the case. Zeros behind the log's end are no frames to SQLite: a frame without the log's salt
and checksum ends its reading, as old frames do after every turn of the log.
"""

from __future__ import annotations

import contextlib
import os
import shutil
from pathlib import Path

from labcheck.ledger import place

PAGES = 512
"""Pages in the log after which SQLite copies it into the main file (its default is 1000)."""
ROOM = (PAGES + 64) * (4096 + 24)
"""Bytes: the log when it is copied, and one large press more. A page of the file and a frame's header each."""
SPARE = 16 * ROOM
"""Bytes that must be free: on a disk that is nearly full the room would take what the entries themselves need."""


def make_room(database: Path) -> None:
    """Lengthen the log with zeros, durably. The caller holds SQLite's write lock, so that nobody else writes there.

    Does nothing where the log is long enough, the disk nearly full, or the log cannot be made longer: it is a
    convenience, and never a reason not to save. Less room than asked for, after a short write, is less of one.
    The log has no locks of its own, so opening and closing it here lets go of none.
    """
    with contextlib.suppress(OSError):
        descriptor = place.private_file(database.with_name(database.name + "-wal"), os.O_WRONLY)
        try:
            size = os.fstat(descriptor).st_size
            if size < ROOM and hasattr(os, "pwrite") and shutil.disk_usage(database.parent).free > SPARE:
                os.pwrite(descriptor, bytes(ROOM - size), size)
                os.fsync(descriptor)
        finally:
            os.close(descriptor)
