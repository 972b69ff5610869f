"""Reading a script: a case told as timed entries, for rehearsals, paper records and tests. Text in, no clock.

A script is TOML. At its head stand the checklist it belongs to, the day and the zone; then a plan as the
console would ask for it; then the entries in the order in which they were made::

    format = 1
    title = "Left cusp, rehearsal"
    checklist = "electrosurgical"
    date = "2031-03-04"
    utc_offset = "+01:00"

    [plan]
    technique = "electrosurgical"
    substrate = "native"
    targets = ["left"]

    [[entry]]
    at = "09:14:05"
    do = "stage.open"
    stage = "traverse"
    cusp = "left"

``at`` is when the key went down, by the wall clock of the head (``09:14`` and ``2031-03-05 09:14:05`` are
read too; a time far before the entry above it is on the next day). ``happened`` or ``ago`` make the entry
late; ``late_reason`` and ``precision_s`` go with them; ``say`` is what was said. Every other key belongs to
the intent that ``do`` names.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, timezone
from decimal import Decimal
from typing import Annotated, Any, Literal

from pydantic import Field

from labcheck.caselog.events import Recorder
from labcheck.caselog.intents import INTENT_MODELS, Claim, Intent
from labcheck.checklist.complaint import ChecklistError, Complaint, nearest, shown
from labcheck.checklist.plan import Plan
from labcheck.checklist.reading import fit
from labcheck.checklist.toml_text import parse_toml
from labcheck.checklist.words import Line, Strict, Text, Word

DAY_US = 24 * 3600 * 1_000_000
TIMING = ("at", "do", "happened", "ago", "late_reason", "precision_s", "say")
NOT_IN_A_SCRIPT = ("case.open", "lease.take")
"""The head opens the case; only a console takes a lease."""
PLACEHOLDER = "0" * 32

_TIME = re.compile(r"(?:(\d{4}-\d{2}-\d{2})[ T])?(\d{2}):(\d{2})(?::(\d{2})(?:\.(\d{1,6}))?)?")
_AGO = re.compile(r"(?:(\d{1,2}):)?(\d{1,3}):(\d{2})")


class Head(Strict):
    """What stands above the entries. ``start``: when the case is opened, by default at the first entry."""

    format: Literal[1]
    title: Line
    checklist: Word
    date: Annotated[str, Field(pattern=r"^\d{4}-\d{2}-\d{2}$")]
    utc_offset: Annotated[str, Field(pattern=r"^[+-]\d{2}:\d{2}$")]
    tz: Annotated[str, Field(max_length=64)] = ""
    start: str | None = None
    rehearsal: bool = True
    recorder: Recorder = "N1"
    note: Text | None = None
    plan: Plan


@dataclass(frozen=True, slots=True)
class Entry:
    """One timed intent. ``at_us`` is UTC microseconds; ``intent`` still has no press id.

    ``whole_minutes``: the script gave no seconds. ``say``: what was said aloud, for the reader.
    """

    number: int
    at_us: int
    written: str
    intent: Intent
    whole_minutes: bool
    say: str | None = None

    @property
    def name(self) -> str:
        """How a complaint calls it."""
        return f"entry {self.number} ({self.written})"


@dataclass(frozen=True, slots=True)
class Script:
    """A whole script. ``start_us`` is UTC microseconds; ``off_s`` seconds east of UTC."""

    name: str
    head: Head
    start_us: int
    off_s: int
    entries: tuple[Entry, ...]

    @property
    def plan(self) -> Plan:
        """The plan the case is opened with."""
        return self.head.plan


def looks_like_script(data: Mapping[str, Any]) -> bool:
    """Whether parsed TOML is meant as a script rather than as a checklist."""
    return "entry" in data or ("plan" in data and "stage" not in data)


def read_script(text: bytes | str, name: str) -> Script:
    """The script that ``text`` holds; ``name`` is the file's name for complaints.

    Raises ``ChecklistError`` whose complaints name the entry, the key and the nearest right spelling.
    """
    data = parse_toml(text, name)
    head = fit(Head, {key: value for key, value in data.items() if key != "entry"}, name)
    return _Reader(name, head).read(data.get("entry", ()))


class _Reader:
    def __init__(self, name: str, head: Head) -> None:
        self.name = name
        self.head = head
        sign = -1 if head.utc_offset[0] == "-" else 1
        hours, minutes = int(head.utc_offset[1:3]), int(head.utc_offset[4:])
        self.off_s = sign * (hours * 3600 + minutes * 60)
        if abs(self.off_s) > 18 * 3600 or minutes > 59:
            raise self._fault(("key utc_offset",), f'"{head.utc_offset}" is not an offset from UTC')
        self.day = self._day(head.date, ("key date",))

    def read(self, raw: Any) -> Script:
        if not isinstance(raw, tuple) or not raw:
            raise self._fault((), "has no entries; write each as [[entry]] with at and do")
        entries: list[Entry] = []
        for number, table in enumerate(raw, 1):
            entries.append(self._entry(number, table, entries[-1].at_us if entries else None))
        start = entries[0].at_us
        if self.head.start is not None:
            self.day = self._day(self.head.date, ("key date",))
            start, _, _ = self._clock(self.head.start, ("key start",))
            if start > entries[0].at_us:
                raise self._fault(("key start",), "is later than the first entry")
        return Script(self.name, self.head, start, self.off_s, tuple(entries))

    def _entry(self, number: int, table: Any, before: int | None) -> Entry:
        where = (f"entry {number}",)
        if not isinstance(table, Mapping):
            raise self._fault(where, "must be a table with at and do")
        for key in ("at", "do"):
            if not isinstance(table.get(key), str):
                raise self._fault((*where, f"key {key}"), "must be given, as text in quotes")
        written, do = table["at"], table["do"]
        where = (f"entry {number} ({shown(written)})",)
        at_us, whole_minutes = self._at(written, (*where, "key at"), before)
        model = self._model(do, where)
        claim = self._claim(table, at_us, whole_minutes, where)
        intent = self._intent(model, table, where)
        say = table.get("say")
        if say is not None and not isinstance(say, str):
            raise self._fault((*where, "key say"), "must be text in quotes")
        return Entry(number, at_us, written, intent.model_copy(update={"claim": claim}), whole_minutes, say)

    def _model(self, do: str, where: tuple[str, ...]) -> type[Intent]:
        known = [name for name in INTENT_MODELS if name not in NOT_IN_A_SCRIPT]
        if do not in known:
            raise self._fault(
                (*where, "key do"), f'"{shown(do)}" is not something a script can do', nearest(do, known)
            )
        return INTENT_MODELS[do]

    def _intent(self, model: type[Intent], table: Mapping[str, Any], where: tuple[str, ...]) -> Intent:
        own = [key for key in model.model_fields if key not in ("press", "claim", "do")]
        given = {key: value for key, value in table.items() if key not in TIMING}
        for key in given:
            if key not in own:
                text = f"is not a key of {table['do']}; it takes {', '.join(own) or 'no further key'}"
                raise self._fault((*where, f"key {shown(key)}"), text, nearest(key, (*own, *TIMING)))
        try:
            return fit(model, {**given, "do": table["do"], "press": PLACEHOLDER}, self.name)
        except ChecklistError as error:
            raise ChecklistError(
                tuple(Complaint(c.file, (*where, *c.where), c.text, c.nearest) for c in error.complaints)
            ) from None

    def _claim(
        self, table: Mapping[str, Any], at_us: int, whole_minutes: bool, where: tuple[str, ...]
    ) -> Claim | None:
        happened, ago = table.get("happened"), table.get("ago")
        if happened is None and ago is None:
            for key in ("late_reason", "precision_s"):
                if key in table:
                    raise self._fault((*where, f"key {key}"), "belongs to an entry with happened or ago")
            return None
        if happened is not None and ago is not None:
            raise self._fault((*where, "key ago"), "give happened or ago, not both")
        when = self._ago(ago, where) if ago is not None else self._happened(happened, at_us, where)
        given = {"precision_s": 60 if whole_minutes else 1, **when}
        if "precision_s" in table:
            given["precision_s"] = table["precision_s"]
        if "late_reason" in table:
            given["reason"] = table["late_reason"]
        try:
            return fit(Claim, given, self.name)
        except ChecklistError as error:
            raise self._fault(where, error.complaints[0].text) from None

    def _ago(self, ago: Any, where: tuple[str, ...]) -> dict[str, Any]:
        found = _AGO.fullmatch(ago) if isinstance(ago, str) else None
        if found is None:
            raise self._fault((*where, "key ago"), 'must be a span such as "3:00" or "1:20:00"')
        hours, minutes, seconds = (int(part or 0) for part in found.groups())
        return {"ago_us": (hours * 3600 + minutes * 60 + seconds) * 1_000_000}

    def _happened(self, written: Any, at_us: int, where: tuple[str, ...]) -> dict[str, Any]:
        place = (*where, "key happened")
        if not isinstance(written, str):
            raise self._fault(place, "must be a time in quotes")
        when, whole_minutes, day = self._clock(written, place)
        if day is None and when > at_us:
            when -= DAY_US  # the evening before
        if when > at_us or (day is None and at_us - when > DAY_US // 2):
            raise self._fault(place, f"{shown(written)} is after the entry's own time; write the day with it")
        return {"wall_us": when, "precision_s": 60 if whole_minutes else 1}

    def _at(self, written: str, where: tuple[str, ...], before: int | None) -> tuple[int, bool]:
        """When the key went down, and whether only the minute was given. Keeps count of the days."""
        when, whole_minutes, day = self._clock(written, where)
        if day is not None:
            self.day = day
        if before is not None and when < before:
            if day is not None or before - when < DAY_US // 2:
                raise self._fault(where, "is earlier than the entry before it; put the entries in order")
            self.day += timedelta(days=1)
            when += DAY_US
        return when, whole_minutes

    def _clock(self, written: str, where: tuple[str, ...]) -> tuple[int, bool, date | None]:
        """UTC microseconds of a wall time, whether only the minute was given, and the day if it was given."""
        found = _TIME.fullmatch(written)
        if found is None:
            raise self._fault(where, f'"{shown(written)}" is not a time; write it as 09:14:05')
        said, hour, minute, second, fraction = found.groups()
        if int(hour) > 23 or int(minute) > 59 or int(second or 0) > 59:
            raise self._fault(where, f'"{shown(written)}" is not a time of day')
        day = self._day(said, where) if said is not None else None
        clock = time(int(hour), int(minute), int(second or 0))
        return self._wall_us(day or self.day, clock, fraction), second is None, day

    def _wall_us(self, day: date, clock: time, fraction: str | None) -> int:
        local = datetime.combine(day, clock, timezone(timedelta(seconds=self.off_s)))
        since = local - datetime(1970, 1, 1, tzinfo=UTC)
        micros = int(Decimal(f"0.{fraction or 0}") * 1_000_000)
        return (since.days * 86400 + since.seconds) * 1_000_000 + micros

    def _day(self, written: str, where: tuple[str, ...]) -> date:
        try:
            day = date.fromisoformat(written)
        except ValueError:
            raise self._fault(where, f'"{shown(written)}" is not a day of the calendar') from None
        if not 1970 < day.year < 2200:
            raise self._fault(where, f'"{shown(written)}" is not a year that can be meant')
        return day

    def _fault(self, where: tuple[str, ...], text: str, close: str | None = None) -> ChecklistError:
        return ChecklistError((Complaint(self.name, where, text, close),))
