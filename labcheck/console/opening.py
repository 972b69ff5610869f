"""Opening a new case and taking up an unfinished one: what the first screens hand over to the running case."""

from __future__ import annotations

import os

from labcheck.caselog.folding import begin, refold
from labcheck.caselog.intents import NoticeClock, OpenCase, TakeLease
from labcheck.caselog.stamps import Moment, Stamp
from labcheck.caselog.telling import clock_words
from labcheck.checklist.plan import Plan
from labcheck.checklist.reading import read_checklist
from labcheck.console.bench import Bench
from labcheck.console.earlier import bring_in, told
from labcheck.console.session import Session
from labcheck.ledger.clockwatch import since
from labcheck.ledger.keys import new_case_key, new_press
from labcheck.ledger.lease import UNKNOWN, Holder
from labcheck.ledger.resume import load
from labcheck.ledger.unsaved import SideFile


def press_id() -> str:
    """A fresh press id."""
    return new_press(os.urandom)


def holder_words(holder: Holder | None, now: Stamp) -> str:
    """Which console holds a case, and since when by the clock on this wall."""
    if holder is None or not holder.since_us:
        return holder.console if holder is not None else UNKNOWN.console
    since_when = Moment(wall_us=holder.since_us, off_s=now.off_s, tz=now.tz)
    return f"{holder.console}, since {clock_words(since_when, seconds=False)}"


def new_case(
    bench: Bench, text: bytes, plan: Plan, stamp: Stamp, *, rehearsal: bool, recorder: str, name: str
) -> Session:
    """A session whose first press opens the case. Raises ``LedgerError`` or ``ChecklistError`` (one line)."""
    checklist = read_checklist(text, name)
    digest = bench.ledger.keep_checklist(text)
    key = new_case_key(os.urandom, bench.ledger.has)
    session = Session(begin(key, checklist), bench.writer, bench.deliver, clock_words)
    session.reload = lambda: refold(begin(key, checklist), bench.ledger.events(key))
    opening = OpenCase(
        press=press_id(), plan=plan, checklist_digest=digest, rehearsal=rehearsal, recorder=recorder
    )
    session.send(opening, stamp)
    return session


def resume_case(bench: Bench, key: str, stamp: Stamp) -> Session:
    """The case as it was left, with the gap noted, and what an earlier run could not save brought in or named.

    Raises ``LedgerError`` if the case cannot be read.
    """
    side = SideFile(bench.folder) if bench.folder is not None else None
    came, left = bring_in(bench.ledger, side, key) if side is not None else ([], [])
    loaded = load(bench.ledger, key)
    checklist = read_checklist(loaded.checklist, f"checklist of {key}")
    case = refold(begin(key, checklist), loaded.events)
    session = Session(case, bench.writer, bench.deliver, clock_words, head_hex=bench.ledger.head(key).hash_hex)
    session.reload = lambda: refold(begin(key, checklist), bench.ledger.events(key))
    session.earlier = told(came, left, checklist, loaded.events, stamp)
    if case.seal is None:
        session.send(NoticeClock(press=press_id(), found=since(case.log[-1].entered, stamp)), stamp)
    return session


def look_on(bench: Bench, key: str) -> Session:
    """A case that another console has, to be read: nothing is noted, nothing brought in. Raises ``LedgerError``."""
    loaded = load(bench.ledger, key)
    checklist = read_checklist(loaded.checklist, f"checklist of {key}")
    case = refold(begin(key, checklist), loaded.events)
    return Session(case, bench.writer, bench.deliver, clock_words, head_hex=bench.ledger.head(key).hash_hex)


def take_over(session: Session, console: str, stamp: Stamp) -> None:
    """Fence the console that held the case: from the next entry on the ledger refuses it."""
    session.send(TakeLease(press=press_id(), console=console, reason="taken over while looking on"), stamp)
