"""The entries that are notes: what was measured, what was answered, and whatever else has a sentence of its own."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

from labcheck.registry.concepts import concept
from labcheck.registry.dicom.source import (
    Entry,
    Measured,
    Row,
    Source,
    amount,
    entry,
    figure,
    reason_words,
    with_cusp,
)
from labcheck.registry.measures import ucum
from labcheck.registry.naming import answer_option, hold_words, option_words, step_words, words
from labcheck.registry.times import read_rfc3339
from labcheck.registry.trust import fact


def readings(src: Source) -> Iterator[Entry]:
    """What was measured or found, at the time of the result; a sample's own time is another entry, and told here."""
    for row in src.rows["readings"]:
        title = words(src.checklist, src.profile, "reading", row["reading"])
        said = amount(row["value"], row["unit"]) or option_words(
            src.checklist, src.profile, "reading", row["reading"], row["choice"] or "unknown"
        )
        unit = ucum(row["unit"] or "")
        measured = None
        if row["value"] is not None and unit is not None:
            measured = Measured(concept("reading", row["reading"], title), row["value"], unit)
        yield entry(
            src, src.events[row["seq"]], "log.nursing_note", f"{with_cusp(title, row)}: {said}{_about(src, row)}",
            at=read_rfc3339(row["taken_at"]), measured=measured,
        )  # fmt: skip


def _about(src: Source, row: Row) -> str:
    judged = ""
    if row["judged_by"] is not None:
        judged = option_words(src.checklist, src.profile, "reading", row["reading"], row["judged_by"])
    judge = (row["judge"] or "").replace("_", " ")
    sent = f"sample sent {read_rfc3339(row['sampled_at']):%H:%M:%S}" if row["sampled_at"] else ""
    return _in_brackets(sent, " ".join(filter(None, (judged, judge))), row.get("note"))


def _in_brackets(*parts: str | None) -> str:
    return "".join(f" ({part})" for part in parts if part)


SAID = {"not_done": "not done", "not_applicable": "not applicable"}


def answers(src: Source) -> Iterator[Entry]:
    """Every answer that counts, those that a later answer replaced too: each was given at its own time."""
    last = {row["seq"]: row for row in src.rows["steps"]}
    for event in src.rows["events"]:
        if event["voided"] or fact(event) != "step.answered":
            continue
        row = last.get(event["seq"])
        at = read_rfc3339(row["answered_at"] if row is not None else event["stands_at"])
        yield entry(src, event, "log.nursing_note", _answer(src, row or _earlier(event)), at=at)


def _earlier(event: Row) -> Row:
    """An answer that was replaced, as a row of ``steps``."""
    answer = event["choice"] if event["choice"] in ("done", *SAID) else "value"
    option = event["choice"] if event["choice"] not in ("done", "value", *SAID) else None
    return {**event, "step": event["code"], "answer": answer, "option": option}


def _answer(src: Source, row: Row) -> str:
    asked = with_cusp(step_words(src.checklist, src.profile, row["stage"], row["step"]), row)
    return f"{asked}: {_given(src, row)}{_in_brackets(reason_words(src, row))}"


def _given(src: Source, row: Row) -> str:
    if row["option"] is not None:
        return answer_option(src.checklist, src.profile, row["stage"], row["step"], row["option"])[1]
    if row["answer"] == "value":
        return amount(row["value"], row["unit"]) or row.get("value_text") or "answered"
    return SAID.get(row["answer"], str(row["answer"]))


def _stage(src: Source, row: Row) -> str:
    return with_cusp(words(src.checklist, src.profile, "stage", row["stage"]), row)


def _decision(src: Source, row: Row) -> str:
    asked = words(src.checklist, src.profile, "decision", row["code"])
    made = option_words(src.checklist, src.profile, "decision", row["code"], row["choice"])
    return f"{asked} {made}" if asked.endswith("?") else f"{asked}: {made}"


def _device(src: Source, row: Row) -> str:
    title = with_cusp(words(src.checklist, src.profile, "device", row["code"]), row)
    return f"{title}: {row['choice']}{_in_brackets(row.get('text'))}"


def _compared(src: Source, row: Row) -> str:
    found = next((clock for clock in src.rows["clocks"] if clock["seq"] == row["seq"]), None)
    if found is None:
        return str(row["code"])
    unsure = f", give or take {figure(found['uncertainty_s'])} s"
    return f"{found['clock']} minus console {figure(found['clock_offset_s'])} s{unsure}"


NOTICES = {
    "resumed": "record resumed after a gap of",
    "step": "wall clock was set by",
    "drift": "wall clock drifted by",
    "suspend": "machine slept for",
    "reboot": "machine was restarted, gap",
    "stalled": "program stood still for",
}


def _noticed(src: Source, row: Row) -> str:
    return f"{NOTICES[row['code']]} {amount(row['value'], row['unit'])}"


NOTED: Mapping[str, tuple[str, Callable[[Source, Row], str | None]]] = {
    "stage.skipped": ("Stage skipped", _stage),
    "hold.passed": (
        "Hold passed",
        lambda src, row: (
            f"{_stage(src, row)}: {hold_words(src.checklist, src.profile, row['stage'], row['code'])}"
        ),
    ),
    "decision.made": ("Decision", _decision),
    "device.used": ("Device", _device),
    "cusp.abandoned": ("Leaflet abandoned", lambda _, row: str(row["cusp"]).replace("_", " ")),
    "order.changed": ("Order of leaflets changed", lambda _, row: None),
    "handover.made": ("Recorder changed", lambda _, row: None),
    "clock.compared": ("Clock compared", _compared),
    "clock.noticed": ("Clock", _noticed),
    "sample.sent": (
        "Sample sent",
        lambda src, row: words(src.checklist, src.profile, "reading", row["code"]),
    ),
    "case.sealed": ("Log closed", lambda _, row: None),
}
"""Kinds that leave as a note: how the note begins, and what it says."""


def others(src: Source) -> Iterator[Entry]:
    """The other entries that count and have something to say."""
    for row in src.rows["events"]:
        kind = fact(row)
        if row["voided"]:
            continue
        if kind == "note.written":
            yield entry(src, row, "log.nursing_note", row.get("text") or "note")
        elif kind == "fault.noted":
            title = words(src.checklist, src.profile, "fault", row["code"])
            yield entry(src, row, "log.equipment_failure", ": ".join(filter(None, (title, row.get("text")))))
        elif kind in NOTED:
            heading, tell = NOTED[kind]
            said = tell(src, row)
            note = f"{heading}: {said}" if said else heading
            yield entry(src, row, "log.procedure_note", f"{note}{_in_brackets(reason_words(src, row))}")
