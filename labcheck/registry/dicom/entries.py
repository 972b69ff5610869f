"""What the procedure log says, entry by entry, from the same rows as every other format.

The log is flat: a stage is a pair of start and end entries with one action id. Entries stand in strictly
increasing time of happening, as the standard demands; what happened in the same millisecond is set apart by a
microsecond, here and nowhere else.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from typing import Any, Literal

from labcheck.checklist.model import Checklist
from labcheck.registry.columns import Profile
from labcheck.registry.concepts import CONCEPTS, Concept, concept, local, phase
from labcheck.registry.measures import ucum
from labcheck.registry.naming import option_words, outcome_words, step_words, words
from labcheck.registry.profiles import values
from labcheck.registry.tables import Tables
from labcheck.registry.times import read_rfc3339

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
    endings: Mapping[int, Row] = field(default_factory=dict)


def source(tables: Tables) -> Source:
    """The rows of a case, and its entries by number and by what they end."""
    profile = tables.frame.profile
    rows = {name: [values(row, profile) for row in found] for name, found in tables.rows.items()}
    events = {row["seq"]: row for row in rows["events"]}
    endings = {
        row["refers_to"]: row
        for row in rows["events"]
        if not row["voided"] and row["kind"].endswith((".closed", ".stopped"))
    }
    return Source(tables.frame.case.checklist, profile, rows, events, endings)


def entries(src: Source) -> list[Entry]:
    """Every entry, in strictly increasing time."""
    found = sorted(_all(src), key=lambda entry: (entry.at, entry.seq))
    apart: list[Entry] = []
    last: datetime | None = None
    for entry in found:
        at = entry.at if last is None or entry.at > last else last + timedelta(microseconds=1)
        apart.append(_moved(entry, at))
        last = at
    return apart


def _moved(entry: Entry, at: datetime) -> Entry:
    if at == entry.at:
        return entry
    return replace(entry, at=at.astimezone(entry.at.tzinfo))


def _all(src: Source) -> Iterator[Entry]:
    yield from _stages(src)
    yield from _attempts(src)
    yield from _rescues(src)
    yield from _bursts_and_runs(src)
    yield from _given(src)
    yield from _readings(src)
    yield from _answers(src)
    yield from _others(src)


def _entry(src: Source, event: Row, name: str, value: Concept | str, **more: Any) -> Entry:
    quality = event["time_quality"]
    more.setdefault("at", read_rfc3339(event["occurred_at"]))
    return Entry(
        seq=event["seq"],
        name=CONCEPTS[name],
        value=value,
        recorded=read_rfc3339(event["recorded_at"]) if event["late"] else None,
        qualifier=quality if quality != "measured" else None,
        **more,
    )


def _pair(
    src: Source, row: Row, action: str, value: Concept, comment: str, end_comment: str
) -> Iterator[Entry]:
    """A start entry, and an end entry where there is an end.

    Where a clock was set back, or a time was estimated, so that the end stands before the start, the two cannot
    be a pair in a log ordered by time: they leave as notes.
    """
    opening, closing = src.events[row["seq"]], src.endings.get(row["seq"])
    start = read_rfc3339(row["started_at"])
    end = read_rfc3339(row["ended_at"]) if row["ended_at"] is not None and closing is not None else None
    if end is not None and end < start and closing is not None:
        yield _entry(src, opening, "log.procedure_note", f"{comment}: start", at=start)
        note = f"{end_comment}: end, by a time that stands before its start"
        yield _entry(src, closing, "log.procedure_note", note, at=end)
        return
    yield _entry(src, opening, "log.start", value, at=start, action=action, comment=comment)
    if end is None or closing is None:
        return
    yield _entry(
        src, closing, "log.end", value,
        at=end, action=action, comment=end_comment, duration_s=row["duration_s"],
    )  # fmt: skip


def _stages(src: Source) -> Iterator[Entry]:
    for row in src.rows["stages"]:
        if row["seq"] is None:
            continue
        title = row.get("title") or _with_cusp(row["stage"], row)
        comment = f"{title}, visit {row['visit']}"
        yield from _pair(
            src, row, f"stage {row['seq']}", phase(row["stage"]), comment, f"{comment}: {row['state']}"
        )


def _attempts(src: Source) -> Iterator[Entry]:
    for row in src.rows["attempts"]:
        stage = words(src.checklist, src.profile, "stage", row["stage"])
        comment = f"{_with_cusp(stage, row)}, attempt {row['number']}"
        outcome = outcome_words(src.checklist, src.profile, row["stage"], row["outcome"] or "open")
        yield from _pair(
            src, row, f"attempt {row['seq']}", phase(row["stage"]), comment, f"{comment}: {outcome}"
        )


def _rescues(src: Source) -> Iterator[Entry]:
    for row in src.rows["bailouts"]:
        title = words(src.checklist, src.profile, "bailout", row["bailout"])
        where = f", {row['ostium']} ostium" if row["ostium"] else ""
        comment = f"{_with_cusp(title, row)}{where}"
        outcome = option_words(
            src.checklist, src.profile, "bailout", row["bailout"], row["outcome"] or "open"
        )
        yield from _pair(
            src, row, f"bailout {row['seq']}", CONCEPTS["phase.bailout"], comment, f"{comment}: {outcome}"
        )
        meaning = concept("endpoint", row["endpoint"], title)
        opening = src.events[row["seq"]]
        yield _entry(
            src, opening, "log.complication", meaning, at=read_rfc3339(row["started_at"]), comment=comment
        )


def _bursts_and_runs(src: Source) -> Iterator[Entry]:
    for row in src.rows["bursts"]:
        watts = f", {row['watts']} W" if row["watts"] is not None else ""
        yield from _stretch(src, row, _with_cusp("Energy", row), watts)
    for row in src.rows["runs"]:
        title = words(src.checklist, src.profile, "run", row["run"])
        rate = f", {_figure(row['rate'])} {row['unit'] or ''}".rstrip() if row["rate"] is not None else ""
        yield from _stretch(src, row, title, rate)


def _stretch(src: Source, row: Row, title: str, setting: str) -> Iterator[Entry]:
    start, closing = read_rfc3339(row["started_at"]), src.endings.get(row["seq"])
    yield _entry(src, src.events[row["seq"]], "log.procedure_note", f"{title}: on{setting}", at=start)
    if row["ended_at"] is not None and closing is not None:
        length = f", {_figure(row['duration_s'])} s" if row["duration_s"] is not None else ""
        end = read_rfc3339(row["ended_at"])
        yield _entry(src, closing, "log.procedure_note", f"{title}: off{length}", at=end)


AMOUNTS = {"IU": "log.quantity", "unit": "log.quantity", "mL": "log.volume", "mg": "log.mass", "g": "log.mass",
           "microgram": "log.mass"}  # fmt: skip
"""Which of the standard's amounts a unit belongs to (CID 3410); a rate is told in the comment only."""


