"""Reading the small files that people hand over, with complaints that say what to do."""

from __future__ import annotations

import os
import stat
from pathlib import Path

from labcheck.checklist.toml_text import MAX_BYTES
from labcheck.commands.output import CommandError


def read_bytes(path: Path) -> bytes:
    """The bytes of a checklist, plan or script. Raises ``CommandError`` where there is no such plain file.

    Reads one byte more than the limit at most: the reader then says that the file is too large.
    """
    try:
        # O_NONBLOCK: a named pipe must not hold the command for ever.
        descriptor = os.open(path, os.O_RDONLY | os.O_CLOEXEC | getattr(os, "O_NONBLOCK", 0))
    except ValueError:
        raise CommandError("a file name holds a NUL character") from None
    except OSError as fault:
        raise CommandError(f"{path}: cannot be read ({(fault.strerror or 'unknown').lower()})") from None
    try:
        if not stat.S_ISREG(os.fstat(descriptor).st_mode):
            raise CommandError(f"{path}: is not a plain file")
        chunks = []
        left = MAX_BYTES + 1
        while left and (chunk := os.read(descriptor, left)):
            chunks.append(chunk)
            left -= len(chunk)
        return b"".join(chunks)
    finally:
        os.close(descriptor)
