"""Writing files that leave the program: whole or not at all, and never through somebody else's link.

Every file is first written beside its final name, flushed to the disk, and only then moved there. Files that
belong together (the tables of a data package) are all written before the first is moved.
"""

from __future__ import annotations

import contextlib
import errno
import os
import re
import stat
from collections.abc import Iterator
from pathlib import Path
from types import TracebackType
from typing import BinaryIO

from labcheck.registry.errors import ExportError

STEM = re.compile(r"[A-Za-z0-9_-]{1,64}")
ENDING = re.compile(r"(\.[a-z0-9]{1,8}){1,2}")
REHEARSAL = "REHEARSAL-"
"""Stands before every file name made from a case that is not real."""

FULL = {
    errno.ENOSPC: "the disk is full",
    errno.EDQUOT: "the disk quota is used up",
    errno.EROFS: "it is read-only",
}


def safe_name(stem: str, ending: str, *, rehearsal: bool = False) -> str:
    """A file name from a case key: nothing of it can lead out of the folder.

    ``ending`` is ours, such as ``.json`` (empty for a folder). Raises ``ExportError`` on anything but
    letters, digits, ``_`` and ``-``.
    """
    whole = REHEARSAL + stem if rehearsal else stem
    if not STEM.fullmatch(whole) or not (ending == "" or ENDING.fullmatch(ending)):
        raise ExportError(
            f"cannot make a file name from {stem[:40]!a}: only letters, digits, - and _ are used"
        )
    return whole + ending


class Staged:
    """The files of one export in one folder, put in place together when the ``with`` block ends well.

    The folder is made with mode 0700 if it is missing; files get mode 0600. If the block raises, or a file
    cannot be written, what stood there before still stands and nothing new is left behind.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._dir = -1
        self._open: dict[str, tuple[str, BinaryIO]] = {}

    def __enter__(self) -> Staged:
        with self._told("cannot use the folder"):
            self.folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            self._dir = os.open(self.folder, os.O_RDONLY | os.O_DIRECTORY | os.O_NOFOLLOW | os.O_CLOEXEC)
        return self

    def create(self, name: str) -> BinaryIO:
        """An empty file to write into; it appears as ``name`` at the end."""
        stem, dot, ending = name.partition(".")
        safe_name(stem, dot + ending)
        with self._told(f"cannot write {name}"):
            for attempt in range(100):
                beside = f".{stem}-{os.getpid()}-{attempt}.part"
                try:
                    handle = os.open(
                        beside,
                        os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_NOFOLLOW | os.O_CLOEXEC,
                        0o600,
                        dir_fd=self._dir,
                    )
                except FileExistsError:
                    continue
                os.fchmod(handle, 0o600)
                file = os.fdopen(handle, "wb")
                self._open[name] = (beside, file)
                return file
        raise ExportError(f"cannot write {name} in {self.folder}: clear the .part files there and try again")

    def put(self, name: str, data: bytes) -> None:
        """A whole file at once."""
        file = self.create(name)
        with self._told(f"cannot write {name}"):
            file.write(data)

    def _commit(self) -> None:
        for name, (_, file) in self._open.items():
            with self._told(f"cannot write {name}"):
                file.flush()
                os.fsync(file.fileno())
                file.close()
        for name in list(self._open):
            with self._told(f"cannot put {name} in place"):
                self._refuse_folder(name)
                os.replace(self._open[name][0], name, src_dir_fd=self._dir, dst_dir_fd=self._dir)
            del self._open[name]
        with self._told("cannot make the new files lasting"):
            os.fsync(self._dir)

    def _refuse_folder(self, name: str) -> None:
        with contextlib.suppress(FileNotFoundError):
            found = os.stat(name, dir_fd=self._dir, follow_symlinks=False)
            if stat.S_ISDIR(found.st_mode):
                raise IsADirectoryError(errno.EISDIR, "a folder has that name")

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        try:
            if kind is None:
                self._commit()
        finally:
            for beside, file in self._open.values():
                # A full disk makes even closing fail; the leftover must go all the same.
                with contextlib.suppress(OSError):
                    file.close()
                with contextlib.suppress(OSError):
                    os.unlink(beside, dir_fd=self._dir)
            os.close(self._dir)
        if isinstance(error, OSError) and not isinstance(error, ExportError):
            raise self._as_error("cannot write", error) from error

    @contextlib.contextmanager
    def _told(self, doing: str) -> Iterator[None]:
        try:
            yield
        except OSError as fault:
            raise self._as_error(doing, fault) from fault

    def _as_error(self, doing: str, fault: OSError) -> ExportError:
        if fault.errno in (errno.ELOOP, errno.ENOTDIR) and self.folder.is_symlink():
            why = "the folder is a link; name the real folder"
        else:
            why = FULL.get(fault.errno or 0, fault.strerror or str(fault))
        return ExportError(f"{doing} ({self.folder}): {why}; what was there before is as it was")


def write_file(folder: Path, name: str, data: bytes) -> Path:
    """One file, whole or not at all. Gives its path."""
    with Staged(folder) as staged:
        staged.put(name, data)
    return folder / name
