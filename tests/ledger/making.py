"""Events made by hand: a small factory that knows nothing of ``decide``."""

from __future__ import annotations

import itertools
from typing import Any

from labcheck.caselog.events import CaseOpened, Event, EventVoided, LeaseTaken, MarkSet, NoteWritten
from labcheck.caselog.stamps import Stamp
from labcheck.checklist.plan import Plan
from labcheck.ledger.contract import Ledger, text_digest

CASE = "K7Q2-M4"
OTHER = "B3X8-Z9"
CHECKLIST = b'id = "made_for_tests"\n'
NINE = 1_772_000_000_000_000
"""A wall time, UTC microseconds, that all made stamps count from."""


def stamp(seconds: float = 0, **changes: Any) -> Stamp:
    """A stamp so many seconds after the first."""
    us = round(seconds * 1_000_000)
    facts: dict[str, Any] = {
        "wall_us": NINE + us,
        "off_s": 3600,
        "tz": "Europe/Zurich",
        "boot_us": 5_000_000 + us,
        "mono_us": 5_000_000 + us,
        "boot_id": "made-boot",
    }
    return Stamp(**{**facts, **changes})


class Maker:
    """Makes the next press of a case, with seqs and ids that follow."""

    def __init__(self, case: str = CASE, *, start: int = 0) -> None:
        self.case = case
        self.seq = 0
        self.epoch = 1
        self._presses = itertools.count(start)

    def press(self, *payloads: Any, **changes: Any) -> tuple[Event, ...]:
        """One press that says all these things at once."""
        number = next(self._presses)
        press = f"{sum(map(ord, self.case)):08x}{number:024x}"
        made = tuple(
            Event(
                case=self.case,
                seq=self.seq + 1 + place,
                id=f"{press}-{place:02d}",
                press=press,
                epoch=self.epoch,
                happened=stamp(number).moment(),
                entered=stamp(number),
                mode="live",
                recorder="N1",
                what=payload,
            ).model_copy(update=changes)
            for place, payload in enumerate(payloads)
        )
        self.seq += len(made)
        return made

    def opening(self, *, rehearsal: bool = False, **plan: Any) -> tuple[Event, ...]:
        """The press that opens the case."""
        facts: dict[str, Any] = {
            "technique": "electrosurgical",
            "substrate": "surgical",
            "targets": ("left",),
        }
        return self.press(
            CaseOpened(
                plan=Plan(**{**facts, **plan}),
                checklist_id="made_for_tests",
                checklist_revision="1",
                checklist_digest=text_digest(CHECKLIST),
                rehearsal=rehearsal,
                recorder="N1",
            )
        )

    def note(self, text: str = "dextrose is connected", **changes: Any) -> tuple[Event, ...]:
        """A press with one note."""
        return self.press(NoteWritten(text=text), **changes)

    def mark(self) -> tuple[Event, ...]:
        """A press with one mark."""
        return self.press(MarkSet())

    def void(self, target: int) -> tuple[Event, ...]:
        """A press that voids an entry."""
        return self.press(EventVoided(target=target, reason="wrong cusp"))

    def lease(self) -> tuple[Event, ...]:
        """The press that takes the case over in the next epoch."""
        self.epoch += 1
        return self.press(LeaseTaken(console="second console", reason="first one froze"))


def fill(ledger: Ledger, maker: Maker, notes: int = 3) -> None:
    """Open the maker's case in a ledger and write some notes."""
    ledger.keep_checklist(CHECKLIST)
    ledger.append(maker.opening())
    for number in range(notes):
        ledger.append(maker.note(f"note {number}"))
