"""The plain side file for presses that the ledger did not take: one press a line, readable by anyone.

A press is several entries that are true together (a stage ended, the next one began), so a line holds all of them:
a power cut in the middle of a line costs that press and never leaves half of one. A press that could not even be
decided, because the program ended before its turn, is a line with its words and its moment. One that somebody was
told to enter anew says so, and is never sent again by itself. What somebody has entered by hand is marked as seen by a
line of its own: nothing is taken out but what the ledger has.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from labcheck.caselog.events import Event, from_json, to_body
from labcheck.caselog.stamps import Moment
from labcheck.ledger import canonical, place
from labcheck.ledger.locks import FileLock

LOCK = "unsaved.lock"
LOCK_WAIT_S = 0.5


@dataclass(frozen=True, slots=True)
class Kept:
    """One press of the side file. ``key`` names it when it is marked as seen.

    ``events``: its entries, or () for one that was never decided: then ``words`` say what was pressed and ``at``
    when. A line that cannot be read has neither entries nor a moment. ``again``: it may be sent to the ledger again.
    """

    key: str
    events: tuple[Event, ...] = ()
    words: str = ""
    at: Moment | None = None
    again: bool = True


class SideFile:
    """``unsaved-<case>.jsonl`` in the ledger's folder.

    A best effort: the disk that refused the ledger may refuse this too, and memory still holds the press.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def path(self, case: str) -> Path:
        """Where a case's unsaved presses are written."""
        return self.folder / f"unsaved-{case}.jsonl"

    def keep(self, press: Sequence[Event], *, again: bool = True) -> bool:
        """Add one press, whole or not at all; one that is there already stays alone. False if even that failed.

        ``again``: it may be sent again; not so where the ledger refused it and somebody was told to enter it anew.
        """
        entries = b"[" + b",".join(_bytes(to_body(event)) for event in press) + b"]"
        return self._add(press[0].case, entries if again else b'{"refused":' + entries + b"}")

    def keep_words(self, case: str, words: str, at: Moment) -> bool:
        """Add a press that was never decided: what was pressed, and when. False if it could not be written."""
        return self._add(case, _bytes({"pressed": words, "at": at.model_dump(mode="json")}))

    def see(self, case: str, keys: Iterable[str]) -> bool:
        """Note that somebody has dealt with these; they stay, and are named no more. False if it failed."""
        return self._add(case, _bytes({"seen": list(keys)}))

    def settle(self, case: str, in_ledger: Collection[str]) -> None:
        """Take out the presses all of whose ids the ledger has. What is left stays as it is; nothing left: no file.

        Left behind they do no harm: their ids are recognised when they are sent again.
        """
        if not self.path(case).exists():
            return
        with contextlib.suppress(OSError), self._alone() as alone:
            lines = self._lines(case)
            left = [line for line in lines if not _stored(line, in_ledger)]
            if not alone:
                return
            if not any(_seen(line) is None for line in left):
                self.path(case).unlink()
            elif len(left) < len(lines):
                self._replace(case, left)

    def read(self, case: str) -> tuple[Event, ...]:
        """The entries of all presses that can be read, seen or not; a press whose line is torn is skipped."""
        return tuple(event for line in self._lines_or_none(case) for event in _kept(line).events)

    def presses(self, case: str) -> tuple[Kept, ...]:
        """What is kept for this case and was not marked as seen, in order. Lines that cannot be read are named too."""
        lines = self._lines_or_none(case)
        seen = {key for line in lines for key in _seen(line) or ()}
        kept: dict[str, Kept] = {}
        for press in (_kept(line) for line in lines if _seen(line) is None):
            # Kept twice, it stands where it was first; once it was to be entered anew, it stays so.
            if press.key not in kept or not press.again:
                kept[press.key] = press
        return tuple(press for key, press in kept.items() if key not in seen)

    def _lines_or_none(self, case: str) -> list[bytes]:
        try:
            return self._lines(case)
        except OSError:
            return []

    def _lines(self, case: str) -> list[bytes]:
        return [line for line in self.path(case).read_bytes().splitlines() if line]

    @contextlib.contextmanager
    def _alone(self) -> Iterator[bool]:
        """Two consoles keep presses of one case after a takeover; none writes to a file that is just replaced."""
        lock = FileLock(self.folder / LOCK)
        try:
            yield lock.take(LOCK_WAIT_S)
        finally:
            lock.close()

    def _add(self, case: str, line: bytes) -> bool:
        try:
            with self._alone():
                descriptor = place.private_file(self.path(case), os.O_CREAT | os.O_RDWR | os.O_APPEND)
                try:
                    if line not in self._lines(case):
                        _add(descriptor, line + b"\n")
                finally:
                    os.close(descriptor)
        except OSError:
            return False
        return True

    def _replace(self, case: str, lines: Sequence[bytes]) -> None:
        """In one step: a power cut leaves the old file or the new one."""
        fresh = self.folder / f".unsaved-{case}.new"
        descriptor = place.private_file(fresh, os.O_CREAT | os.O_WRONLY | os.O_TRUNC)
        try:
            _write(descriptor, b"".join(line + b"\n" for line in lines))
            os.fsync(descriptor)
        finally:
            os.close(descriptor)
        fresh.replace(self.path(case))
        place.sync_path(self.folder)


def _kept(line: bytes) -> Kept:
    try:
        found = json.loads(line)
        again = not (isinstance(found, dict) and "refused" in found)
        if not again:
            found = found["refused"]
        elif isinstance(found, dict):
            at = Moment.model_validate_json(json.dumps(found["at"]))
            return Kept(_digest(line), words=str(found["pressed"]), at=at)
        events = tuple(from_json(json.dumps(body)) for body in found)
        return Kept(events[0].press, events, at=events[0].happened, again=again)
    except (ValueError, TypeError, KeyError, IndexError, RecursionError):
        return Kept(_digest(line), words="a line that cannot be read")


def _seen(line: bytes) -> tuple[str, ...] | None:
    """The presses that a line marks as seen; None for any other line."""
    if not line.startswith(b'{"seen":'):
        return None
    try:
        return tuple(str(key) for key in json.loads(line)["seen"])
    except (ValueError, TypeError, RecursionError):
        return None


def _stored(line: bytes, in_ledger: Collection[str]) -> bool:
    events = _kept(line).events
    return bool(events) and all(event.id in in_ledger for event in events)


def _digest(line: bytes) -> str:
    return hashlib.sha256(line).hexdigest()


def _bytes(value: Mapping[str, Any]) -> bytes:
    """What the ledger refuses because it has no canonical form is kept all the same."""
    try:
        return canonical.encode(value)
    except canonical.NotCanonical:
        return json.dumps(value).encode("ascii")


def _add(descriptor: int, line: bytes) -> None:
    """Half a line would be lost, and the next press with it: it would be written on the same line."""
    size = os.fstat(descriptor).st_size
    torn = size > 0 and os.pread(descriptor, 1, size - 1) != b"\n"
    try:
        _write(descriptor, b"\n" + line if torn else line)
        os.fsync(descriptor)
    except OSError:
        with contextlib.suppress(OSError):
            os.ftruncate(descriptor, size)
        raise


def _write(descriptor: int, data: bytes) -> None:
    done = 0
    while done < len(data):
        done += os.write(descriptor, data[done:])
