"""A ledger in which every field that takes text holds text made to act, as if somebody else had written it.

The program's own way in would have cleaned it (see ``test_25_clean_input``); what is shown and what leaves must be
inert all the same. Case ``STORY`` is a plausible one whose reasons and notes act; case ``KINDS`` has every kind of
entry with every open field planted, and is sealed. Their checklist has every line planted that a file can hold.
"""

from __future__ import annotations

import itertools
import tomllib
from decimal import Decimal
from pathlib import Path
from typing import Any, get_args

from pydantic import BaseModel

from labcheck.caselog import events as ev
from labcheck.caselog.events import Event, Payload
from labcheck.caselog.stamps import Stamp
from labcheck.checklist.model import Checklist
from labcheck.checklist.reading import digest, read_checklist
from labcheck.ledger.store import open_ledger
from tests.caselog.driving import SMALL
from tests.faults.planting import (
    ACTING,
    SOFT,
    Planter,
    annotation,
    document,
    is_list,
    is_open,
    models_in,
    parts,
)
from tests.ledger.making import NINE
from tests.registry import generating

STORY, KINDS = "STRY-22", "KNDS-22"
FULL = Path(__file__).parents[2] / "checklists" / "electrosurgical.toml"
UNITS = ("unit", "units", "rate_unit")
"""Not everything has a unit, so these are planted only where there is one."""
MEMBERS: tuple[type[BaseModel], ...] = get_args(get_args(Payload)[0])
_LAST = (ev.CaseSealed, ev.EventAmended, ev.EventVoided, ev.AddendumAdded, ev.SealAttested, ev.LeaseTaken)


def planted_tables(model: type[BaseModel], tables: dict[str, Any], text: str) -> set[tuple[str, str]]:
    """Put ``text`` into every open field of a checklist's tables, also of the optional ones that are not there.

    Changes ``tables``; says which fields were planted.
    """
    found: set[tuple[str, str]] = set()
    for name, field in model.model_fields.items():
        key, kind = field.alias or name, annotation(field)
        value = tables.get(key)
        rows: list[Any] = value if isinstance(value, list) else [value]
        if rows and isinstance(rows[0], dict):
            (below, *_) = [m for part in parts(kind) for a in (part, *get_args(part)) for m in models_in(a)]
            for row in rows:
                found |= planted_tables(below, row, text)
        elif is_open(kind) and (key in tables or key not in UNITS):
            # Calls must differ, or the checklist is refused.
            tables[key] = [text] if is_list(kind) else f"{text} {tables['id']}" if key == "call" else text
            found.add((model.__name__, name))
    return found


def planted_checklist(text: str, sound: Path = SMALL) -> tuple[bytes, set[tuple[str, str]]]:
    """A sound checklist with every line planted, and the fields that were."""
    tables = tomllib.loads(sound.read_text(encoding="utf-8"), parse_float=Decimal)
    found = planted_tables(Checklist, tables, text)
    return document(tables).encode(), found


def _stamp(number: int, text: str) -> Stamp:
    """A stamp whose zone and boot act as well."""
    us = number * 1_000_000
    return Stamp(
        wall_us=NINE + us, off_s=3600, tz=text[:64], boot_us=us, mono_us=us, boot_id=text[:64], win_us=0
    )  # fmt: skip


class Kinds:
    """Every kind of entry, with every open field holding one of the texts."""

    def __init__(self, checklist: Checklist, checklist_digest: str) -> None:
        self.checklist, self.digest = checklist, checklist_digest
        self.events: list[Event] = []
        self.planted: set[tuple[str, str]] = set()
        self.epoch = 1
        self.last: dict[str, int] = {}

    def add(self, model: type[BaseModel], text: str, **given: Any) -> None:
        """One entry of this kind."""
        seq = len(self.events) + 1
        planter = Planter(text)
        what = planter.make(model, **{**self._named(model), **given})
        self.epoch += model is ev.LeaseTaken
        stamp = _stamp(seq, text)
        self.events.append(
            Event(
                case=KINDS, seq=seq, id=f"{seq:032x}-00", press=f"{seq:032x}", epoch=self.epoch,
                happened=stamp.moment(), entered=stamp, mode="late", late_reason=text, recorder="N1", what=what,
            )
        )  # fmt: skip
        self.last[what.kind] = seq
        self.planted |= planter.planted | {
            ("Event", "late_reason"), ("Moment", "tz"), ("Moment", "boot_id"), ("Stamp", "tz"), ("Stamp", "boot_id"),
        }  # fmt: skip

    def _named(self, model: type[BaseModel]) -> dict[str, Any]:
        """References to entries that are there; a correction takes a note."""
        wanted = {
            "opened": "bailout.opened" if model is ev.BailoutClosed else "stage.opened",
            "attempt": "attempt.opened",
            "burst": "energy.started",
            "sample": "sample.sent",
            "after": "stage.opened",
            "target": "note.written",
        }
        found = {name: self.last.get(kind, 1) for name, kind in wanted.items() if name in model.model_fields}
        if model is ev.RunStopped:
            found["run"] = self.last["run.started"]
        return found

    def all(self) -> None:
        """Every text in every kind; the seal and what may follow it at the end."""
        (first, *texts) = ACTING.values()
        self.add(ev.CaseOpened, first, rehearsal=False, checklist_digest=self.digest)
        for text in (first, *texts):
            for model in MEMBERS:
                if model not in (ev.CaseOpened, ev.CaseSealed, ev.LeaseTaken):
                    self.add(model, text)
        for text in ACTING.values():
            self.add(ev.LeaseTaken, text)
        self.add(ev.CaseSealed, first, entries=len(self.events))
        for text in ACTING.values():
            for model in _LAST[1:]:
                self.add(model, text)


class _Calm(generating.Chance):
    """Chance without steps of the clock or changes of zone, which the log would have to tell."""

    def stamp(self) -> Stamp:
        moved = {"wall_us": generating.START_US + self.us, "off_s": 3600, "boot_id": "boot-0"}
        return super().stamp().model_copy(update=moved)


def story(checklist_text: bytes, seed: int = 0) -> tuple[Event, ...]:
    """A case made by chance through ``decide``, with reasons and notes that act."""
    usual = generating.TEXTS
    try:
        generating.TEXTS = list(ACTING.values())
        chance = _Calm(seed, read_checklist(checklist_text, "planted.toml"), checklist_text)
        for _ in range(160):
            chance.anything()
    finally:
        generating.TEXTS = usual
    renamed = (event.model_copy(update={"case": STORY}) for event in chance.case.log)
    return tuple(renamed)


def make(folder: Path) -> set[tuple[str, str]]:
    """Write the ledger; which fields of the events were planted."""
    ledger = open_ledger(folder)
    try:
        text = planted_checklist(ACTING[SOFT[0]])[0]
        ledger.keep_checklist(text)
        presses = itertools.groupby(story(text), key=lambda event: event.press)
        ledger.append_case([tuple(press) for _, press in presses])
        other = planted_checklist(ACTING[SOFT[1]], FULL)[0]
        ledger.keep_checklist(other)
        kinds = Kinds(read_checklist(other, "planted.toml"), digest(other))
        kinds.all()
        ledger.append_case([(event,) for event in kinds.events])
        return kinds.planted
    finally:
        ledger.close()
