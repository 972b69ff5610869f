"""Observations: readings, energy bursts, runs, clock comparisons and intervals; and what was given."""

from __future__ import annotations

from collections.abc import Iterator

from labcheck.registry.concepts import concept
from labcheck.registry.fhir.elements import Json, Maker
from labcheck.registry.fhir.procedures import visit_of
from labcheck.registry.naming import option_words, words

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
        found["medicationCodeableConcept"] = maker.coded(concept("drug", row["drug"], title), title)
        found["subject"] = maker.ref("subject")
        found |= maker.when(
            "effectiveDateTime", row.get("given_at"), row["given_rel_s"], maker.quality(row["seq"])
        )
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
    found["code"] = maker.coded(concept("reading", row["reading"], title), title)
    found["subject"] = maker.ref("subject")
    sampled = row["sampled_rel_s"] is not None or row.get("sampled_at") is not None
    at, rel = ("sampled_at", "sampled_rel_s") if sampled else ("taken_at", "taken_rel_s")
    found |= maker.when("effectiveDateTime", row.get(at), row[rel], maker.quality(row["seq"]))
    if row.get("taken_at"):
        found["issued"] = row["taken_at"]
    if row["value"] is not None:
        found["valueQuantity"] = maker.quantity(row["value"], row["unit"])
    elif row["choice"] is not None:
        text = option_words(maker.checklist, maker.profile, "reading", row["reading"], row["choice"])
        found["valueCodeableConcept"] = maker.own(f"{row['reading']}.{row['choice']}", text)
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
        found["method"] = maker.own(f"judged_by.{row['judged_by']}", text)
    return found


def _burst(maker: Maker, row: Json) -> Json:
    found = _base(maker, "burst", row["seq"], row["seq"])
    found["partOf"] = [maker.ref("attempt", row["attempt_seq"])]
    found["code"] = maker.own("energy", "Energy burst")
    found["subject"] = maker.ref("subject")
    found["effectivePeriod"] = maker.period(row, row["seq"])
    _add_length(maker, found, row)
    site = maker.site(row)
    if site is not None:
        found["bodySite"] = site
    if row["watts"] is not None:
        watts = {
            "code": maker.own("energy.watts", "Power"),
            "valueQuantity": maker.quantity(row["watts"], "W"),
        }
        found["component"] = [watts]
    return found


def _run(maker: Maker, row: Json) -> Json:
    found = _base(maker, "run", row["seq"], row["seq"])
    title = words(maker.checklist, maker.profile, "run", row["run"])
    found["code"] = maker.coded(concept("run", row["run"], title), title)
    found["subject"] = maker.ref("subject")
    found["effectivePeriod"] = maker.period(row, row["seq"])
    _add_length(maker, found, row)
    if row["rate"] is not None:
        rate = {
            "code": maker.own("run.rate", "Rate"),
            "valueQuantity": maker.quantity(row["rate"], row["unit"]),
        }
        found["component"] = [rate]
    return found


def _clock(maker: Maker, row: Json) -> Json:
    found = maker.resource("Observation", "clock", row["seq"])
    found["extension"] = maker.sequence(row["seq"])
    found["status"] = "final"
    found["code"] = maker.own(f"clock.{row['clock']}", f"Clock offset, {row['clock']} minus console")
    found["subject"] = maker.ref("console")
    found |= maker.when("effectiveDateTime", row.get("compared_at"), row["compared_rel_s"])
    found["valueQuantity"] = maker.quantity(row["clock_offset_s"], "s")
    found["component"] = [
        {
            "code": maker.own("clock.uncertainty", "Uncertainty, either way"),
            "valueQuantity": maker.quantity(row["uncertainty_s"], "s"),
        }
    ]
    return found


def _interval(maker: Maker, row: Json) -> Json:
    found = _base(maker, "interval", row["place"], None)
    found["partOf"] = [maker.ref("case")]
    title = row.get("title") or row["interval"]
    found["code"] = maker.own(f"interval.{row['interval']}", title)
    found["subject"] = maker.ref("subject")
    found["effectivePeriod"] = maker.period(row, row["start_seq"])
    found["valueQuantity"] = maker.quantity(row["duration_s"], "s")
    return found


def _endpoint(maker: Maker, row: Json) -> Json:
    """An endpoint; what the log cannot know is preliminary and says pending."""
    found = _base(maker, "endpoint", row["place"], None)
    found["partOf"] = [maker.ref("case")]
    found["status"] = "preliminary" if row["answer"] == "pending" else "final"
    found["code"] = maker.own(f"endpoint.{row['endpoint']}", row["endpoint"].replace("_", " "))
    found["subject"] = maker.ref("subject")
    last = maker.rows["events"][-1]
    found |= maker.when("effectiveDateTime", last.get("recorded_at"), None)
    found["valueCodeableConcept"] = maker.own(f"answer.{row['answer']}", row["answer"])
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
