"""Readings in the unit their checklist uses. The log keeps what was entered; sums and limits use this."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal

from labcheck.checklist.model import Reading
from labcheck.reference.radiation import (
    AIR_KERMA_IN_MGY,
    FLUOROSCOPY_SECONDS,
    KAP_IN_GY_CM2,
    unit_spelling,
)

_FAMILIES: tuple[Mapping[str, Decimal | int], ...] = (KAP_IN_GY_CM2, AIR_KERMA_IN_MGY, FLUOROSCOPY_SECONDS)


def in_own_unit(reading: Reading, value: Decimal | None, unit: str | None) -> Decimal | None:
    """``value`` in ``reading.unit``, or None where the two units have nothing to do with each other."""
    if value is None:
        return None
    own = unit_spelling(reading.unit or "")
    entered = unit_spelling(unit or reading.unit or "")
    if own == entered:
        return value
    for family in _FAMILIES:
        if own in family and entered in family:
            return value * Decimal(family[entered]) / Decimal(family[own])
    return None
