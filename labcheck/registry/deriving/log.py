"""Rows for the log: one per entry, as first written, never filtered."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from decimal import Decimal
from typing import Any

from labcheck.caselog.case import Case, Visit
from labcheck.caselog.events import AddendumAdded, Event, RunStarted, StepAnswered
from labcheck.caselog.folding import effective_payload
from labcheck.checklist import finding
from labcheck.registry.deriving.amending import BEFORE, amendment, rate_unit
from labcheck.registry.deriving.frame import Frame, number
from labcheck.registry.deriving.quality import as_written, retimed
from labcheck.registry.deriving.values import asked_number, chosen
from labcheck.registry.rows.log import EventRow
from labcheck.registry.times import seconds, since

LATE_US = 20 * 60 * 1_000_000
"""Time stamps entered later than this were wrong in 38.4 % against 1.3 % (Bradley, J Med Syst 2026)."""

CODE = (
    "reading", "drug", "device", "fault", "bailout", "step", "decision", "hold", "prompt", "clock", "notice",
    "item", "field", "checklist_id",
)  # fmt: skip
CHOICE = ("choice", "answer", "outcome", "action", "how", "why")
WORDS = ("text", "note")
IN_MICROSECONDS = ("amount_us", "offset_us", "gap_us")
ENDS = ("opened", "attempt", "burst", "sample", "after", "target")


Said = Mapping[str, Any]
"""The fields of an entry's payload by name: asking a model for a field it has not is far slower."""


def event_rows(frame: Frame) -> Iterator[EventRow]:
    """One row per entry of the log."""
    places = _Places(frame.case)
    for event in frame.case.log:
        yield _row(frame, places, event)


def _row(frame: Frame, places: _Places, event: Event) -> EventRow:
    case, what = frame.case, event.what
    fact: Any = what.fact if isinstance(what, AddendumAdded) else what
    said, reason = vars(fact), vars(what).get("reason")
    rel = since(frame.origin, event.happened)
    relative = seconds(rel.us) if rel is not None else None
    at, entered = event.happened, event.entered
    occurred = frame.at(at)
    standing = effective_payload(case, event.seq) if retimed(case, event.seq) else None
    recorded = occurred if (at.wall_us, at.off_s) == (entered.wall_us, entered.off_s) else frame.at(entered)
    voider, amenders = case.voided.get(event.seq), case.amended.get(event.seq, ())
    return EventRow.model_validate(
        {
            "case_id": frame.case_id,
            "event_id": event_id(frame, event),
            "seq": event.seq,
            "kind": event.kind,
            "fact_kind": fact.kind if fact is not what else None,
            "occurred_at": occurred,
            "recorded_at": recorded,
            "utc_offset": frame.offset(event.happened),
            "t_rel_s": relative,
            "t_rel_basis": rel.basis if rel is not None else None,
            "stands_at": frame.at(standing[1]) if standing is not None else occurred,
            "stands_rel_s": frame.rel(standing[1]) if standing is not None else relative,
            "lag_s": seconds(event.lag_us),
            "mode": event.mode,
            "precision_s": event.precision_s,
            "time_quality": as_written(case, event),
            "late": event.mode != "live",
            "late_over_20_min": event.mode != "live" and event.lag_us > LATE_US,
            "voided": voider is not None,
            "voided_by": voider,
            "amended": bool(amenders),
            "amended_by": ";".join(f"E{seq}" for seq in amenders) or None,
            **_EMPTY,
            **_content(frame, said, fact),
            **_answered(frame, fact),
            **amendment(frame, event),
            **places.of(event),
            "text": _first(said, WORDS),
            "reason_code": frame.reason_code(reason),
            "reason": reason,
            "late_reason_code": frame.reason_code(event.late_reason),
            "late_reason": event.late_reason,
            "recorder": event.recorder,
        }
    )


def event_id(frame: Frame, event: Event) -> str:
    """The entry's stable id. The ledger's own id would join a registry file back to the ledger."""
    if frame.profile != "hospital":
        return f"E-{frame.case_id}-{event.seq}"
    return f"E-{event.id}"


