"""Commissural alignment of the new valve with the native or earlier commissures, in degrees.

Three commissures repeat every 120 degrees, so the greatest possible deviation is 60.
"""

from decimal import Decimal
from enum import StrEnum

from labcheck.reference.figures import Range, Reason
from labcheck.reference.sources import Mark, Source

ALIGNMENT_GRADES = Source("alignment consortium: 15, 30, 45, 60 degrees", Mark.FROM_MEMORY)
ZENG = Source("Zeng (cohort of 215): aligned to 30 degrees, misaligned above", Mark.SECONDARY)
OVERLAP = Source("severe coronary overlap: commissure within 20 degrees of the ostium", Mark.FROM_MEMORY)

ANGLE = Range("angle", Decimal(-360), Decimal(360), "degrees")


class Alignment(StrEnum):
    """The four grades."""

    ALIGNED = "aligned"
    MILD = "mild misalignment"
    MODERATE = "moderate misalignment"
    SEVERE = "severe misalignment"


def deviation(angle_deg: Decimal | None) -> Decimal | Reason:
    """The deviation from the nearest commissure, 0 to 60 degrees, from any signed rotation."""
    angle = ANGLE.check(angle_deg)
    if isinstance(angle, Reason):
        return angle
    within = abs(angle) % 120
    return min(within, 120 - within)


def grade(angle_deg: Decimal | None) -> Alignment | Reason:
    """The grade: aligned to 15, mild to 30, moderate to 45, severe to 60 degrees, upper ends included."""
    off = deviation(angle_deg)
    if isinstance(off, Reason):
        return off
    if off <= 15:
        return Alignment.ALIGNED
    if off <= 30:
        return Alignment.MILD
    return Alignment.MODERATE if off <= 45 else Alignment.SEVERE


def aligned_to_thirty(angle_deg: Decimal | None) -> bool | Reason:
    """The two-way reading: aligned up to and including 30 degrees."""
    off = deviation(angle_deg)
    return off if isinstance(off, Reason) else off <= 30


def severe_overlap(commissure_to_ostium_deg: Decimal | None) -> bool | Reason:
    """Whether a commissure lies within 20 degrees of a coronary ostium."""
    off = deviation(commissure_to_ostium_deg)
    return off if isinstance(off, Reason) else off <= 20
