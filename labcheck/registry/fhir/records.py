"""The other resources: subject, console, devices, adverse events, and the answers to the checklist."""

from __future__ import annotations

from collections.abc import Iterator

from labcheck import __version__
from labcheck.checklist.finding import BAILOUT_PREFIX
from labcheck.registry.fhir.elements import Json, Maker
from labcheck.registry.naming import answer_option, step_words, words
from labcheck.registry.trust import fact, recorded_rel


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
        if fact(row) != "device.used" or row["voided"]:
            continue
        found = maker.resource("Device", "device", row["seq"])
        found["extension"] = maker.sequence(row["seq"])
        title = words(maker.checklist, maker.profile, "device", row["code"])
        found["deviceName"] = [{"name": title, "type": "user-friendly-name"}]
        found["type"] = maker.coded(f"device.{row['code']}", title)
        found["patient"] = maker.ref("subject")
        action = maker.coded(f"action.{row['choice']}", row["choice"])
        found["property"] = [{"type": maker.coded("property.action", "Action"), "valueCode": [action]}]
        yield found


def adverse_events(maker: Maker) -> Iterator[Json]:
    """Rescues as complications, and faults as problems of a product."""
    for row in maker.rows["bailouts"]:
        found = _adverse(maker, row["seq"], "complication")
        title = words(maker.checklist, maker.profile, "bailout", row["bailout"])
        meaning = maker.coded(f"endpoint.{row['endpoint']}", title, row["endpoint"].replace("_", " "))
        meaning["coding"].append(maker.coding(f"bailout.{row['bailout']}", title))
        yield {**found, "event": meaning}
    for row in maker.rows["events"]:
        if fact(row) == "fault.noted" and not row["voided"]:
            title = words(maker.checklist, maker.profile, "fault", row["code"])
            category = {"system": CATEGORIES, "code": "product-problem", "display": "Product Problem"}
            found = _adverse(maker, row["seq"], "fault")
            yield {
                **found,
                "category": [{"coding": [category]}],
                "event": maker.coded(f"fault.{row['code']}", title),
            }


CATEGORIES = "http://terminology.hl7.org/CodeSystem/adverse-event-category"


def _adverse(maker: Maker, seq: int, kind: str) -> Json:
    found = maker.resource("AdverseEvent", kind, seq, one_identifier=True)
    found["extension"] = maker.sequence(seq)
    found["actuality"] = "actual"
    found["subject"] = maker.ref("subject")
    event = maker.events[seq]
    found |= maker.when("date", event.get("stands_at"), event["stands_rel_s"], seq)
    return found | maker.when("recordedDate", event.get("recorded_at"), recorded_rel(event))


def answers(maker: Maker) -> Iterator[Json]:
    """The last answer to every step, as one response to the checklist. It has no time per item; the log has."""
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
    # One rescue may be opened twice, and each has answers of its own.
    rescue = str(row["opened_seq"]) if row["stage"].startswith(BAILOUT_PREFIX) and row["opened_seq"] else None
    place = ".".join(filter(None, (row["stage"], rescue, row["cusp"], row["step"])))
    given = _given(maker, row)
    why = maker.reason(row.get("reason"), row["reason_code"])
    if why is not None:
        coded = why.get("coding")
        said = {"valueCoding": coded[0]} if coded else {"valueString": why["text"]}
        given["item"] = [{"linkId": f"{place}.reason", "text": "Reason", "answer": [said]}]
    return {
        "extension": maker.sequence(row["seq"]),
        "linkId": place,
        "text": step_words(maker.checklist, maker.profile, row["stage"], row["step"]),
        "answer": [given],
    }


ANSWERS = {"done": "done", "not_done": "not done", "not_applicable": "not applicable",
           "value": "answered with a value that does not leave"}  # fmt: skip


def _given(maker: Maker, row: Json) -> Json:
    """The answer as the most exact type it has: an option, a number with its unit, a text, or that it was answered."""
    if row["option"] is not None:
        code, said = answer_option(maker.checklist, maker.profile, row["stage"], row["step"], row["option"])
        return {"valueCoding": maker.coding(code, said)}
    if row["value"] is not None:
        amount = maker.quantity(row["value"], row["unit"])
        return {"valueQuantity": amount} if row["unit"] is not None else {"valueDecimal": amount["value"]}
    if row.get("value_text"):
        return {"valueString": " ".join(filter(None, (row["value_text"], row["unit"])))}
    return {"valueCoding": maker.coding(f"answer.{row['answer']}", ANSWERS[row["answer"]])}
