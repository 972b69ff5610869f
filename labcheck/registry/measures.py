"""Units as other systems write them: UCUM codes for the units that checklists use."""

from __future__ import annotations

from collections.abc import Mapping

UCUM_SYSTEM = "http://unitsofmeasure.org"

UCUM: Mapping[str, str] = {
    "s": "s",
    "min": "min",
    "h": "h",
    "ms": "ms",
    "mmHg": "mm[Hg]",
    "mL": "mL",
    "L": "L",
    "mg": "mg",
    "g": "g",
    "kg": "kg",
    "cm": "cm",
    "mm": "mm",
    "microgram": "ug",
    "microgram/kg/min": "ug/kg/min",
    "IU": "[iU]",
    "unit": "{unit}",
    "deg": "deg",
    "/min": "/min",
    "W": "W",
    "%": "%",
    "Gy": "Gy",
    "dGy": "dGy",
    "cGy": "cGy",
    "mGy": "mGy",
    "uGy": "uGy",
    "Gy·cm2": "Gy.cm2",
    "dGy·cm2": "dGy.cm2",
    "cGy·cm2": "cGy.cm2",
    "mGy·cm2": "mGy.cm2",
    "uGy·cm2": "uGy.cm2",
    "uGy·m2": "uGy.m2",
    "mGy·m2": "mGy.m2",
    "Gy·m2": "Gy.m2",
    "mg/dL": "mg/dL",
    "umol/L": "umol/L",
}
"""Unit as entered to UCUM code (Schadow, the Unified Code for Units of Measure, version 2; from memory)."""


def ucum(unit: str) -> str | None:
    """The UCUM code of a unit, or None for one that is not in the table."""
    return UCUM.get(unit)
