"""The mirror: one plain text file per case beside the database, one line ``hash body`` per entry.

It is written after the commit and before the acknowledgement, so it never runs ahead of the database. When it
does, the database has lost something, and nothing more is written until somebody has looked. It is also the
copy to rebuild from, and readable with nothing but a text editor. The checklists lie beside it, under their digests.
"""

from __future__ import annotations

import contextlib
import errno
import os
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from labcheck.ledger import place
from labcheck.ledger.chain import Record, digest
from labcheck.ledger.contract import text_digest
from labcheck.ledger.errors import Damaged

FOLDER = "mirror"
SUFFIX = ".log"
TEXT_SUFFIX = ".toml"


@dataclass(frozen=True, slots=True)
class Standing:
    """How far a case's mirror is known to be durable: entries and bytes."""

    entries: int
    size: int


@dataclass(frozen=True, slots=True)
class Line:
    """One whole line: the digest it names, the body, and where the line ends in the file."""

    hash_hex: str
    body: bytes
    end: int

    @property
    def sound(self) -> bool:
        """Does the digest belong to the body?"""
        return digest(self.body).hex() == self.hash_hex


class Mirror:
    """The mirrors of one ledger. The caller holds the ledger's write lock around every change."""

    def __init__(self, ledger_folder: Path) -> None:
        self.folder = ledger_folder / FOLDER
        self._known: dict[str, Standing] = {}
        self._open: tuple[str, int] | None = None

    def path(self, case: str) -> Path:
        """The file of one case."""
        return self.folder / f"{case}{SUFFIX}"

    def cases(self) -> set[str]:
        """The cases that have a mirror."""
        try:
            return {name.removesuffix(SUFFIX) for name in os.listdir(self.folder) if name.endswith(SUFFIX)}
        except FileNotFoundError:
            return set()

    def keep_text(self, text: bytes) -> None:
        """Keep a checklist's text beside the cases that were run with it, under its digest. Raises ``OSError``."""
        path = self.folder / f"{text_digest(text)}{TEXT_SUFFIX}"
        if path.exists() and path.read_bytes() == text:
            return
        self.folder.mkdir(mode=0o700, exist_ok=True)
        descriptor = place.private_file(path, os.O_CREAT | os.O_WRONLY)
        try:
            os.ftruncate(descriptor, 0)
            _put(descriptor, text, 0)
            os.fsync(descriptor)
        finally:
            os.close(descriptor)
        place.sync_path(self.folder)
        place.sync_path(self.folder.parent)

    def texts(self) -> Iterator[bytes]:
        """The checklist texts that are still what their names say."""
        for path in sorted(self.folder.glob(f"*{TEXT_SUFFIX}")):
            with contextlib.suppress(OSError):
                text = path.read_bytes()
                if path.name.removesuffix(TEXT_SUFFIX) == text_digest(text):
                    yield text

    def forget(self) -> None:
        """Trust nothing that was known before: look at the files again."""
        self._known.clear()
        self.close()

    def close(self) -> None:
        """Let go of the file that is held open between the presses of a case."""
        if self._open is not None:
            os.close(self._open[1])
            self._open = None

    def agree(self, case: str, entries: int, stored: Callable[[], Sequence[Record]]) -> int:
        """Make sure the mirror holds exactly the stored entries, adding what is missing; how many were added.

        ``entries``: how many are stored; ``stored`` reads them when that is needed. Raises ``Damaged`` when the
        mirror holds what the database lacks or says otherwise, ``OSError`` when it cannot be written.
        """
        known = self._known.get(case)
        if known is not None and known.entries == entries:
            return 0
        self.close()
        records = stored()
        standing = self.compare(case, records)
        if standing.entries < len(records) or standing.size != self._size(case):
            self._repair(case, standing, records[standing.entries :])
        else:
            self._known[case] = standing
        return len(records) - standing.entries

    def append(self, case: str, records: Sequence[Record]) -> None:
        """Add the entries of one press after ``agree``. Raises ``OSError``, also if somebody changed the file."""
        known = self._known.pop(case)
        descriptor = self._descriptor(case)
        found = os.fstat(descriptor)
        if found.st_nlink == 0 or found.st_size != known.size:
            raise OSError(errno.ESTALE, "somebody else changed the mirror")
        self._write(descriptor, case, known, records)

    def says(self, case: str, whole: bytes) -> bool:
        """Does the mirror hold exactly these bytes?"""
        try:
            with open(f"{self.folder}/{case}{SUFFIX}", "rb", buffering=0) as file:
                return file.read() == whole
        except (OSError, ValueError):
            return False

    def compare(self, case: str, records: Sequence[Record]) -> Standing:
        """How much of the mirror agrees with the stored entries. Changes nothing.

        A torn end is fine where the database has the entry: power went between commit and mirror. Raises
        ``Damaged`` for everything else that differs.
        """
        whole = b"".join(map(to_line, records))
        if self.says(case, whole):
            return Standing(len(records), len(whole))
        lines, torn = read(self.path(case))
        size = 0
        for number, line in enumerate(lines, start=1):
            if number > len(records):
                raise Damaged(_ahead(case, len(records), len(lines)))
            record = records[number - 1]
            if line.hash_hex != record.hash.hex() or line.body != record.body:
                if not line.sound and _in_last_press(number, records):
                    return Standing(number - 1, size)
                raise Damaged(
                    f"case {case}: entry {number} differs between database and mirror; run: labcheck verify {case}"
                )
            size = line.end
        if torn and len(lines) >= len(records):
            raise Damaged(_ahead(case, len(records), len(lines) + 1))
        return Standing(len(lines), size)

    def _repair(self, case: str, after: Standing, records: Sequence[Record]) -> None:
        self._known.pop(case, None)
        descriptor = self._descriptor(case)
        os.ftruncate(descriptor, after.size)
        self._write(descriptor, case, after, records)

    def _write(self, descriptor: int, case: str, after: Standing, records: Sequence[Record]) -> None:
        data = b"".join(map(to_line, records))
        self._add(descriptor, data, after.size)
        self._known[case] = Standing(after.entries + len(records), after.size + len(data))

    def _descriptor(self, case: str) -> int:
        if self._open is not None and self._open[0] == case:
            return self._open[1]
        self.close()
        path = self.path(case)
        fresh = not path.exists()
        if fresh:
            self.folder.mkdir(mode=0o700, exist_ok=True)
        descriptor = place.private_file(path, os.O_CREAT | os.O_WRONLY)
        self._open = (case, descriptor)
        if fresh:
            place.sync_path(self.folder)
            place.sync_path(self.folder.parent)
        return descriptor

    def _add(self, descriptor: int, data: bytes, at: int) -> None:
        try:
            _put(descriptor, data, at)
            os.fdatasync(descriptor) if hasattr(os, "fdatasync") else os.fsync(descriptor)
        except OSError:
            # What may not have reached the disk must not look as if it had.
            with contextlib.suppress(OSError):
                os.ftruncate(descriptor, at)
            raise

    def _size(self, case: str) -> int:
        try:
            return self.path(case).stat().st_size
        except FileNotFoundError:
            return 0