def _content(frame: Frame, said: Said, fact: Any) -> dict[str, Any]:
    """What an entry is about, its choice and its value."""
    run, value = said.get("run"), said.get("value")
    return {
        "refers_to": _first(said, ENDS) if not isinstance(run, int) else run,
        "choice": _first(said, CHOICE),
        "leads_to": said.get("lead"),
        "value": _amount(said),
        "unit": _unit(frame, said, fact),
        "value_text": value if isinstance(value, str) else None,
    }


def _answered(frame: Frame, fact: Any) -> dict[str, Any]:
    """The option a step's answer names, or its number; nothing for other entries."""
    if not isinstance(fact, StepAnswered) or fact.answer != "value":
        return {}
    step = finding.step(frame.case.checklist, fact.stage, fact.step)
    option = chosen(frame, step, fact)
    return {"choice": option.id} if option is not None else {"value": asked_number(step, fact)}


def _amount(said: Said) -> float | None:
    for name in ("value", "amount", "rate", "watts"):
        found = said.get(name)
        if isinstance(found, Decimal | int) and not isinstance(found, bool):
            return number(found)
    for name in IN_MICROSECONDS:
        found = said.get(name)
        if isinstance(found, int):
            return seconds(found)
    return None


def _unit(frame: Frame, said: Said, fact: Any) -> str | None:
    if isinstance(fact, RunStarted):
        return rate_unit(frame, fact.run) if fact.rate is not None else None
    if said.get("watts") is not None:
        return "W"
    if any(name in said for name in IN_MICROSECONDS):
        return "s"
    unit: str | None = said.get("unit")
    return unit


_EMPTY = dict.fromkeys(("value_at", *BEFORE.values()))


def _first(said: Said, names: tuple[str, ...]) -> Any:
    for name in names:
        found = said.get(name)
        if found is not None:
            return found
    return None


class _Places:
    """Where an entry belongs: by its own words, else by what it refers to, else by the visit it fell into."""

    def __init__(self, case: Case) -> None:
        self.case = case
        self.visits = {v.seq: v for v in case.visits}
        self.known: dict[int, dict[str, Any]] = {}
        self.open: int | None = None

    def of(self, event: Event) -> dict[str, Any]:
        fact: Any = event.what.fact if isinstance(event.what, AddendumAdded) else event.what
        said = vars(fact)
        run = said.get("run")
        named = run if isinstance(run, int) else _first(said, ("attempt", "burst", "opened", "target"))
        behind = self.known.get(named, {}) if isinstance(named, int) else {}
        about = {} if "target" in said else behind
        if event.kind == "stage.opened" and event.seq not in self.case.voided:
            self.open = event.seq
        visit = self.visits.get(said.get("opened") or self.open or 0)
        own = {
            **_visited(said, behind, visit),
            "cusp": said.get("cusp") or behind.get("cusp"),
            "ostium": said.get("ostium"),
            "attempt": said.get("number") or behind.get("attempt"),
            "code": run if isinstance(run, str) else _first(said, CODE) or about.get("code"),
        }
        if event.kind == "stage.closed" and self.open == said.get("opened"):
            self.open = None
        self.known[event.seq] = own
        return own


def _visited(said: Said, behind: Said, visit: Visit | None) -> dict[str, Any]:
    """The stage of an entry, and the number and leaflet of the visit to it: its own, that of the entry it refers to,
    or the open one; none where the entry is about another stage or leaflet than that visit."""
    stage = said.get("stage") or behind.get("stage") or (visit.stage if visit is not None else None)
    if said.get("visit") is not None:
        return {"stage": stage, "visit": said["visit"], "stage_cusp": said.get("cusp")}
    if behind.get("visit") is not None and behind["stage"] == stage:
        return {"stage": stage, "visit": behind["visit"], "stage_cusp": behind["stage_cusp"]}
    if visit is None or visit.stage != stage or ("stage" in said and said.get("cusp") != visit.cusp):
        return {"stage": stage, "visit": None, "stage_cusp": None}
    return {"stage": stage, "visit": visit.number, "stage_cusp": visit.cusp}
