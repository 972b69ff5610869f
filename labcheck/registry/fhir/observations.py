"""Observations: readings, energy bursts, runs, clock comparisons and intervals; and what was given."""

from __future__ import annotations

from collections.abc import Iterator

from labcheck.registry.fhir.elements import Json, Maker
from labcheck.registry.fhir.procedures import visit_of
from labcheck.registry.naming import option_words, words
from labcheck.registry.trust import recorded_rel

UNKNOWN = {
    "coding": [{"system": "http://terminology.hl7.org/CodeSystem/data-absent-reason", "code": "unknown"}]
}


def observations(maker: Maker) -> Iterator[Json]:
    """Every observation of the case."""
    for row in maker.rows["readings"]:
        yield _reading(maker, row)
    for row in maker.rows["bursts"]:
        yield _burst(maker, row)
    for row in maker.rows["runs"]:
        yield _run(maker, row)
    for row in maker.rows["clocks"]:
        yield _clock(maker, row)
    for row in maker.rows["intervals"]:
        if row["of"] == "interval" and row["duration_s"] is not None:
            yield _interval(maker, row)
    for row in maker.rows["endpoints"]:
        yield _endpoint(maker, row)


def administrations(maker: Maker) -> Iterator[Json]:
    """Every drug given."""
    for row in maker.rows["doses"]:
        found = maker.resource("MedicationAdministration", "dose", row["seq"])
        found["extension"] = maker.sequence(row["seq"])
        found["partOf"] = [visit_of(maker, row["seq"])]
        found["status"] = "completed"
        title = words(maker.checklist, maker.profile, "drug", row["drug"])
        found["medicationCodeableConcept"] = maker.coded(f"drug.{row['drug']}", title)
        found["subject"] = maker.ref("subject")
        found |= maker.when("effectiveDateTime", row.get("given_at"), row["given_rel_s"], row["seq"])
        if row["amount"] is not None:
            amount = maker.quantity(row["amount"], row["unit"])
            rate = row["unit"] is not None and row["unit"].endswith(("/min", "/h"))
            found["dosage"] = {"rateQuantity" if rate else "dose": amount}
        if row.get("note"):
            found["note"] = [{"text": row["note"]}]
        yield found


def _base(maker: Maker, kind: str, name: object, seq: int | None, *, amended: bool = False) -> Json:
    found = maker.resource("Observation", kind, name)
    if seq is not None:
        found["extension"] = maker.sequence(seq)
        found["partOf"] = [visit_of(maker, seq)]
    found["status"] = "corrected" if amended else "final"
    return found


def _reading(maker: Maker, row: Json) -> Json:
    found = _base(maker, "reading", row["seq"], row["seq"], amended=row["amended"])
    title = words(maker.checklist, maker.profile, "reading", row["reading"])
    found["code"] = maker.coded(f"reading.{row['reading']}", title)
    found["subject"] = maker.ref("subject")
    found |= _taken(maker, row)
    if row["value"] is not None:
        found["valueQuantity"] = maker.quantity(row["value"], row["unit"])
    elif row["choice"] is not None:
        text = option_words(maker.checklist, maker.profile, "reading", row["reading"], row["choice"])
        found["valueCodeableConcept"] = maker.coded(f"choice.{row['reading']}.{row['choice']}", text)
    else:
        found["dataAbsentReason"] = UNKNOWN
    if row.get("note"):
        found["note"] = [{"text": row["note"]}]
    site = maker.site(row)
    if site is not None:
        found["bodySite"] = site
    if row["judge"] is not None:
        found["performer"] = [{"display": row["judge"].replace("_", " ")}]
    if row["judged_by"] is not None:
        text = option_words(maker.checklist, maker.profile, "reading", row["reading"], row["judged_by"])
        found["method"] = maker.coded(f"judged_by.{row['reading']}.{row['judged_by']}", text)
    return found


def _taken(maker: Maker, row: Json) -> Json:
    """The clinical time is when the specimen left the patient, where there was one; ``issued`` is the result."""
    result, seq = row["taken_rel_s"], row["seq"]
    sampled = row["sampled_rel_s"] is not None or row.get("sampled_at") is not None
    if sampled:
        sent = maker.events[seq]["refers_to"]
        found = maker.when("effectiveDateTime", row.get("sampled_at"), row["sampled_rel_s"], sent)
    else:
        found = maker.when("effectiveDateTime", row.get("taken_at"), result, seq)
    return found | maker.instant("issued", row.get("taken_at"), result, seq)


