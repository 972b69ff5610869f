"""What the procedure log is made from: the rows a profile lets out, and one entry made from one of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Literal

from labcheck.checklist.model import Checklist
from labcheck.registry.columns import Profile
from labcheck.registry.concepts import CONCEPTS, Concept
from labcheck.registry.naming import words
from labcheck.registry.profiles import values
from labcheck.registry.tables import Tables
from labcheck.registry.times import read_rfc3339
from labcheck.registry.trust import as_they_stand, endings, qualities, retimed

Row = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Measured:
    """A number under an entry: what, how much, in which UCUM unit."""

    name: Concept
    value: float
    unit: str


@dataclass(frozen=True, slots=True)
class Entry:
    """One first-level entry. ``recorded`` is set where it was entered later; ``qualifier`` where time is unsure."""

    at: datetime
    seq: int
    name: Concept
    value: Concept | str
    action: str | None = None
    comment: str | None = None
    duration_s: float | None = None
    measured: Measured | None = None
    recorded: datetime | None = None
    qualifier: Literal["estimated", "unsynchronized"] | None = None


@dataclass(slots=True)
class Source:
    """The rows that the profile lets out."""

    checklist: Checklist
    profile: Profile
    rows: Mapping[str, list[Row]]
    events: Mapping[int, Row] = field(default_factory=dict)
    endings: Mapping[int, Mapping[str, Any]] = field(default_factory=dict)
    qualities: Mapping[int, str] = field(default_factory=dict)
    retimed: Mapping[int, Mapping[str, Any]] = field(default_factory=dict)


def source(tables: Tables) -> Source:
    """The rows of a case, and its entries by number and by what they end."""
    profile = tables.frame.profile
    rows = {name: [values(row, profile) for row in found] for name, found in tables.rows.items()}
    log = as_they_stand(rows["events"])
    rows["events"] = log
    events = {row["seq"]: row for row in log}
    return Source(
        tables.frame.case.checklist, profile, rows, events, endings(log), qualities(log), retimed(log)
    )


def entry(src: Source, event: Mapping[str, Any], name: str, value: Concept | str, **more: Any) -> Entry:
    """The entry of one row of the log, with its time as it stands and what is known about that time."""
    quality = src.qualities[event["seq"]]
    more.setdefault("at", read_rfc3339(event["stands_at"]))
    # A time that was put right later was recorded when it was put right.
    typed = src.retimed.get(event["seq"]) or (event if event["late"] else None)
    return Entry(
        seq=event["seq"],
        name=CONCEPTS[name],
        value=value,
        recorded=read_rfc3339(typed["recorded_at"]) if typed is not None else None,
        qualifier="estimated"
        if quality == "estimated"
        else "unsynchronized"
        if quality != "measured"
        else None,
        **more,
    )


def with_cusp(text: str, row: Row) -> str:
    """A title with the leaflet or the ostium it is about."""
    if row.get("ostium"):
        return f"{text}, {row['ostium']} coronary"
    return f"{text}, {row['cusp'].replace('_', ' ')}" if row["cusp"] else text


def figure(value: float) -> str:
    """A number as it was entered."""
    return str(int(value)) if float(value).is_integer() else repr(value)


def amount(value: float | None, unit: str | None) -> str:
    """A number with its unit, or nothing."""
    return f"{figure(value)} {unit or ''}".strip() if value is not None else ""


def reason_words(src: Source, row: Row) -> str | None:
    """The reason that a row gives, in the checklist's words where it is one of those offered there."""
    code, said = row["reason_code"], row.get("reason")
    return words(src.checklist, src.profile, "reason", code) if code else said


def observers(src: Source) -> list[str]:
    """The tags of the people at the keys, in order of appearance; none outside the hospital."""
    tags = (row.get("recorder") for row in src.rows["events"])
    return list(dict.fromkeys(tag for tag in tags if tag))
