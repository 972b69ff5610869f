"""The other resources: subject, console, devices, adverse events, answers, and who corrected what when."""

from __future__ import annotations

from collections.abc import Iterator

from labcheck import __version__
from labcheck.registry.concepts import concept
from labcheck.registry.fhir.elements import Json, Maker
from labcheck.registry.fhir.procedures import visit_of
from labcheck.registry.naming import step_words, words

OPERATIONS = "http://terminology.hl7.org/CodeSystem/v3-DataOperation"
SHOWN = {"reading.taken": "reading", "dose.given": "dose", "attempt.opened": "attempt", "bailout.opened": "bailout",
         "energy.started": "burst", "run.started": "run", "clock.compared": "clock"}  # fmt: skip
"""The kinds of entry that have a resource of their own, and its kind."""


def subject(maker: Maker) -> Json:
    """The patient, known only by what the profile allows."""
    found = maker.bare("Patient", "subject")
    marks = []
    if maker.case["subject_id"] is not None:
        marks.append({"system": "urn:labcheck:subject", "value": maker.case["subject_id"]})
    known = maker.identifiers
    if known.patient_id is not None:
        mark: Json = {"value": known.patient_id}
        if known.patient_id_issuer is not None:
            mark["assigner"] = {"display": known.patient_id_issuer}
        marks.append(mark)
    if marks:
        found["identifier"] = marks
    if maker.case["sex"] in ("female", "male"):
        found["gender"] = maker.case["sex"]
    return found


def console(maker: Maker) -> Json:
    """The console that kept the log."""
    found = maker.resource("Device", "console")
    found["deviceName"] = [{"name": "labcheck console", "type": "user-friendly-name"}]
    found["version"] = [{"value": __version__}]
    return found


def devices(maker: Maker) -> Iterator[Json]:
    """Every device that was used, by kind. Serial and lot numbers are never recorded."""
    for row in maker.rows["events"]:
        if row["kind"] != "device.used" or row["voided"]:
            continue
        found = maker.resource("Device", "device", row["seq"])
        found["extension"] = maker.sequence(row["seq"])
        title = words(maker.checklist, maker.profile, "device", row["code"])
        found["deviceName"] = [{"name": title, "type": "user-friendly-name"}]
        found["type"] = maker.coded(concept("device", row["code"], title), title)
        found["patient"] = maker.ref("subject")
        found["property"] = [{"type": {"text": "action"}, "valueCode": [{"text": row["choice"]}]}]
        yield found


def adverse_events(maker: Maker) -> Iterator[Json]:
    """Rescues as complications, and faults as problems of a product."""
    for row in maker.rows["bailouts"]:
        title = words(maker.checklist, maker.profile, "bailout", row["bailout"])
        yield _adverse(
            maker, row["seq"], "complication", concept("endpoint", row["endpoint"], title).code, title, row
        )
    for row in maker.rows["events"]:
        if row["kind"] == "fault.noted" and not row["voided"]:
            title = words(maker.checklist, maker.profile, "fault", row["code"])
            yield _adverse(maker, row["seq"], "fault", f"fault.{row['code']}", title, row)


def _adverse(maker: Maker, seq: int, kind: str, code: str, title: str, row: Json) -> Json:
    found = maker.resource("AdverseEvent", kind, seq, one_identifier=True)
    found["extension"] = maker.sequence(seq)
    found["actuality"] = "actual"
    if kind == "fault":
        system = "http://terminology.hl7.org/CodeSystem/adverse-event-category"
        found["category"] = [{"coding": [{"system": system, "code": "product-problem"}]}]
    endpoint = row.get("endpoint")
    named = concept("endpoint", endpoint, title) if endpoint else None
    found["event"] = maker.coded(named, title) if named is not None else maker.own(code, title)
    found["subject"] = maker.ref("subject")
    event = maker.events[seq]
    found |= maker.when("date", event.get("occurred_at"), event["t_rel_s"], maker.quality(seq))
    if event.get("recorded_at"):
        found["recordedDate"] = event["recorded_at"]
    return found


def answers(maker: Maker) -> Iterator[Json]:
    """The step answers as one response to the checklist. It has no time per item; the log has."""
    steps = maker.rows["steps"]
    if not steps:
        return
    found = maker.resource("QuestionnaireResponse", "answers", one_identifier=True)
    case = maker.case
    found["questionnaire"] = (
        f"urn:labcheck:checklist:{case['checklist_id']}|{case['checklist_digest'].split(':')[1][:12]}"
    )
    found["partOf"] = [maker.ref("case")]
    found["status"] = "completed" if case["sealed"] else "in-progress"
    found["subject"] = maker.ref("subject")
    found["item"] = [_item(maker, row) for row in steps]
    yield found


def _item(maker: Maker, row: Json) -> Json:
    place = ".".join(filter(None, (row["stage"], row["cusp"], row["step"])))
    said = {"system": "urn:labcheck:code", "code": row["option"] or row["answer"]}
    given: list[Json] = [{"valueCoding": said}]
    if row.get("value_text") and row["option"] is None:
        given.append({"valueString": " ".join(filter(None, (row["value_text"], row["unit"])))})
    if row.get("reason"):
        given.append({"valueString": row["reason"]})
    return {
        "extension": maker.sequence(row["seq"]),
        "linkId": place,
        "text": step_words(maker.checklist, maker.profile, row["stage"], row["step"]),
        "answer": given,
    }


def provenances(maker: Maker) -> Iterator[Json]:
    """Who entered late or corrected what, and when. It needs clock times, so a registry gets none."""
    for row in maker.rows["events"]:
        if not row.get("recorded_at"):
            continue
        if row["kind"] in ("event.amended", "event.voided"):
            yield _provenance(
                maker, row, row["refers_to"], "UPDATE" if row["kind"] == "event.amended" else "NULLIFY"
            )
        elif row["late"] and row["kind"] in SHOWN and not row["voided"]:
            yield _provenance(maker, row, row["seq"], "CREATE")


def _provenance(maker: Maker, row: Json, target: int, operation: str) -> Json:
    found = maker.bare("Provenance", "provenance", row["seq"])
    found["extension"] = maker.sequence(row["seq"])
    found["target"] = [_target(maker, target)]
    found |= maker.when("occurredDateTime", row["occurred_at"], row["t_rel_s"], row["time_quality"])
    found["recorded"] = row["recorded_at"]
    reason = row.get("reason") or row.get("late_reason") or row["reason_code"]
    if reason:
        found["reason"] = [{"text": reason}]
    found["activity"] = {"coding": [{"system": OPERATIONS, "code": operation}]}
    enterer = {
        "system": "http://terminology.hl7.org/CodeSystem/provenance-participant-type",
        "code": "enterer",
    }
    agent: Json = {"type": {"coding": [enterer]}, "who": maker.ref("console")}
    if row.get("recorder"):
        agent["who"] = {**agent["who"], "display": f"recorder {row['recorder']}"}
    found["agent"] = [agent]
    return found


def _target(maker: Maker, seq: int) -> Json:
    """The resource of an entry that still counts, or what it would have been part of."""
    event = maker.events.get(seq)
    kind = SHOWN.get(event["kind"]) if event is not None and not event["voided"] else None
    if event is not None and event["kind"] == "stage.opened" and not event["voided"]:
        return visit_of(maker, seq)
    return maker.ref(kind, seq) if kind is not None else maker.ref("case")
