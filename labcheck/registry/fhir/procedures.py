"""Procedures: the case, its stage visits, attempts, and rescues, each part of the one above it."""

from __future__ import annotations

from collections.abc import Iterator

from labcheck.caselog.endpoints import MITRAL
from labcheck.registry.concepts import CONCEPTS, phase_name
from labcheck.registry.fhir.elements import EXTENSION, Json, Maker
from labcheck.registry.naming import option_words, outcome_words, words
from labcheck.registry.trust import fact

STATUS = {
    "done": "completed",
    "left": "stopped",
    "abandoned": "stopped",
    "skipped_by_decision": "not-done",
    "skipped_by_call": "not-done",
    "missing": "unknown",
}
"""A stage nobody closed, opened or skipped is unknown: it may well have been done."""

WHY = {
    "left": "left for another stage",
    "abandoned": "its leaflet was abandoned",
    "skipped_by_decision": "skipped by decision",
    "skipped_by_call": "skipped by call",
    "missing": "overtaken; nobody recorded why",
}


AORTIC_VALVE = ("procedure.valve", "Leaflet modification before a transcatheter valve", "body.aortic_valve",
                "aortic valve")  # fmt: skip
MITRAL_VALVE = ("procedure.mitral_valve", "Leaflet modification before a transcatheter mitral valve",
                "body.mitral_valve", "mitral valve")  # fmt: skip
"""What was done and where, by code and words; no public code was looked up for the mitral valve."""


def procedures(maker: Maker) -> Iterator[Json]:
    """The case first, then its parts in order."""
    yield _case(maker)
    for row in maker.rows["stages"]:
        yield _visit(maker, row)
    for row in maker.rows["attempts"]:
        yield _attempt(maker, row)
    for row in maker.rows["bailouts"]:
        yield _rescue(maker, row)


def visit_of(maker: Maker, seq: int | None) -> Json:
    """What an entry is part of: the stage visit it fell into, or the case."""
    event = maker.events.get(seq) if seq is not None else None
    if event is not None and event["stage"] is not None and event["visit"] is not None:
        for row in maker.rows["stages"]:
            same = row["stage"] == event["stage"] and row["visit"] == event["visit"]
            if same and row["cusp"] == event["stage_cusp"]:
                return maker.ref("stage", row["place"])
    return maker.ref("case")


def _base(maker: Maker, kind: str, name: object, seq: int | None) -> Json:
    found = maker.resource("Procedure", kind, name)
    if seq is not None:
        found["extension"] = maker.sequence(seq)
    return found


def _case(maker: Maker) -> Json:
    case = maker.case
    found = _base(maker, "case", "", None)
    found["extension"] = [{"url": EXTENSION + "checklist", "valueString": _checklist(case)}, *_offsets(maker)]
    found["status"] = "completed" if case["sealed"] else "in-progress"
    code, done, body, where = MITRAL_VALVE if maker.checklist.technique == MITRAL else AORTIC_VALVE
    found["code"] = maker.coded(code, done)
    found["subject"] = maker.ref("subject")
    visits = [row for row in maker.rows["stages"] if row["start_rel_s"] is not None or row.get("started_at")]
    if visits:
        ended = [row for row in visits if row["end_rel_s"] is not None or row.get("ended_at")]
        last = ended[-1] if ended and case["sealed"] else {}
        whole = {
            "started_at": visits[0].get("started_at"),
            "start_rel_s": visits[0]["start_rel_s"],
            "ended_at": last.get("ended_at"),
            "end_rel_s": last.get("end_rel_s"),
            "duration_s": None,
        }
        found["performedPeriod"] = maker.period(whole, visits[0]["seq"], maker.ended_by(last.get("seq")))
    else:
        found["performedPeriod"] = maker.when("start", case.get("opened_at"), None)
    found["bodySite"] = [maker.coded(body, where)]
    notes = [
        {"text": row["text"], **({"time": row["stands_at"]} if row.get("stands_at") else {})}
        for row in maker.rows["events"]
        if fact(row) == "note.written" and not row["voided"] and row.get("text")
    ]
    if notes:
        found["note"] = notes
    return found