def _put(descriptor: int, data: bytes, at: int) -> None:
    done = 0
    while done < len(data):
        done += os.pwrite(descriptor, data[done:], at + done)


def to_line(record: Record) -> bytes:
    """One entry as a line of the mirror. Canonical JSON never holds a bare line end."""
    return record.hash.hex().encode() + b" " + record.body + b"\n"


def read(path: Path) -> tuple[list[Line], bytes]:
    """The whole lines of a mirror and what follows the last line end (a torn write, or nothing)."""
    try:
        data = path.read_bytes()
    except FileNotFoundError:
        return [], b""
    lines: list[Line] = []
    at = 0
    while (end := data.find(b"\n", at)) >= 0:
        name, _, body = data[at:end].partition(b" ")
        lines.append(Line(hash_hex=name.decode("ascii", "replace"), body=body, end=end + 1))
        at = end + 1
    return lines, data[at:]


def _in_last_press(number: int, records: Sequence[Record]) -> bool:
    return records[number - 1].event_id[:32] == records[-1].event_id[:32]


def _ahead(case: str, stored: int, mirrored: int) -> str:
    return (
        f"case {case}: the mirror holds {mirrored} entries, the database only {stored}; the database lost some. "
        "Nothing is written to this case; run: labcheck rebuild"
    )
