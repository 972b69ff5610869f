"""Who entered late or corrected what, and when: one Provenance for every such entry."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from labcheck.registry.fhir.elements import RECORD, Json, Maker
from labcheck.registry.fhir.procedures import visit_of
from labcheck.registry.trust import ENDING, fact, recorded_rel

OPERATIONS = "http://terminology.hl7.org/CodeSystem/v3-DataOperation"
PARTICIPANTS = "http://terminology.hl7.org/CodeSystem/provenance-participant-type"
CORRECTIONS = {
    "event.amended": ("UPDATE", "revise", "revision"),
    "event.voided": ("NULLIFY", "nullify", "removal"),
}
"""What a correction does (v3-DataOperation), that in words, and as what it names the entry that it corrects."""

CREATE = ("CREATE", "create", "source")
TABLES = {"readings": "reading", "doses": "dose", "attempts": "attempt", "bailouts": "bailout", "bursts": "burst",
          "runs": "run", "clocks": "clock"}  # fmt: skip
"""Tables whose rows are resources of their own, and the kind of those."""


def provenances(maker: Maker) -> Iterator[Json]:
    """One for every correction, and one for every entry that counts and was made late or has no measured time.

    A Provenance must say when it was recorded, as a clock time: a registry gets none.
    """
    shown = _shown(maker)
    for row in maker.rows["events"]:
        if not row.get("recorded_at"):
            continue
        if row["kind"] in CORRECTIONS:
            yield _provenance(maker, row, row["refers_to"], CORRECTIONS[row["kind"]], shown)
        elif not row["voided"] and (row["late"] or maker.qualities[row["seq"]] != "measured"):
            yield _provenance(maker, row, row["seq"], CREATE, shown)


def _provenance(
    maker: Maker, row: Json, about: int, does: tuple[str, str, str], shown: Mapping[int, Json]
) -> Json:
    code, word, role = does
    found = maker.bare("Provenance", "provenance", row["seq"])
    found["extension"] = maker.sequence(row["seq"])
    # What was voided has no resource any more. The case or the stage is not what was nullified, so the entry itself
    # is named, by its business identifier.
    found["target"] = [_entry(maker, about) if code == "NULLIFY" else _resource(maker, about, shown)]
    found |= maker.when("occurredDateTime", row["occurred_at"], row["t_rel_s"], row["seq"])
    found |= maker.instant("recorded", row["recorded_at"], recorded_rel(row))
    why = maker.reason(*_why(row, code))
    if why is not None:
        found["reason"] = [why]
    found["activity"] = {"coding": [{"system": OPERATIONS, "code": code, "display": word}]}
    enterer = {"system": PARTICIPANTS, "code": "enterer", "display": "Enterer"}
    agent: Json = {"type": {"coding": [enterer]}, "who": maker.ref("console")}
    if row.get("recorder"):
        agent["who"] = {**agent["who"], "display": f"recorder {row['recorder']}"}
    found["agent"] = [agent]
    found["entity"] = [{"role": role, "what": _entry(maker, about)}]
    return found


def _why(row: Json, code: str) -> tuple[str | None, str | None]:
    """The reason in words and by its id: of a correction its own, of a late entry why it is late."""
    if code == "CREATE":
        return row.get("late_reason"), row.get("late_reason_code")
    return row.get("reason"), row["reason_code"]


def _entry(maker: Maker, seq: int) -> Json:
    """An entry of the log by its business identifier: entries are not resources."""
    event = maker.events.get(seq)
    kind = f", {event['kind']}" if event is not None else ""
    mark = {"system": RECORD, "value": f"{maker.case['case_id']}/entry/{seq}"}
    return {"identifier": mark, "display": f"entry {seq}{kind}"}


def _shown(maker: Maker) -> dict[int, Json]:
    """The resource of every entry that has one."""
    found = {
        row["seq"]: maker.ref(kind, row["seq"]) for name, kind in TABLES.items() for row in maker.rows[name]
    }
    found |= {
        row["seq"]: maker.ref("stage", row["place"]) for row in maker.rows["stages"] if row["seq"] is not None
    }
    own = {"device.used": "device", "fault.noted": "fault"}
    for row in maker.rows["events"]:
        kind = fact(row)
        if kind in own and not row["voided"]:
            found[row["seq"]] = maker.ref(own[kind], row["seq"])
        elif kind == "step.answered" and maker.rows["steps"]:
            found[row["seq"]] = maker.ref("answers")
    return found


def _resource(maker: Maker, seq: int, shown: Mapping[int, Json]) -> Json:
    """The resource that an entry made or changed; what it is part of, where it has none of its own."""
    event = maker.events.get(seq)
    if event is None or event["voided"]:
        return _entry(maker, seq)
    begun: int = event["refers_to"] if fact(event).endswith(ENDING) else seq
    return shown.get(begun) or visit_of(maker, seq)
