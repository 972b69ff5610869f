"""The pieces every resource is made of: references, identifiers, codes, quantities and times."""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from typing import Any

from labcheck.checklist.model import Checklist
from labcheck.registry.columns import Profile
from labcheck.registry.concepts import CONCEPTS, LOCAL, SYSTEMS
from labcheck.registry.identifiers import Identifiers
from labcheck.registry.measures import UCUM_SYSTEM, ucum
from labcheck.registry.naming import words
from labcheck.registry.profiles import values
from labcheck.registry.tables import Tables
from labcheck.registry.times import read_rfc3339
from labcheck.registry.trust import as_they_stand, endings, qualities, retimed

Json = dict[str, Any]
NAMESPACE = uuid.UUID("5a8f4c0e-6d0b-5f6e-9f0a-1c1abc5ec7e9")
"""Our own namespace for name-based ids (RFC 9562, version 5): the same record has the same id in every export."""

EXTENSION = "urn:labcheck:fhir:"
ABSENT = "http://hl7.org/fhir/StructureDefinition/data-absent-reason"
RECORD = "urn:labcheck:record"
"""System of the business identifier of every resource: case, kind and entry number."""


class Maker:
    """What resources are made from: the rows a profile lets out, and nothing else of the case."""

    def __init__(self, tables: Tables, identifiers: Identifiers, *, snomed: bool) -> None:
        self.profile: Profile = tables.frame.profile
        self.checklist: Checklist = tables.frame.case.checklist
        self.identifiers = identifiers
        self.snomed = snomed
        rows = {name: [values(row, self.profile) for row in found] for name, found in tables.rows.items()}
        self.rows: Mapping[str, Sequence[Json]] = rows | {"events": as_they_stand(rows["events"])}
        self.case: Json = self.rows["cases"][0]
        self.events: Mapping[int, Json] = {row["seq"]: row for row in self.rows["events"]}
        self.endings = endings(self.rows["events"])
        self.qualities = qualities(self.rows["events"])
        self.retimed = retimed(self.rows["events"])

    def id(self, kind: str, name: object = "") -> str:
        """The id of one record's resource."""
        return str(uuid.uuid5(NAMESPACE, f"{self.case['case_id']}/{kind}/{name}"))

    def ref(self, kind: str, name: object = "") -> Json:
        """A reference within the bundle."""
        return {"reference": f"urn:uuid:{self.id(kind, name)}"}

    def resource(self, type_: str, kind: str, name: object = "", *, one_identifier: bool = False) -> Json:
        """The head of a resource: type, id, tags and business identifier."""
        mark = {"system": RECORD, "value": f"{self.case['case_id']}/{kind}/{name}".rstrip("/")}
        return {
            "resourceType": type_,
            "id": self.id(kind, name),
            "meta": self._meta(),
            "identifier": mark if one_identifier else [mark],
        }

    def bare(self, type_: str, kind: str, name: object = "") -> Json:
        """The head of a resource of a type that has no identifier."""
        return {"resourceType": type_, "id": self.id(kind, name), "meta": self._meta()}

    def _meta(self) -> Json:
        meta: Json = {"tag": [{"system": "urn:labcheck:profile", "code": self.profile}]}
        if self.case["rehearsal"]:
            meta["security"] = [
                {
                    "system": "http://terminology.hl7.org/CodeSystem/v3-ActReason",
                    "code": "HTEST",
                    "display": "test health data",
                }
            ]
            meta["tag"].append({"system": "urn:labcheck:tag", "code": "rehearsal"})
        return meta

    def sequence(self, seq: int | None) -> list[Json]:
        """The extension that carries an entry's place in the log."""
        return [{"url": EXTENSION + "sequence", "valuePositiveInt": seq}] if seq is not None else []

    def coding(self, code: str, display: str) -> Json:
        """A code of our own, always with its kind and its words."""
        return {"system": SYSTEMS[LOCAL], "code": code, "display": display or code}

    def coded(self, code: str, text: str, display: str = "") -> Json:
        """A CodeableConcept: the local code first, then a public one where the table has one.

        SNOMED CT codes are left out unless they were asked for.
        """
        codings = [self.coding(code, display or text)]
        public = CONCEPTS.get(code)
        if public is not None and (public.scheme != "SCT" or self.snomed):
            codings.append({"system": SYSTEMS[public.scheme], "code": public.code, "display": public.meaning})
        return {"coding": codings, "text": text}

    def reason(self, said: str | None, code: str | None) -> Json | None:
        """A reason as a CodeableConcept: coded where the checklist offers it, else in the words that were typed."""
        offered = (r.id for r in self.checklist.reason if said in (r.id, r.text))
        known = code or next(offered, None)
        if known is not None:
            return self.coded(f"reason.{known}", words(self.checklist, self.profile, "reason", known))
        return {"text": said} if said else None

    def when(self, name: str, at: str | None, rel: float | None, seq: int | None = None) -> Json:
        """A dateTime element with what is known about it: clock time, or the year and the relative time.

        ``seq`` is the entry whose time it is.
        """
        value = at if at is not None else self._year()
        return _timed(name, value, self._known(rel, seq))

    def instant(self, name: str, at: str | None, rel: float | None, seq: int | None = None) -> Json:
        """An instant element. An instant is never a year alone: without clock times it says that it is masked."""
        masked = [{"url": ABSENT, "valueCode": "masked"}] if at is None else []
        return _timed(name, at, [*masked, *self._known(rel, seq)])

    def _known(self, rel: float | None, seq: int | None) -> list[Json]:
        """What is known of a moment beside its clock time."""
        found: list[Json] = []
        if rel is not None:
            found.append({"url": EXTENSION + "seconds-since-access", "valueDecimal": rel})
        if seq is None or (event := self.events.get(seq)) is None:
            return found
        if self.qualities[seq] != "measured":
            found.append({"url": EXTENSION + "time-quality", "valueCode": self.qualities[seq]})
        if event["late"] and seq not in self.retimed:
            found.append({"url": EXTENSION + "entered-after", "valueDecimal": event["lag_s"]})
        return found

    def _year(self) -> str | None:
        return str(self.case["year"]) if self.case["year"] is not None else None

    def ended_by(self, seq: int | None) -> int | None:
        """The entry that ended what an entry began."""
        ending = self.endings.get(seq) if seq is not None else None
        return ending["seq"] if ending is not None else None

    def period(self, row: Json, start_seq: int | None, end_seq: int | None) -> Json:
        """The Period of a row with a start and an end, and the entries that were those.

        A clock set back between the two would put the end before the start, which a Period may not say: the end
        is then given in an extension, and the measured duration beside it; ``end`` keeps what else is known of it.
        """
        start, end = row.get("started_at"), row.get("ended_at")
        found = self.when("start", start, row["start_rel_s"], start_seq)
        backwards = start is not None and end is not None and read_rfc3339(end) < read_rfc3339(start)
        if backwards:
            found["extension"] = [{"url": EXTENSION + "end-by-set-clock", "valueDateTime": end}]
            found |= _timed("end", None, self._known(row["end_rel_s"], end_seq))
        elif end is not None or row["end_rel_s"] is not None:
            found |= self.when("end", end, row["end_rel_s"], end_seq)
        if row["duration_s"] is not None:
            length = {
                "url": EXTENSION + "measured-duration",
                "valueDuration": self.quantity(row["duration_s"], "s"),
            }
            found.setdefault("extension", []).append(length)
        return found

    def quantity(self, value: float, unit: str | None) -> Json:
        """A Quantity, with a UCUM code where the unit has one."""
        found: Json = {"value": int(value) if float(value).is_integer() else value}
        if unit is not None:
            found["unit"] = unit
            code = ucum(unit)
            if code is not None:
                found |= {"system": UCUM_SYSTEM, "code": code}
        return found

    def site(self, row: Json) -> Json | None:
        """The cusp or ostium a row belongs to."""
        if row.get("cusp"):
            return self.coded(f"cusp.{row['cusp']}", f"{row['cusp'].replace('_', ' ')} leaflet")
        if row.get("ostium"):
            return self.coded(f"ostium.{row['ostium']}", f"{row['ostium']} coronary ostium")
        return None


def _timed(name: str, value: str | None, extensions: list[Json]) -> Json:
    found: Json = {name: value} if value is not None else {}
    if extensions:
        found["_" + name] = {"extension": extensions}
    return found
