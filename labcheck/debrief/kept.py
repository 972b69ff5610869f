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
from collections.abc import Callable, Iterable
from pathlib import Path

from labcheck import __version__
from labcheck.debrief.summary import Summary, from_plain, to_plain

NAME = "debrief-summaries.jsonl"
FORMAT = f"labcheck summaries 1, {__version__}"
LARGEST = 256 * 1024 * 1024
"""Bytes: some 100,000 cases. A larger file is not ours and is not read."""


def read_kept(folder: Path) -> dict[str, Summary]:
    """Case key -> summary, from the lines that are whole; empty where there is no such file."""
    path = folder / NAME
    try:
        if path.stat().st_size > LARGEST:
            return {}
        lines = path.read_bytes().split(b"\n")
    except OSError:
        return {}
    if lines[0] != FORMAT.encode():
        return {}
    return {summary.case: summary for summary in map(_read, lines[1:]) if summary is not None}


def _read(line: bytes) -> Summary | None:
    digest, _, body = line.partition(b" ")
    if not body or hashlib.sha256(body).hexdigest().encode() != digest:
        return None
    try:
        return from_plain(json.loads(body))
    except (ValueError, TypeError, KeyError, AttributeError):
        return None


def keep(folder: Path, summaries: Iterable[Summary]) -> None:
    """Write them all, in place of what was there. Silently does nothing where the folder cannot be written."""
    made = "".join(_line(one) for one in sorted(summaries, key=lambda s: s.case))
    with contextlib.suppress(OSError):
        handle, beside = tempfile.mkstemp(prefix=f".{NAME}-", dir=folder)
        try:
            with os.fdopen(handle, "w", encoding="utf-8") as out:
                out.write(f"{FORMAT}\n{made}")
            os.replace(beside, folder / NAME)
        except OSError:
            with contextlib.suppress(OSError):
                os.unlink(beside)


def _line(summary: Summary) -> str:
    body = json.dumps(to_plain(summary), ensure_ascii=True, separators=(",", ":"), sort_keys=True)
    return f"{hashlib.sha256(body.encode()).hexdigest()} {body}\n"


def gathered(
    folder: Path, heads: dict[str, str], make: Callable[[str], Summary | None]
) -> dict[str, Summary]:
    """The summaries of the cases in ``heads`` (case key -> head digest, hex), kept or made anew.

    ``make``: folds a case from its log and gives its summary, or None where the log cannot be read; such a
    case is left out. What was made is kept for the next time.
    """
    kept = read_kept(folder)
    out: dict[str, Summary] = {}
    made = 0
    for case, head in heads.items():
        found = kept.get(case)
        if found is not None and found.head == head:
            out[case] = found
            continue
        summary = make(case)
        made += 1
        if summary is not None:
            out[case] = summary
    if made:
        keep(folder, {**kept, **out}.values())
    return out
