"""Content items of a structured report, built with pydicom."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta, tzinfo
from decimal import Decimal

from pydicom.dataset import Dataset
from pydicom.sequence import Sequence as Items

from labcheck.registry.cells import inert
from labcheck.registry.concepts import CONCEPTS, Concept
from labcheck.registry.dicom.source import Entry

SHORT = 16
"""Longest code value that fits the short element (PS3.5, SH)."""


def code(concept: Concept) -> Dataset:
    """A code sequence item. Long codes of our own go into the long element."""
    item = Dataset()
    value = one_value(concept.code)
    if len(value) > SHORT:
        item.LongCodeValue = value
    else:
        item.CodeValue = value
    item.CodingSchemeDesignator = concept.scheme
    item.CodeMeaning = one_value(concept.meaning)[:64].rstrip()
    return item


def one_value(value: str) -> str:
    """A text as one value of a short element: a backslash would part it into two (PS3.5, 6.4), a control ends it."""
    return " ".join(inert(value).replace("\\", "/").split()) or "-"


def ucum_code(unit: str) -> Dataset:
    """A unit as a code."""
    item = Dataset()
    item.CodeValue = unit
    item.CodingSchemeDesignator = "UCUM"
    item.CodeMeaning = unit
    return item


def content(relation: str, type_: str, name: Concept, **values: object) -> Dataset:
    """A content item with its value."""
    item = Dataset()
    item.RelationshipType = relation
    item.ValueType = type_
    item.ConceptNameCodeSequence = Items([code(name)])
    for keyword, value in values.items():
        setattr(item, keyword, value)
    return item


def coded(relation: str, name: Concept, value: Concept) -> Dataset:
    """A CODE item."""
    return content(relation, "CODE", name, ConceptCodeSequence=Items([code(value)]))


def text(relation: str, name: Concept, value: str) -> Dataset:
    """A TEXT item. The standard forbids an empty one."""
    return content(relation, "TEXT", name, TextValue=inert(value).strip() or "-")


def number(relation: str, name: Concept, value: float, unit: str) -> Dataset:
    """A NUM item."""
    measured = Dataset()
    measured.MeasurementUnitsCodeSequence = Items([ucum_code(unit)])
    measured.NumericValue = decimal_string(value)
    return content(relation, "NUM", name, MeasuredValueSequence=Items([measured]))


def decimal_string(value: float) -> str:
    """A number as a decimal string of at most 16 characters (PS3.5, DS)."""
    plain = format(Decimal(repr(value)), "f")
    return plain if len(plain) <= SHORT else f"{value:.9g}"[:SHORT]


def date_time(moment: datetime) -> str:
    """A moment as DICOM writes it: microseconds and the offset then in force."""
    shift = moment.strftime("%z")
    return f"{moment.strftime('%Y%m%d%H%M%S')}.{moment.microsecond:06d}{shift[:5]}"


def item_time(moment: datetime, home: tzinfo | None) -> str:
    """A moment as the value of a DATETIME item.

    DCMTK 3.6.7 refuses the offset +0000 there, though the standard allows it. Such a moment is written at the
    document's own offset, and without any where that is UTC too: (0008,0201) then says so. The instant is the same.
    """
    if moment.utcoffset() != timedelta(0):
        return date_time(moment)
    at_home = date_time(moment.astimezone(home))
    return at_home.removesuffix("+0000")


def log_entry(entry: Entry, home: tzinfo | None) -> Dataset:
    """A first-level entry with what belongs to it; ``home`` is the document's own offset."""
    if isinstance(entry.value, Concept):
        item = coded("CONTAINS", entry.name, entry.value)
    else:
        item = text("CONTAINS", entry.name, entry.value)
    item.ObservationDateTime = date_time(entry.at)
    below = list(_below(entry, home))
    if below:
        item.ContentSequence = Items(below)
    return item


def _below(entry: Entry, home: tzinfo | None) -> Sequence[Dataset]:
    found: list[Dataset] = []
    if entry.recorded is not None:
        recorded = item_time(entry.recorded, home)
        found.append(content("HAS OBS CONTEXT", "DATETIME", CONCEPTS["log.recorded"], DateTime=recorded))
    if entry.qualifier is not None:
        qualifier = CONCEPTS[f"log.{entry.qualifier}"]
        found.append(coded("HAS OBS CONTEXT", CONCEPTS["log.time_qualifier"], qualifier))
    if entry.action is not None:
        found.append(text("HAS PROPERTIES", CONCEPTS["log.action_id"], entry.action))
    if entry.duration_s is not None and entry.duration_s >= 0:
        found.append(number("HAS PROPERTIES", CONCEPTS["log.duration"], entry.duration_s, "s"))
    if entry.measured is not None:
        measured = entry.measured
        found.append(number("HAS PROPERTIES", measured.name, measured.value, measured.unit))
    if entry.comment is not None:
        found.append(text("HAS PROPERTIES", CONCEPTS["log.comment"], entry.comment))
    return found