def _running(maker: Maker) -> str:
    """The status of what has no end: once the case is closed, nobody knows how it ended."""
    return "unknown" if maker.case["sealed"] else "in-progress"


def _offsets(maker: Maker) -> list[Json]:
    """How far each other clock was off when it was last compared."""
    last = {row["clock"]: row["clock_offset_s"] for row in maker.rows["clocks"]}
    return [
        {"url": EXTENSION + "clock-offset", "valueQuantity": maker.quantity(offset_s, "s")}
        for offset_s in last.values()
    ]


def _checklist(case: Json) -> str:
    return f"{case['checklist_id']} {case['checklist_digest']}"


def _visit(maker: Maker, row: Json) -> Json:
    found = _base(maker, "stage", row["place"], row["seq"])
    found["partOf"] = [maker.ref("case")]
    found["status"] = _visit_status(maker, row)
    if row["state"] in WHY:
        why, reason = WHY[row["state"]], maker.reason(row.get("reason"), row["reason_code"])
        said = f"{why}: {reason['text']}" if reason is not None else why
        found["statusReason"] = maker.coded(f"state.{row['state']}", said, why)
    phase = phase_name(row["stage"])
    found["category"] = maker.coded(phase, CONCEPTS[phase].meaning)
    text = row.get("title") or " ".join(filter(None, (row["stage"], row["cusp"])))
    title = words(maker.checklist, maker.profile, "stage", row["stage"])
    found["code"] = maker.coded(f"stage.{row['stage']}", text, title)
    found["subject"] = maker.ref("subject")
    if row["seq"] is not None:
        found["performedPeriod"] = maker.period(row, row["seq"], maker.ended_by(row["seq"]))
    _add_site(maker, found, row)
    return found


def _visit_status(maker: Maker, row: Json) -> str:
    if row["seq"] is None and row["state"] != "missing":
        return "not-done"
    return _running(maker) if row["state"] == "open" else STATUS[row["state"]]


def _attempt(maker: Maker, row: Json) -> Json:
    found = _base(maker, "attempt", row["seq"], row["seq"])
    found["extension"].append({"url": EXTENSION + "attempt-number", "valuePositiveInt": row["number"]})
    found["partOf"] = [visit_of(maker, row["seq"])]
    state = {"success": "completed", "open": _running(maker), "abandoned": "stopped"}
    found["status"] = state.get(row["result"], "completed")
    title = words(maker.checklist, maker.profile, "stage", row["stage"])
    found["code"] = maker.coded(
        f"attempt.{row['stage']}", f"{title}, attempt {row['number']}", f"attempt in {title}"
    )
    found["subject"] = maker.ref("subject")
    found["performedPeriod"] = maker.period(row, row["seq"], maker.ended_by(row["seq"]))
    _add_site(maker, found, row)
    if row["outcome"] is not None:
        text = outcome_words(maker.checklist, maker.profile, row["stage"], row["outcome"])
        found["outcome"] = maker.coded(f"outcome.{row['stage']}.{row['outcome']}", text)
    return found


def _rescue(maker: Maker, row: Json) -> Json:
    found = _base(maker, "bailout", row["seq"], row["seq"])
    found["partOf"] = [maker.ref("case")]
    found["status"] = "completed" if row["outcome"] is not None else _running(maker)
    found["category"] = maker.coded("phase.bailout", "bailout")
    title = words(maker.checklist, maker.profile, "bailout", row["bailout"])
    found["code"] = maker.coded(f"bailout.{row['bailout']}", title)
    found["subject"] = maker.ref("subject")
    found["performedPeriod"] = maker.period(row, row["seq"], maker.ended_by(row["seq"]))
    _add_site(maker, found, row)
    if row["outcome"] is not None:
        text = option_words(maker.checklist, maker.profile, "bailout", row["bailout"], row["outcome"])
        found["outcome"] = maker.coded(f"outcome.bailout:{row['bailout']}.{row['outcome']}", text)
    if row.get("note"):
        found["note"] = [{"text": row["note"]}]
    return found


def _add_site(maker: Maker, found: Json, row: Json) -> None:
    site = maker.site(row)
    if site is not None:
        found["bodySite"] = [site]
