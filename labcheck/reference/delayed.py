"""When a delayed coronary obstruction appeared, in the windows of the published series."""

from dataclasses import dataclass
from decimal import Decimal

from labcheck.reference.figures import Range, Reason
from labcheck.reference.sources import Mark, Source

JABBOUR_2018 = Source("Jabbour, J Am Coll Cardiol 2018: 38 of 17,092 (0.22 %)", Mark.SEEN)
PALMERINI_2020 = Source(
    "Palmerini, JACC Cardiovasc Interv 2020: wire-only delayed occlusions 5 min to 6 h after wire removal",
    Mark.SEEN,
)

HOURS = Range("time since the procedure", Decimal(0), Decimal(24 * 366 * 20), "h")


@dataclass(frozen=True, slots=True)
class Window:
    """A window after the procedure and how many of the 38 published obstructions fell in it."""

    name: str
    published: int
    source: Source = JABBOUR_2018


WITHIN_A_DAY = Window("at most 24 h", 18)
WITHIN_A_WEEK = Window("24 h to 7 d", 6)
BETWEEN = Window("7 d to 60 d", 0)
LATE = Window("60 d or later", 14)


def window(hours: Decimal | None) -> Window | Reason:
    """The window of an obstruction `hours` after the procedure; 24 h and 7 d belong to the earlier window."""
    checked = HOURS.check(hours)
    if isinstance(checked, Reason):
        return checked
    if checked <= 24:
        return WITHIN_A_DAY
    if checked <= 7 * 24:
        return WITHIN_A_WEEK
    return BETWEEN if checked < 60 * 24 else LATE
