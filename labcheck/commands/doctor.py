"""``labcheck doctor``: what could go wrong on this machine, one line a finding, before a case begins."""

from __future__ import annotations

import argparse
import locale
import os
import platform
import shutil
import sqlite3
import stat
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Literal

from labcheck.commands.output import say
from labcheck.commands.place import ledger_folder
from labcheck.ledger.place import DATABASE, ROOM_NEEDED, file_system, free_bytes, is_shared

Level = Literal["good", "look", "FAULT"]
FIXED_SQLITE = ((3, 51, 3), (3, 50, 7), (3, 44, 6))
"""Releases that mend the write-ahead log's reset race (SQLite's release notes); newest first."""
SMALLEST = (80, 24)


@dataclass(frozen=True, slots=True)
class Finding:
    """One line: how bad, what was looked at, what was found and what to do."""

    level: Level
    what: str
    text: str


def run(chosen: argparse.Namespace) -> int:
    """Print every finding. 1 when one is a fault, else 0."""
    findings = [*_program(), *_terminal(), *_clock(), *_folder(ledger_folder(chosen))]
    for finding in findings:
        say(f"{finding.level:5}  {finding.what:10}  {finding.text}")
    return 1 if any(finding.level == "FAULT" for finding in findings) else 0


def _program() -> Iterator[Finding]:
    from importlib.metadata import version

    ours = f"labcheck {version('labcheck')}, textual {version('textual')}"
    yield Finding("good", "program", f"{ours}, Python {platform.python_version()}, {platform.system()}")
    if platform.system() != "Linux":
        yield Finding(
            "look", "program", "tried on Linux only so far; rehearse a whole case on this machine first"
        )
    yield sqlite_finding(sqlite3.sqlite_version_info)


def sqlite_finding(release: tuple[int, ...]) -> Finding:
    """What a release of SQLite means for us."""
    shown = ".".join(str(part) for part in release)
    if wal_reset_mended(release):
        return Finding("good", "SQLite", f"{shown}, with the write-ahead log's reset race mended")
    text = (
        f"{shown} has the write-ahead log's reset race (mended in 3.51.3); labcheck lets one connection at a "
        "time write, where it cannot happen; do not open a live ledger with other programs"
    )
    return Finding("look", "SQLite", text)


def wal_reset_mended(release: tuple[int, ...]) -> bool:
    """Whether this release of SQLite cannot lose a commit to the reset race."""
    if release < (3, 7, 0) or release >= FIXED_SQLITE[0]:
        return True
    return any(release[:2] == fixed[:2] and release >= fixed for fixed in FIXED_SQLITE)


def _terminal() -> Iterator[Finding]:
    encoding = (getattr(sys.stdout, "encoding", "") or locale.getpreferredencoding(False)).lower()
    if encoding.replace("-", "") == "utf8":
        yield Finding("good", "terminal", "writes UTF-8")
    else:
        yield Finding("FAULT", "terminal", f"writes {encoding}; set LANG to a UTF-8 locale such as C.UTF-8")
    term = os.environ.get("TERM", "")
    if term in ("", "dumb"):
        text = f'TERM is "{term}"; the console needs a terminal that can place its text'
        yield Finding("look", "terminal", text)
    size = shutil.get_terminal_size(fallback=(0, 0))
    if size == (0, 0) or not sys.stdout.isatty():
        yield Finding("look", "terminal", "its size is not known here; the console wants 80x24 or more")
    elif size < SMALLEST or size.lines < SMALLEST[1]:
        yield Finding("look", "terminal", f"{size.columns}x{size.lines}; the console wants 80x24 or more")
    else:
        yield Finding("good", "terminal", f"{size.columns}x{size.lines}")


def _clock() -> Iterator[Finding]:
    now = datetime.now().astimezone()
    shown = f"{now:%Y-%m-%d %H:%M:%S %z} ({now.tzname()})"
    yield Finding("good", "clock", f"{shown}; compare it with the imaging system's")
    if now.year < 2026:
        yield Finding("FAULT", "clock", f"the year {now.year} cannot be right; set the computer's clock")
    if not hasattr(time, "CLOCK_BOOTTIME"):
        yield Finding("look", "clock", "no clock that counts through sleep; keep this computer from sleeping")


def _folder(folder: Path) -> Iterator[Finding]:
    there = folder
    while not there.exists() and there != there.parent:
        there = there.parent
    if there != folder:
        yield Finding("good", "ledger", f"{folder} does not exist yet; the first case makes it")
    elif not folder.is_dir():
        yield Finding("FAULT", "ledger", f"{folder} is not a folder; name another with --ledger")
        return
    else:
        yield from _existing(folder)
    kind = file_system(there.resolve())
    if kind is not None and is_shared(kind):
        text = f"{there} is on {kind}, where a ledger can be damaged; use a local disk"
        yield Finding("FAULT", "disk", text)
    elif kind == "tmpfs":
        yield Finding("look", "disk", f"{there} is in memory (tmpfs); a power cut loses all of it")
    else:
        yield Finding("good", "disk", f"file system {kind or 'not known'}")
    free = free_bytes(there)
    level: Level = "good" if free > 64 * ROOM_NEEDED else "look" if free > ROOM_NEEDED else "FAULT"
    needed = ROOM_NEEDED // 1024**2
    yield Finding(level, "disk", f"{free // 1024**2} MiB free; a case needs about 1, the start {needed}")


def _existing(folder: Path) -> Iterator[Finding]:
    if not os.access(folder, os.W_OK | os.X_OK):
        yield Finding("FAULT", "ledger", f"{folder} is not writable; choose another with --ledger")
    elif stat.S_IMODE(folder.stat().st_mode) & 0o077:
        yield Finding("look", "ledger", f"{folder} is open to other users; the console will close it to them")
    else:
        holds = ", holds a ledger" if (folder / DATABASE).exists() else ""
        yield Finding("good", "ledger", f"{folder}, private{holds}")
