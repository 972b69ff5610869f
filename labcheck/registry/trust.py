"""What the rows of the log say about other rows: which entry ends another, what corrections made of it, and how far
its time can be trusted.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

Row = Mapping[str, Any]
ENDING = (".closed", ".stopped")
_COLUMNS = {
    "device": "code",
    "fault": "code",
    "clock": "code",
    "action": "choice",
    "note": "text",
    "text": "text",
}
_ANSWER = ("choice", "value", "unit", "value_text")
_TYPED = "other"
"""What stands for a word that was typed and may not leave."""


def fact(row: Row) -> str:
    """The kind of an entry; of one added after the seal, the kind of the fact that was added."""
    return str(row["fact_kind"] or row["kind"])


def as_they_stand(events: Iterable[Row]) -> list[dict[str, Any]]:
    """The rows of the log with the corrections that count put in; ``events`` gives them as first written."""
    rows = [dict(row) for row in events]
    by_seq = {row["seq"]: row for row in rows}
    for row in rows:
        if row["kind"] == "event.amended" and not row["voided"] and row["refers_to"] in by_seq:
            by_seq[row["refers_to"]] |= _changed(row)
    return rows


def _changed(amendment: Row) -> dict[str, Any]:
    field, word = amendment["code"], amendment["choice"] or amendment.get("value_text")
    if field in _COLUMNS:
        return {_COLUMNS[field]: word or (_TYPED if _COLUMNS[field] == "code" else None)}
    if field == "reason":
        return {"reason": word, "reason_code": amendment["choice"]}
    if field in ("value", "answer"):
        return {name: amendment.get(name) for name in _ANSWER}
    return {"unit": amendment["unit"]} if field == "unit" else {}


def endings(events: Iterable[Row]) -> dict[int, Row]:
    """The entry that ends each entry that was begun and ended; what was voided ends nothing."""
    return {row["refers_to"]: row for row in events if not row["voided"] and fact(row).endswith(ENDING)}


def retimed(events: Iterable[Row]) -> dict[int, Row]:
    """The last correction of the time of each entry whose time was corrected."""
    return {
        row["refers_to"]: row
        for row in events
        if row["kind"] == "event.amended" and row["code"] == "happened" and not row["voided"]
    }


def qualities(events: Iterable[Row]) -> dict[int, str]:
    """``measured``, ``estimated`` or ``unsynchronized`` for every entry, by its number.

    A time that was corrected by hand is a person's word, however exactly the press before it was measured.
    """
    rows = tuple(events)
    found = {row["seq"]: str(row["time_quality"]) for row in rows}
    for seq in retimed(rows):
        if found.get(seq) == "measured":
            found[seq] = "estimated"
    return found


def recorded_rel(row: Row) -> float | None:
    """Seconds since access at which an entry was typed; the lag is by the wall clock."""
    return None if row["t_rel_s"] is None else round(row["t_rel_s"] + row["lag_s"], 3)