def _given(src: Source) -> Iterator[Entry]:
    for row in src.rows["doses"]:
        title = words(src.checklist, src.profile, "drug", row["drug"])
        amount = f"{_figure(row['amount'])} {row['unit'] or ''}".strip() if row["amount"] is not None else ""
        kind, unit = AMOUNTS.get(row["unit"] or ""), ucum(row["unit"] or "")
        measured = None
        if row["amount"] is not None and kind is not None and unit is not None:
            measured = Measured(CONCEPTS[kind], row["amount"], unit)
        yield _entry(
            src, src.events[row["seq"]], "log.drug", concept("drug", row["drug"], title),
            at=read_rfc3339(row["given_at"]), comment=f"{title} {amount or 'amount not said'}", measured=measured,
        )  # fmt: skip


def _readings(src: Source) -> Iterator[Entry]:
    for row in src.rows["readings"]:
        title = words(src.checklist, src.profile, "reading", row["reading"])
        where = f", {row['ostium'] or row['cusp']}" if row["ostium"] or row["cusp"] else ""
        if row["value"] is not None:
            said = f"{_figure(row['value'])} {row['unit'] or ''}".strip()
        else:
            said = option_words(
                src.checklist, src.profile, "reading", row["reading"], row["choice"] or "unknown"
            )
        judged = " ".join(filter(None, (row["judged_by"], row["judge"]))).replace("_", " ")
        note = "".join(f" ({part})" for part in (judged, row.get("note")) if part)
        taken = read_rfc3339(row["taken_at"])
        unit = ucum(row["unit"] or "")
        measured = None
        if row["value"] is not None and unit is not None:
            measured = Measured(concept("reading", row["reading"], title), row["value"], unit)
        yield _entry(
            src, src.events[row["seq"]], "log.nursing_note", f"{title}{where}: {said}{note}",
            at=taken, measured=measured,
        )  # fmt: skip


