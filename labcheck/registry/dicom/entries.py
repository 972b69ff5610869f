"""What the procedure log says, entry by entry, from the same rows as every other format.

The log is flat: a stage is a pair of start and end entries with one action id. Entries stand in strictly
increasing time of happening, as the standard demands; what happened in the same millisecond is set apart by a
microsecond, here and nowhere else.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta

from labcheck.registry.concepts import CONCEPTS, Concept, concept, phase
from labcheck.registry.dicom.notes import answers, others, readings
from labcheck.registry.dicom.source import Entry, Measured, Row, Source, amount, entry, figure, with_cusp
from labcheck.registry.measures import ucum
from labcheck.registry.naming import option_words, outcome_words, words
from labcheck.registry.times import read_rfc3339


def entries(src: Source) -> list[Entry]:
    """Every entry, in strictly increasing time."""
    found = sorted(_all(src), key=lambda one: (one.at, one.seq))
    apart: list[Entry] = []
    last: datetime | None = None
    for one in found:
        at = one.at if last is None or one.at > last else last + timedelta(microseconds=1)
        apart.append(one if at == one.at else replace(one, at=at.astimezone(one.at.tzinfo)))
        last = at
    return apart


def _all(src: Source) -> Iterator[Entry]:
    yield from _stages(src)
    yield from _attempts(src)
    yield from _rescues(src)
    yield from _bursts_and_runs(src)
    yield from _given(src)
    yield from readings(src)
    yield from answers(src)
    yield from others(src)


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
        yield entry(src, opening, "log.procedure_note", f"{comment}: start", at=start)
        note = f"{end_comment}: end, by a time that stands before its start"
        yield entry(src, closing, "log.procedure_note", note, at=end)
        return
    yield entry(src, opening, "log.start", value, at=start, action=action, comment=comment)
    if end is None or closing is None:
        return
    yield entry(
        src, closing, "log.end", value,
        at=end, action=action, comment=end_comment, duration_s=row["duration_s"],
    )  # fmt: skip


STATES = {
    "done": "done",
    "left": "left for another stage",
    "abandoned": "its leaflet was abandoned",
    "open": "nobody said that it ended",
}
"""How a visit ended, in words that no leaflet has."""


def _stages(src: Source) -> Iterator[Entry]:
    for row in src.rows["stages"]:
        if row["seq"] is None:
            continue
        title = row.get("title") or with_cusp(row["stage"], row)
        comment = f"{title}, visit {row['visit']}"
        yield from _pair(
            src,
            row,
            f"stage {row['seq']}",
            phase(row["stage"]),
            comment,
            f"{comment}: {STATES[row['state']]}",
        )


def _attempts(src: Source) -> Iterator[Entry]:
    for row in src.rows["attempts"]:
        stage = words(src.checklist, src.profile, "stage", row["stage"])
        comment = f"{with_cusp(stage, row)}, attempt {row['number']}"
        outcome = outcome_words(src.checklist, src.profile, row["stage"], row["outcome"] or "open")
        yield from _pair(
            src, row, f"attempt {row['seq']}", phase(row["stage"]), comment, f"{comment}: {outcome}"
        )


def _rescues(src: Source) -> Iterator[Entry]:
    for row in src.rows["bailouts"]:
        title = words(src.checklist, src.profile, "bailout", row["bailout"])
        comment = with_cusp(title, row)
        outcome = option_words(
            src.checklist, src.profile, "bailout", row["bailout"], row["outcome"] or "open"
        )
        yield from _pair(
            src, row, f"bailout {row['seq']}", CONCEPTS["phase.bailout"], comment, f"{comment}: {outcome}"
        )
        meaning = concept("endpoint", row["endpoint"], title)
        opening = src.events[row["seq"]]
        yield entry(
            src, opening, "log.complication", meaning, at=read_rfc3339(row["started_at"]), comment=comment
        )


def _bursts_and_runs(src: Source) -> Iterator[Entry]:
    for row in src.rows["bursts"]:
        watts = f", {row['watts']} W" if row["watts"] is not None else ""
        yield from _stretch(src, row, with_cusp("Energy", row), watts)
    for row in src.rows["runs"]:
        title = words(src.checklist, src.profile, "run", row["run"])
        rate = f", {amount(row['rate'], row['unit'])}" if row["rate"] is not None else ""
        yield from _stretch(src, row, title, rate)


def _stretch(src: Source, row: Row, title: str, setting: str) -> Iterator[Entry]:
    start, closing = read_rfc3339(row["started_at"]), src.endings.get(row["seq"])
    yield entry(src, src.events[row["seq"]], "log.procedure_note", f"{title}: on{setting}", at=start)
    if row["ended_at"] is not None and closing is not None:
        length = f", {figure(row['duration_s'])} s" if row["duration_s"] is not None else ""
        end = read_rfc3339(row["ended_at"])
        yield entry(src, closing, "log.procedure_note", f"{title}: off{length}", at=end)


AMOUNTS = {"IU": "log.quantity", "unit": "log.quantity", "mL": "log.volume", "mg": "log.mass", "g": "log.mass",
           "microgram": "log.mass"}  # fmt: skip
"""Which of the standard's amounts a unit belongs to (CID 3410); a rate is told in the comment only."""


def _given(src: Source) -> Iterator[Entry]:
    for row in src.rows["doses"]:
        title = words(src.checklist, src.profile, "drug", row["drug"])
        given = amount(row["amount"], row["unit"])
        kind, unit = AMOUNTS.get(row["unit"] or ""), ucum(row["unit"] or "")
        measured = None
        if row["amount"] is not None and kind is not None and unit is not None:
            measured = Measured(CONCEPTS[kind], row["amount"], unit)
        yield entry(
            src, src.events[row["seq"]], "log.drug", concept("drug", row["drug"], title),
            at=read_rfc3339(row["given_at"]), comment=f"{title} {given or 'amount not said'}", measured=measured,
        )  # fmt: skip
