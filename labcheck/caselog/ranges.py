"""The soft ranges of readings and drugs: a value outside is asked about once, and flagged when it is said again."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from labcheck.caselog.events import DoseGiven, ReadingTaken
from labcheck.caselog.units import in_own_unit
from labcheck.checklist import finding
from labcheck.checklist.model import Checklist, Drug, Reading


def beyond(low: Decimal | None, high: Decimal | None, value: Decimal | None) -> bool:
    """Whether a value is below or above; a limit that is not given stops nothing, nor does a value not given."""
    return value is not None and ((low is not None and value < low) or (high is not None and value > high))


def outside(reading: Reading, value: Decimal | None, unit: str | None) -> bool:
    """Whether a value lies outside the reading's soft range."""
    return not reading.options and beyond(reading.low, reading.high, in_own_unit(reading, value, unit))


def span_words(thing: Reading | Drug) -> str:
    """The range as it is said: "70 to 999 s"."""
    low = "" if thing.low is None else f"{thing.low:f}"
    high = "" if thing.high is None else f"{thing.high:f}"
    return f"{low} to {high} {thing.unit or ''}".strip()


def out_of_range(checklist: Checklist, what: Any) -> str:
    """What is unlikely about the value of a reading or dose, in words; "" where nothing is."""
    if isinstance(what, ReadingTaken):
        reading = finding.reading(checklist, what.reading)
        if reading is not None and outside(reading, what.value, what.unit):
            return f"{reading.title} {what.value:f} is outside {span_words(reading)}"
    elif isinstance(what, DoseGiven):
        drug = finding.drug(checklist, what.drug)
        if drug is not None and beyond(drug.low, drug.high, what.amount):
            return f"{drug.title} {what.amount:f} is outside {span_words(drug)}"
    return ""