def _answers(src: Source) -> Iterator[Entry]:
    for row in src.rows["steps"]:
        asked = step_words(src.checklist, src.profile, row["stage"], row["step"])
        said = row["option"] or row["answer"].replace("_", " ")
        if row["answer"] == "value" and row["option"] is None:
            said = " ".join(filter(None, (row.get("value_text") or "answered", row["unit"])))
        why = (
            f" ({row.get('reason') or row['reason_code']})" if row.get("reason") or row["reason_code"] else ""
        )
        at = read_rfc3339(row["answered_at"])
        event = src.events[row["seq"]]
        yield _entry(src, event, "log.nursing_note", f"{_with_cusp(asked, row)}: {said}{why}", at=at)


NOTED = {
    "stage.skipped": "Stage skipped",
    "hold.passed": "Hold passed",
    "decision.made": "Decision",
    "device.used": "Device",
    "cusp.abandoned": "Leaflet abandoned",
    "order.changed": "Order of leaflets changed",
    "handover.made": "Recorder changed",
    "clock.compared": "Clock compared",
    "clock.noticed": "Clock",
    "sample.sent": "Sample sent",
    "case.sealed": "Log closed",
}
"""Kinds that leave as a note, and how the note begins."""


def _others(src: Source) -> Iterator[Entry]:
    for row in src.rows["events"]:
        if row["voided"]:
            continue
        if row["kind"] == "note.written":
            yield _entry(src, row, "log.nursing_note", row.get("text") or "note")
        elif row["kind"] == "fault.noted":
            title = words(src.checklist, src.profile, "fault", row["code"])
            yield _entry(src, row, "log.equipment_failure", ": ".join(filter(None, (title, row.get("text")))))
        elif row["kind"] in NOTED:
            parts = (row["stage"] if row["kind"] in ("stage.skipped", "hold.passed") else None, row["cusp"],
                     row["code"], row["choice"], _amount(row), row.get("reason") or row["reason_code"])  # fmt: skip
            said = ", ".join(filter(None, parts))
            yield _entry(
                src,
                row,
                "log.procedure_note",
                f"{NOTED[row['kind']]}: {said}" if said else NOTED[row["kind"]],
            )


def _amount(row: Row) -> str | None:
    if row["value"] is None:
        return None
    return f"{_figure(row['value'])} {row['unit'] or ''}".strip()


def _with_cusp(text: str, row: Row) -> str:
    return f"{text}, {row['cusp'].replace('_', ' ')}" if row["cusp"] else text


def _figure(value: float) -> str:
    return str(int(value)) if float(value).is_integer() else f"{value:g}"


def observers(src: Source) -> list[str]:
    """The tags of the people at the keys, in order of appearance; none outside the hospital."""
    tags = (row.get("recorder") for row in src.rows["events"])
    return list(dict.fromkeys(tag for tag in tags if tag))


def clock_offsets(src: Source) -> Iterator[tuple[Concept, float]]:
    """How far other clocks were off, in seconds."""
    for row in src.rows["clocks"]:
        yield (
            local(f"clock.{row['clock']}", f"Clock offset, {row['clock']} minus console"),
            row["clock_offset_s"],
        )
