"""Radiation readings: every unit a console shows, cumulative readings, and notice levels.

Canonical units are mGy (air kerma at the reference point), Gy·cm2 (kerma-area product) and min (fluoroscopy).
A unit is matched by spelling with case kept, because mGy and MGy are not the same thing; an unknown unit is a
reason, never a guess. cGy·cm2 and uGy·m2 are the same size.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from types import MappingProxyType

from labcheck.reference.figures import Figure, Range, Reason
from labcheck.reference.sources import Mark, Source

UNIT_CONVERSION = Source("SI units", Mark.DERIVED)
NOTICE_TABLE = Source("Stecker, J Vasc Interv Radiol 2009 and NCRP Report 168, 2010", Mark.FROM_MEMORY)
SUBSTANTIAL_AIR_KERMA = Source(
    "5 Gy in NCRP Report 168 and of the Society of Interventional Radiology, as quoted in CVIR Endovasc 2020",
    Mark.SECONDARY,
)
KAP_NOTICE_TABLE = Source(f"{NOTICE_TABLE.text}; assumes a field of 100 cm2", Mark.FROM_MEMORY)
FIELD_AREA = Source("kerma-area product over air kerma; published medians give 100 to 120 cm2", Mark.DERIVED)

KAP_UNIT = "Gy·cm2"
AIR_KERMA_UNIT = "mGy"
FLUOROSCOPY_UNIT = "min"

KAP_IN_GY_CM2: Mapping[str, Decimal] = MappingProxyType(
    {
        "Gy·cm2": Decimal(1),
        "dGy·cm2": Decimal("0.1"),
        "cGy·cm2": Decimal("0.01"),
        "mGy·cm2": Decimal("0.001"),
        "uGy·cm2": Decimal("0.000001"),
        "uGy·m2": Decimal("0.01"),
        "mGy·m2": Decimal(10),
        "Gy·m2": Decimal(10_000),
    }
)
AIR_KERMA_IN_MGY: Mapping[str, Decimal] = MappingProxyType(
    {"mGy": Decimal(1), "cGy": Decimal(10), "dGy": Decimal(100), "Gy": Decimal(1000), "uGy": Decimal("0.001")}
)
FLUOROSCOPY_SECONDS: Mapping[str, int] = MappingProxyType({"s": 1, "min": 60, "h": 3600})

KAP = Range("kerma-area product", Decimal(0), Decimal(5000), KAP_UNIT)
AIR_KERMA = Range("air kerma", Decimal(0), Decimal(50_000), AIR_KERMA_UNIT)
FLUOROSCOPY = Range("fluoroscopy time", Decimal(0), Decimal(600), FLUOROSCOPY_UNIT)

FIELD_AREA_CM2 = (Decimal(20), Decimal(600))
"""Mean field area at the reference point that a detector can give; own estimate, wide on purpose."""


def unit_spelling(unit: str) -> str:
    """The canonical spelling of a unit: micro as u, squared as 2, one middle dot, no blanks. Case is kept."""
    for sign in ("µ", "μ"):
        unit = unit.replace(sign, "u")
    unit = unit.replace("²", "2").replace("^2", "2")
    for sign in (" ", "*", ".", "⋅", "∙", "×", "x"):
        unit = unit.replace(sign, "·")
    while "··" in unit:
        unit = unit.replace("··", "·")
    unit = unit.strip("·")
    return unit if "·" in unit or not unit.endswith("m2") else _with_dot(unit)


def _with_dot(unit: str) -> str:
    """`Gycm2` is shown by some consoles without any sign between the two factors."""
    head, gy, area = unit.partition("Gy")
    return f"{head}{gy}·{area}" if gy else unit


def kap_gy_cm2(value: Decimal | None, unit: str | None) -> Figure | Reason:
    """A kerma-area product in Gy·cm2 from a reading in any unit of `KAP_IN_GY_CM2`."""
    return _converted(value, unit, KAP_IN_GY_CM2, KAP)


def air_kerma_mgy(value: Decimal | None, unit: str | None) -> Figure | Reason:
    """Air kerma in mGy from a reading in mGy, cGy, dGy, Gy or uGy."""
    return _converted(value, unit, AIR_KERMA_IN_MGY, AIR_KERMA)


def fluoroscopy_min(value: Decimal | None, unit: str | None) -> Figure | Reason:
    """Fluoroscopy time in minutes from s, min or h (decimal minutes, not minutes.seconds)."""
    checked = _known(value, unit, FLUOROSCOPY_SECONDS, "fluoroscopy time")
    if isinstance(checked, Reason):
        return checked
    number, spelling = checked
    in_range = FLUOROSCOPY.check(number * FLUOROSCOPY_SECONDS[spelling] / 60)
    return in_range if isinstance(in_range, Reason) else Figure(in_range, FLUOROSCOPY_UNIT, UNIT_CONVERSION)


def _converted(
    value: Decimal | None, unit: str | None, factors: Mapping[str, Decimal], accepted: Range
) -> Figure | Reason:
    checked = _known(value, unit, factors, accepted.subject)
    if isinstance(checked, Reason):
        return checked
    number, spelling = checked
    in_range = accepted.check(number * factors[spelling])
    return in_range if isinstance(in_range, Reason) else Figure(in_range, accepted.unit, UNIT_CONVERSION)


def _known(
    value: Decimal | None, unit: str | None, units: Mapping[str, object], subject: str
) -> tuple[Decimal, str] | Reason:
    if unit is None:
        return Reason(f"{subject} has no unit; give one of {', '.join(units)}")
    spelling = unit_spelling(unit)
    if spelling not in units:
        return Reason(f"{subject} cannot be read in {unit[:20]!r}; give one of {', '.join(units)}")
    # Bounded before the conversion, so that no product can overflow.
    number = Range(subject, Decimal(0), Decimal("1e12"), spelling).check(value)
    return number if isinstance(number, Reason) else (number, spelling)


@dataclass(frozen=True, slots=True)
class Cumulative:
    """A reading that only grows. `before_reset` is what the counter had reached before each stated reset."""

    unit: str
    latest: Decimal = Decimal(0)
    before_reset: Decimal = Decimal(0)

    @property
    def total(self) -> Decimal:
        """All that was given, across resets, in `unit`."""
        return self.before_reset + self.latest


def next_reading(
    so_far: Cumulative, reading: Figure | Reason, *, reset_stated: bool = False
) -> Cumulative | Reason:
    """The tally after one more console reading, which may not fall unless a counter reset is stated."""
    if isinstance(reading, Reason):
        return reading
    if reading.unit != so_far.unit:
        return Reason(f"the reading is in {reading.unit} but the tally is in {so_far.unit}")
    if reset_stated:
        return Cumulative(so_far.unit, reading.value, so_far.before_reset + so_far.latest)
    if reading.value < so_far.latest:
        return Reason(
            f"a cumulative reading cannot fall from {so_far.latest} to {reading.value} {so_far.unit}; "
            "correct it, or state that the counter was reset"
        )
    return Cumulative(so_far.unit, reading.value, so_far.before_reset)


class NoticeKind(StrEnum):
    """The three kinds of radiation notice."""

    FIRST = "first"
    REPEAT = "repeat"
    SUBSTANTIAL = "substantial"


@dataclass(frozen=True, slots=True)
class NoticeSchedule:
    """First notice, then one every `every`, and the substantial dose level, all in `unit`."""

    first: Decimal
    every: Decimal
    substantial: Decimal
    unit: str
    source: Source
    substantial_source: Source


@dataclass(frozen=True, slots=True)
class Notice:
    """A level that a tally has just reached."""

    kind: NoticeKind
    level: Decimal
    unit: str
    source: Source


PEAK_SKIN_DOSE_NOTICES = NoticeSchedule(
    Decimal(2000), Decimal(500), Decimal(3000), AIR_KERMA_UNIT, NOTICE_TABLE, NOTICE_TABLE
)
AIR_KERMA_NOTICES = NoticeSchedule(
    Decimal(3000), Decimal(1000), Decimal(5000), AIR_KERMA_UNIT, NOTICE_TABLE, SUBSTANTIAL_AIR_KERMA
)
KAP_NOTICES = NoticeSchedule(
    Decimal(300), Decimal(100), Decimal(500), KAP_UNIT, KAP_NOTICE_TABLE, KAP_NOTICE_TABLE
)
FLUOROSCOPY_NOTICES = NoticeSchedule(
    Decimal(30), Decimal(15), Decimal(60), FLUOROSCOPY_UNIT, NOTICE_TABLE, NOTICE_TABLE
)


def new_notices(before: Decimal, after: Decimal, schedule: NoticeSchedule) -> tuple[Notice, ...]:
    """The notices reached when a tally goes from `before` to `after` (canonical unit), in the order reached.

    A level is reached at equality. Nothing is reached by a tally that stands still or is corrected downwards.
    """
    if not (before.is_finite() and after.is_finite()) or after - before > 1000 * schedule.every:
        return ()
    reached: list[Notice] = []
    level, kind = schedule.first, NoticeKind.FIRST
    while level <= after:
        if level > before:
            reached.append(Notice(kind, level, schedule.unit, schedule.source))
        level, kind = level + schedule.every, NoticeKind.REPEAT
    if before < schedule.substantial <= after:
        reached.append(
            Notice(NoticeKind.SUBSTANTIAL, schedule.substantial, schedule.unit, schedule.substantial_source)
        )
    return tuple(sorted(reached, key=lambda notice: notice.level))


def unit_doubt(kap: Figure | Reason, air_kerma: Figure | Reason) -> Reason | None:
    """A doubt about a unit, when kerma-area product and air kerma imply a field no detector could give.

    Their quotient is the mean field area; a typical reading in a unit ten times off leaves that range.
    None when both fit together or one of them is not known.
    """
    if isinstance(kap, Reason) or isinstance(air_kerma, Reason) or air_kerma.value <= 0 or kap.value <= 0:
        return None
    if (kap.unit, air_kerma.unit) != (KAP_UNIT, AIR_KERMA_UNIT):
        return None
    area = kap.value / (air_kerma.value / 1000)
    low, high = FIELD_AREA_CM2
    if low <= area <= high:
        return None
    return Reason(
        f"kerma-area product and air kerma do not fit together (mean field {area:.3g} cm2); "
        "check the unit of both readings"
    )
