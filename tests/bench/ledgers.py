"""The ledger to measure on: many small cases, and one long one that is not finished."""

from __future__ import annotations

import os
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any

from labcheck.caselog.case import Case
from labcheck.caselog.deciding import Refused, decide
from labcheck.caselog.events import Event
from labcheck.caselog.folding import begin, fold
from labcheck.caselog.intents import (
    Intent,
    OpenCase,
    OpenStage,
    SealCase,
    SetMark,
    SettleSignout,
    TakeReading,
    WriteNote,
)
from labcheck.caselog.signout import signout_items
from labcheck.checklist.model import Checklist
from labcheck.checklist.plan import Plan
from labcheck.commands import shelf
from labcheck.ledger.clocks import SystemClock
from labcheck.ledger.keys import new_case_key, new_press
from labcheck.ledger.store import FileLedger, open_ledger

OPEN = 20
"""Of the small cases so many are not finished; the others are sealed."""


class _Maker:
    """Drives a case by intents and keeps the presses."""

    def __init__(self, key: str, checklist: Checklist) -> None:
        self.case: Case = begin(key, checklist)
        self.presses: list[tuple[Event, ...]] = []
        self._clock = SystemClock()

    def press(self, model: type[Intent], **fields: Any) -> None:
        intent = model(press=new_press(os.urandom), **fields)
        outcome = decide(self.case, intent, self._clock.stamp())
        if isinstance(outcome, Refused):
            raise RuntimeError(outcome.reason)
        for event in outcome.events:
            self.case = fold(self.case, event)
        self.presses.append(outcome.events)

    def seal(self) -> None:
        """Settle what stands open by a reason, and close the case."""
        for item in signout_items(self.case, self._clock.stamp()):
            self.press(SettleSignout, item=item.id, reason="not_needed")
        self.press(SealCase)


def _under_another_key(presses: list[tuple[Event, ...]], key: str) -> list[tuple[Event, ...]]:
    """The same presses as another case's, with ids of their own: quicker than deciding them anew."""
    made = []
    for press in presses:
        press_id = new_press(os.urandom)
        made.append(
            tuple(
                e.model_copy(update={"case": key, "press": press_id, "id": press_id + e.id[32:]})
                for e in press
            )
        )
    return made


def fill(folder: Path, cases: int, entries: int) -> tuple[str, int]:
    """Make a ledger of so many small cases, with one of ``entries`` on top; its key and its last number."""
    checklist, text, digest = shelf.checklist("electrosurgical")
    ledger = open_ledger(folder)
    ledger.keep_checklist(text)
    sealed = _made(ledger, checklist, digest, 6)
    sealed.seal()
    for number in range(cases):
        if number % 1000 == 0:
            print(f"  filling the ledger: {number} of {cases}", flush=True)
        presses = sealed.presses if number >= OPEN else sealed.presses[:-1]
        ledger.append_case(_under_another_key(presses, new_case_key(os.urandom, ledger.has)))
    long = _made(ledger, checklist, digest, entries)
    ledger.append_case(long.presses)
    ledger.close()
    return long.case.key, long.case.head_seq


def long_presses(ledger: FileLedger, count: int) -> list[tuple[Event, ...]]:
    """The first presses of a long case that is not in the ledger yet."""
    checklist, _, digest = shelf.checklist("electrosurgical")
    return _made(ledger, checklist, digest, count + 10).presses[:count]


def _made(ledger: FileLedger, checklist: Checklist, digest: str, entries: int) -> _Maker:
    maker = _Maker(new_case_key(os.urandom, ledger.has), checklist)
    plan = Plan(technique="electrosurgical", substrate="surgical", targets=("left",))
    maker.press(OpenCase, plan=plan, checklist_digest=digest, rehearsal=False)
    maker.press(OpenStage, stage="briefing")
    maker.press(OpenStage, stage="access")
    for model, fields in _endless():
        if maker.case.head_seq >= entries:
            break
        maker.press(model, **fields)
    return maker


def _endless() -> Iterator[tuple[type[Intent], dict[str, object]]]:
    value = 0
    while True:
        value = (value + 7) % 60
        yield TakeReading, {"reading": "systolic", "value": Decimal(90 + value)}
        yield WriteNote, {"text": f"note of the {value}th kind, as long as notes tend to be"}
        yield SetMark, {}
