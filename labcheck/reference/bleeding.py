"""Bleeding by VARC-3 and by VARC-2. The two differ at their boundaries, so a grade always names its version.

VARC-3 asks for an overt bleed; counting a haemoglobin fall without a source more than doubled the rate in one
cohort (34.4 against 13.9 %), so the reading that was used is part of the grade.
"""

from dataclasses import dataclass
from decimal import Decimal
from enum import IntEnum, StrEnum

from labcheck.reference.figures import Range, Reason
from labcheck.reference.sources import Mark, Source

VARC3_BLEEDING = Source("VARC-3, Généreux 2021, bleeding", Mark.FROM_MEMORY)
VARC2_BLEEDING = Source("VARC-2, Kappetein 2012, bleeding", Mark.SEEN)
NIENABER = Source("Nienaber, J Am Heart Assoc (2,227): 34.4 against 13.9 %", Mark.SEEN)

UNITS = Range("red cell units", Decimal(0), Decimal(200), "units")
HAEMOGLOBIN_DROP = Range("haemoglobin drop", Decimal(-10), Decimal(20), "g/dL")


class HaemoglobinReading(StrEnum):
    """Whether a fall in haemoglobin counts without a visible source."""

    OVERT_ONLY = "overt source required"
    ANY_FALL = "any fall counts"


class Varc3Type(IntEnum):
    """0 is no bleeding that qualifies."""

    NONE = 0
    ONE = 1
    TWO = 2
    THREE = 3
    FOUR = 4


class Varc2Class(StrEnum):
    """The classes of the earlier version."""

    NONE = "none"
    MINOR = "minor"
    MAJOR = "major"
    LIFE_THREATENING = "life-threatening"


@dataclass(frozen=True, slots=True)
class Bleed:
    """What is known of the bleeding. `severe` stands for a critical organ, shock, vasopressors, surgery or
    re-intervention, or a chest tube of 2 L or more in 24 h."""

    overt: bool = False
    medical_care: bool = False
    units: Decimal | None = None
    haemoglobin_drop: Decimal | None = None
    severe: bool = False
    fatal: bool = False


@dataclass(frozen=True, slots=True)
class Varc3Grade:
    """The type so far. `final` is false while units or haemoglobin are not known and could still raise it."""

    type: Varc3Type
    final: bool
    reading: HaemoglobinReading
    source: Source = VARC3_BLEEDING


def varc3(bleed: Bleed, reading: HaemoglobinReading = HaemoglobinReading.OVERT_ONLY) -> Varc3Grade | Reason:
    """The VARC-3 type: 1 overt with care or one unit; 2 with 2 to 4 units or a drop above 3 and below 5 g/dL;
    3 with 5 units or more, a drop of 5 g/dL or more, or a severe bleed; 4 fatal. Units are those given for
    bleeding."""
    checked = _checked(bleed)
    if isinstance(checked, Reason):
        return checked
    units, drop = checked
    if bleed.fatal:
        return Varc3Grade(Varc3Type.FOUR, True, reading)
    grade = Varc3Type.NONE
    if bleed.overt and (bleed.medical_care or bleed.severe):
        grade = Varc3Type.ONE
    if units is not None:
        grade = max(grade, _by_units(units))
    if drop is not None and (bleed.overt or reading is HaemoglobinReading.ANY_FALL):
        grade = max(grade, _by_drop(drop))
    if bleed.severe:
        grade = Varc3Type.THREE
    final = grade is Varc3Type.THREE or (units is not None and drop is not None)
    # Nothing short of death raises a type 3, and death is its own event.
    return Varc3Grade(grade, final, reading)


def _by_units(units: Decimal) -> Varc3Type:
    if units >= 5:
        return Varc3Type.THREE
    if units >= 2:
        return Varc3Type.TWO
    return Varc3Type.ONE if units > 0 else Varc3Type.NONE


def _by_drop(drop: Decimal) -> Varc3Type:
    if drop >= 5:
        return Varc3Type.THREE
    return Varc3Type.TWO if drop > 3 else Varc3Type.NONE


def varc2(bleed: Bleed) -> Varc2Class | Reason:
    """The VARC-2 class: life-threatening at 5 g/dL, 4 units or a severe bleed; major at 3 g/dL or 2 units."""
    checked = _checked(bleed)
    if isinstance(checked, Reason):
        return checked
    units, drop = checked[0] or Decimal(0), checked[1] or Decimal(0)
    if bleed.fatal or bleed.severe or units >= 4 or (bleed.overt and drop >= 5):
        return Varc2Class.LIFE_THREATENING
    if units >= 2 or (bleed.overt and drop >= 3):
        return Varc2Class.MAJOR
    return Varc2Class.MINOR if bleed.overt else Varc2Class.NONE


def _checked(bleed: Bleed) -> tuple[Decimal | None, Decimal | None] | Reason:
    units = None if bleed.units is None else UNITS.check(bleed.units)
    if isinstance(units, Reason):
        return units
    drop = None if bleed.haemoglobin_drop is None else HAEMOGLOBIN_DROP.check(bleed.haemoglobin_drop)
    return drop if isinstance(drop, Reason) else (units, drop)
