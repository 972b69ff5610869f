"""Figures of many old cases made anew from their logs: without the database, and on several processors.

What is read is each case's mirror. It is believed only where its chain of digests is whole and ends in the very
head that the ledger gives: then it is, byte for byte, what the ledger holds. Any other case is left to the
ordinary way of reading, which says what is wrong.
"""

from __future__ import annotations

import gc
import os
import sys
import threading
from collections.abc import Mapping, Sequence
from functools import lru_cache
from pathlib import Path

from labcheck.caselog.events import CaseOpened, Event
from labcheck.caselog.folding import begin, refold
from labcheck.checklist.complaint import ChecklistError
from labcheck.checklist.model import Checklist
from labcheck.checklist.reading import digest, read_checklist
from labcheck.debrief.summary import Summary, summarise
from labcheck.ledger import mirror
from labcheck.ledger.chain import FIRST_PREV, read_event

WORTH_SHARING = 24
"""Cases below which a second process costs more than it saves."""
MOST_PROCESSES = 8
PARTS = 4
"""Shares a process gets, so that none waits long for the slowest."""


def reread(folder: Path, heads: Mapping[str, str]) -> dict[str, Summary]:
    """The summaries of the cases in ``heads`` (case key -> head digest, hex) whose mirrors prove them."""
    asked = tuple(heads.items())
    processes = min(MOST_PROCESSES, _processors(), len(asked) // (WORTH_SHARING // 2))
    if processes > 1 and _may_fork():
        found = _shared(folder, asked, processes)
        if found is not None:
            return found
    return _part(folder, asked)


def _processors() -> int:
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def _may_fork() -> bool:
    """Only where forking is sound: elsewhere a new process would have to load the whole program first."""
    return sys.platform == "linux" and threading.active_count() == 1


def _shared(folder: Path, asked: Sequence[tuple[str, str]], processes: int) -> dict[str, Summary] | None:
    """The work dealt out to processes; None where the system gives us none, or one of them fell over."""
    from concurrent.futures import ProcessPoolExecutor
    from concurrent.futures.process import BrokenProcessPool
    from multiprocessing import get_context

    shares = [asked[at :: processes * PARTS] for at in range(processes * PARTS)]
    try:
        # Without the collector: what is made here has no cycles, and looking for them takes a sixth of the time.
        with ProcessPoolExecutor(processes, get_context("fork"), initializer=gc.disable) as pool:
            done = list(pool.map(_part, [folder] * len(shares), shares))
    except (OSError, ImportError, BrokenProcessPool):
        return None
    return {case: one for part in done for case, one in part.items()}


def _part(folder: Path, asked: Sequence[tuple[str, str]]) -> dict[str, Summary]:
    found = ((case, reread_one(folder, case, head)) for case, head in asked)
    return {case: summary for case, summary in found if summary is not None}


def reread_one(folder: Path, case: str, head: str) -> Summary | None:
    """The summary of one case up to that head, or None where its mirror does not prove it."""
    kept = mirror.Mirror(folder)
    try:
        events = proved(kept.path(case), head)
        if not events or not isinstance(events[0].what, CaseOpened):
            return None
        checklist = _checklist(kept.folder, events[0].what.checklist_digest)
        return summarise(refold(begin(case, checklist), events), head)
    except (OSError, ValueError, ChecklistError):
        return None


def proved(path: Path, head: str) -> tuple[Event, ...]:
    """The events of a mirror, or none unless every line bears its digest and names the one before, up to ``head``.

    Raises ``ValueError`` where a proved line is no event of ours, ``OSError`` where the file cannot be read.
    """
    lines, torn = mirror.read(path)
    before = FIRST_PREV.hex()
    for line in lines:
        if not line.sound or b'"prev":"%b"' % before.encode() not in line.body:
            return ()
        before = line.hash_hex
    if torn or before != head:
        return ()
    prevs = (FIRST_PREV, *(bytes.fromhex(line.hash_hex) for line in lines))
    return tuple(read_event(line.body, prev) for line, prev in zip(lines, prevs, strict=False))


@lru_cache(maxsize=16)
def _checklist(folder: Path, name: str) -> Checklist:
    """The checklist kept beside the mirrors under that digest. Raises ``ValueError`` where its text is another."""
    text = (folder / f"{name}{mirror.TEXT_SUFFIX}").read_bytes()
    if digest(text) != name:
        raise ValueError(f"{name}: not the text of that digest")
    return read_checklist(text, name)
