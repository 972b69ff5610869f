"""Summaries kept beside the ledger, so that a debrief need not fold every earlier case anew.

The file is a convenience and never evidence: a line counts only for the very head it was made up to, only in
the version that wrote it, and only with its own digest intact. Whatever does not fit is made anew from the
log; a missing, damaged or unwritable file costs time and nothing else.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import tempfile
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path

from labcheck import __version__
from labcheck.debrief.summary import Summary, from_plain, to_plain

NAME = "debrief-summaries.jsonl"
FORMAT = f"labcheck summaries 2, {__version__}"
LARGEST = 256 * 1024 * 1024
"""Bytes: some 100,000 cases. A larger file is not ours and is not read."""


def read_lines(folder: Path) -> dict[str, bytes]:
    """Case key -> its line, unread; empty where there is no file of this version."""
    path = folder / NAME
    try:
        if path.stat().st_size > LARGEST:
            return {}
        lines = path.read_bytes().split(b"\n")
    except OSError:
        return {}
    if lines[0] != FORMAT.encode():
        return {}
    return {line[:7].decode("ascii", "replace"): line for line in lines[1:] if line}


def read_line(line: bytes, case: str, head: str) -> Summary | None:
    """The summary in a line, if the line is whole and was made for that case up to that head."""
    name, _, rest = line.partition(b" ")
    digest, _, body = rest.partition(b" ")
    if name != case.encode() or hashlib.sha256(body).hexdigest().encode() != digest:
        return None
    try:
        found = from_plain(json.loads(body))
    except (ValueError, TypeError, KeyError, AttributeError):
        return None
    return found if (found.case, found.head) == (case, head) else None


def written(summary: Summary) -> bytes:
    """The line of a summary."""
    body = json.dumps(to_plain(summary), ensure_ascii=True, separators=(",", ":"), sort_keys=True).encode()
    return b" ".join((summary.case.encode(), hashlib.sha256(body).hexdigest().encode(), body))


def keep(folder: Path, lines: Iterable[bytes]) -> None:
    """Write all lines, in place of what was there. Silently does nothing where the folder cannot be written."""
    with contextlib.suppress(OSError):
        handle, beside = tempfile.mkstemp(prefix=f".{NAME}-", dir=folder)
        try:
            with os.fdopen(handle, "wb") as out:
                out.write(b"\n".join((FORMAT.encode(), *sorted(lines), b"")))
            os.replace(beside, folder / NAME)
        except OSError:
            with contextlib.suppress(OSError):
                os.unlink(beside)


def add(folder: Path, summary: Summary) -> None:
    """Keep one more: of two lines about a case the later counts. Does nothing where the folder cannot be written."""
    path = folder / NAME
    with contextlib.suppress(OSError):
        descriptor = os.open(path, os.O_RDWR | os.O_CREAT | os.O_APPEND | getattr(os, "O_NOFOLLOW", 0), 0o600)
        with os.fdopen(descriptor, "r+b") as out:
            size = os.fstat(out.fileno()).st_size
            if out.readline(len(FORMAT) + 1) != FORMAT.encode() + b"\n":
                # Written by another version, or by nobody: nothing in it counts.
                out.truncate(0)
                size = 0
                start = FORMAT.encode() + b"\n"
            else:
                # A line that was cut short must not take this one with it.
                out.seek(size - 1)
                start = b"" if out.read(1) == b"\n" else b"\n"
            if size <= LARGEST:
                out.write(start + written(summary) + b"\n")


def gathered(
    folder: Path,
    heads: Mapping[str, str],
    make: Callable[[str], Summary | None],
    making: Callable[[int], None] = lambda _: None,
    make_many: Callable[[Mapping[str, str]], Mapping[str, Summary]] = lambda _: {},
) -> dict[str, Summary]:
    """The summaries of the cases in ``heads`` (case key -> head digest, hex), kept or made anew.

    ``make``: folds a case from its log and gives its summary, or None where the log cannot be read; such a
    case is left out. ``making`` is told how many are to be made. ``make_many`` is asked first, for all of them
    at once, and gives those it can. What was made is kept for the next time.
    """
    lines = read_lines(folder)
    out: dict[str, Summary] = {}
    for case, head in heads.items():
        found = read_line(lines[case], case, head) if case in lines else None
        if found is not None:
            out[case] = found
    absent = {case: head for case, head in heads.items() if case not in out}
    if absent:
        making(len(absent))
    quickly = make_many(absent) if absent else {}
    made = {case: one for case in absent if (one := quickly.get(case) or make(case)) is not None}
    if made:
        keep(folder, {**lines, **{case: written(one) for case, one in made.items()}}.values())
    return {**out, **made}
