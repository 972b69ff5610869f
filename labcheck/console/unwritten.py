"""Presses that are not in the ledger, named by what they would have become and by their own moment.

They are named so that somebody can write them down. What the program notes by itself asks nobody for that.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from labcheck.caselog.case import Case
from labcheck.caselog.clockwords import clock_words
from labcheck.caselog.deciding import Decided, Refused, decide
from labcheck.caselog.events import Event
from labcheck.caselog.folding import fold_all
from labcheck.caselog.intents import Intent
from labcheck.caselog.stamps import Moment, Stamp
from labcheck.caselog.telling import tell

Make = Callable[[Case], Intent | None]
"""Makes the intent of a press once it is its turn, from the case as it then stands; None: nothing to do."""

Unless = Callable[[Case], str]
"""Why a press is not to be recorded in the case as it stands when it is its turn, or ""."""

OWN_KINDS = frozenset({"clock.noticed", "press.bounced"})
"""Entries that nobody would write on paper."""
OWN_INTENTS = frozenset({"clock.notice"})
LONGEST = 48
"""So many letters of an entry name it."""
NAMED = 4
"""So many presses are named in one line; the rest are counted."""
SUBJECTS = ("stage", "step", "decision", "run", "reading", "drug", "device", "bailout", "text", "item")
"""Fields of an intent that say what it is about."""


@dataclass(frozen=True, slots=True)
class Asked:
    """A press that waits for its turn. ``own``: the program's, not a person's."""

    make: Make
    stamp: Stamp
    own: bool = False
    unless: Unless | None = None

    def decide(self, case: Case) -> tuple[Intent | None, Decided | Refused | None]:
        """The intent and what it becomes in this case; nothing is recorded or said by asking."""
        intent = self.make(case)
        if intent is None:
            return None, None
        why_not = self.unless(case) if self.unless is not None else ""
        return intent, Refused(why_not) if why_not else decide(case, intent, self.stamp)


@dataclass(frozen=True, slots=True)
class Unwritten:
    """A press that is not in the ledger: its words, when it happened, and its entries if it could be decided."""

    words: str
    at: Moment
    events: tuple[Event, ...] = ()
    own: bool = False

    @property
    def named(self) -> str:
        """ "pacing on 14:05:12"."""
        return f"{self.words} {clock_words(self.at)}"


def of_events(case: Case, events: Sequence[Event]) -> tuple[Case, Unwritten]:
    """The entries of one press named, and the case as it would be with them."""
    then = fold_all(case, events)
    telling = [event for event in events if event.kind not in OWN_KINDS]
    event = (telling or events)[-1]
    return then, Unwritten(_short(tell(then, event)), event.happened, tuple(events), own=not telling)


def foresee(case: Case, asked: Asked) -> tuple[Case, Unwritten | None]:
    """What a press would become in this case, without recording it; None if it would become nothing at all."""
    at = asked.stamp.moment()
    try:
        intent, outcome = asked.decide(case)
    except Exception:  # a fault of ours must not take the name of a press with it
        return case, Unwritten("a press", at, own=asked.own)
    if isinstance(outcome, Refused):
        return case, refused(intent, asked.stamp)
    if outcome is None:
        return case, None
    return of_events(case, outcome.events) if outcome.events else (case, None)


def refused(intent: Intent | None, stamp: Stamp) -> Unwritten:
    """A press that became nothing, because it wanted a reason, say: what was asked for."""
    do = str(getattr(intent, "do", "press"))
    subject = next((str(value) for name in SUBJECTS if (value := getattr(intent, name, None))), "")
    spoken = do.replace(".", " ") if do.endswith((".on", ".off")) else " ".join(reversed(do.split(".")))
    words = f"{spoken} {subject.replace('_', ' ')}"
    return Unwritten(_short(words.strip()), stamp.moment(), own=do in OWN_INTENTS)


def listed(presses: Sequence[Unwritten]) -> str:
    """The latest first, in one line: "pacing on 14:05:12, mark 14:05:10 and 3 more"."""
    latest = [press.named for press in reversed(presses)]
    more = f" and {len(latest) - NAMED} more" if len(latest) > NAMED else ""
    return ", ".join(latest[:NAMED]) + more


def _short(words: str) -> str:
    return words if len(words) <= LONGEST else f"{words[: LONGEST - 2].rstrip()}.."