def _burst(maker: Maker, row: Json) -> Json:
    found = _base(maker, "burst", row["seq"], row["seq"])
    found["partOf"] = [maker.ref("attempt", row["attempt_seq"])]
    found["code"] = maker.coded("energy.burst", "Energy burst")
    found["subject"] = maker.ref("subject")
    found["effectivePeriod"] = maker.period(row, row["seq"], maker.ended_by(row["seq"]))
    _add_length(maker, found, row)
    site = maker.site(row)
    if site is not None:
        found["bodySite"] = site
    if row["watts"] is not None:
        watts = {
            "code": maker.coded("energy.watts", "Power"),
            "valueQuantity": maker.quantity(row["watts"], "W"),
        }
        found["component"] = [watts]
    return found


def _run(maker: Maker, row: Json) -> Json:
    found = _base(maker, "run", row["seq"], row["seq"])
    title = words(maker.checklist, maker.profile, "run", row["run"])
    found["code"] = maker.coded(f"run.{row['run']}", title)
    found["subject"] = maker.ref("subject")
    found["effectivePeriod"] = maker.period(row, row["seq"], maker.ended_by(row["seq"]))
    _add_length(maker, found, row)
    if row["rate"] is not None:
        rate = {
            "code": maker.coded("rate.entered", "Rate"),
            "valueQuantity": maker.quantity(row["rate"], row["unit"]),
        }
        found["component"] = [rate]
    return found


def _clock(maker: Maker, row: Json) -> Json:
    found = maker.resource("Observation", "clock", row["seq"])
    found["extension"] = maker.sequence(row["seq"])
    found["status"] = "final"
    found["code"] = maker.coded(f"clock.{row['clock']}", f"Clock offset, {row['clock']} minus console")
    found["subject"] = maker.ref("console")
    found |= maker.when("effectiveDateTime", row.get("compared_at"), row["compared_rel_s"], row["seq"])
    found["valueQuantity"] = maker.quantity(row["clock_offset_s"], "s")
    found["component"] = [
        {"code": maker.coded(f"clock.{name}", words_), "valueQuantity": maker.quantity(row[f"{name}_s"], "s")}
        for name, words_ in (
            ("uncertainty", "Uncertainty, either way"),
            ("resolution", "Smallest step that the other clock shows"),
        )
    ]
    return found


def _interval(maker: Maker, row: Json) -> Json:
    found = _base(maker, "interval", row["place"], None)
    found["partOf"] = [maker.ref("case")]
    title = row.get("title") or row["interval"]
    found["code"] = maker.coded(f"interval.{row['interval']}", title)
    found["subject"] = maker.ref("subject")
    found["effectivePeriod"] = maker.period(row, row["start_seq"], row["end_seq"])
    found["valueQuantity"] = maker.quantity(row["duration_s"], "s")
    return found


def _endpoint(maker: Maker, row: Json) -> Json:
    """An endpoint; what the log cannot know is preliminary and says pending."""
    found = _base(maker, "endpoint", row["place"], None)
    found["partOf"] = [maker.ref("case")]
    found["status"] = "preliminary" if row["answer"] == "pending" else "final"
    found["code"] = maker.coded(f"endpoint.{row['endpoint']}", row["endpoint"].replace("_", " "))
    found["subject"] = maker.ref("subject")
    last = maker.rows["events"][-1]
    found |= maker.when("effectiveDateTime", last.get("recorded_at"), recorded_rel(last))
    found["valueCodeableConcept"] = maker.coded(f"answer.{row['answer']}", row["answer"])
    site = maker.site(row)
    if site is not None:
        found["bodySite"] = site
    said = "; ".join(filter(None, (row["value"], row["because"], f"definition: {row['definition']}")))
    found["note"] = [{"text": said}]
    return found


def _add_length(maker: Maker, found: Json, row: Json) -> None:
    if row["duration_s"] is not None:
        found["valueQuantity"] = maker.quantity(row["duration_s"], "s")
    else:
        found["dataAbsentReason"] = UNKNOWN
