"""Check values of bleeding and kidney injury."""

from decimal import Decimal

from labcheck.reference.bleeding import Bleed, HaemoglobinReading, Varc2Class, Varc3Type, varc2, varc3
from labcheck.reference.figures import Reason
from labcheck.reference.kidney_injury import aki_stage
from tests.reference.check import MEMORY, SEEN, Check, exact

D = Decimal
VARC = "VARC-3, Généreux 2021"
VARC2 = "VARC-2, Kappetein 2012"


def bled(bleed: Bleed, reading: HaemoglobinReading = HaemoglobinReading.OVERT_ONLY) -> Varc3Type | Reason:
    found = varc3(bleed, reading)
    return found if isinstance(found, Reason) else found.type


def drop(by: str) -> Bleed:
    return Bleed(overt=True, units=D(0), haemoglobin_drop=D(by))


def units(given: int) -> Bleed:
    return Bleed(overt=True, units=D(given), haemoglobin_drop=D(0))


def aki(
    peak_48h: str | None, peak_7d: str | None, baseline: str = "1.0", *, dialysis: bool = False
) -> int | Reason:
    found = aki_stage(
        D(baseline),
        D(peak_48h) if peak_48h else None,
        D(peak_7d) if peak_7d else None,
        "mg/dL",
        new_dialysis=dialysis,
    )
    return found if isinstance(found, Reason) else found.stage


def aki_umol(baseline: str, peak_48h: str) -> int | Reason:
    found = aki_stage(D(baseline), D(peak_48h), None, "umol/L")
    return found if isinstance(found, Reason) else found.stage


BLEEDING: tuple[Check, ...] = (
    exact("1 unit", lambda: bled(units(1)), Varc3Type.ONE, VARC, MEMORY),
    exact("2 units", lambda: bled(units(2)), Varc3Type.TWO, VARC, MEMORY),
    exact("4 units", lambda: bled(units(4)), Varc3Type.TWO, VARC, MEMORY),
    exact("5 units", lambda: bled(units(5)), Varc3Type.THREE, VARC, MEMORY),
    exact("drop 3.0 g/dL", lambda: bled(drop("3.0")), Varc3Type.NONE, VARC, MEMORY),
    exact("drop 3.1 g/dL", lambda: bled(drop("3.1")), Varc3Type.TWO, VARC, MEMORY),
    exact("drop 4.9 g/dL", lambda: bled(drop("4.9")), Varc3Type.TWO, VARC, MEMORY),
    exact("drop 5.0 g/dL", lambda: bled(drop("5.0")), Varc3Type.THREE, VARC, MEMORY),
    exact("fatal", lambda: bled(Bleed(overt=True, fatal=True)), Varc3Type.FOUR, VARC, MEMORY),
    exact(
        "drop 4 g/dL without a source, overt only",
        lambda: bled(Bleed(units=D(0), haemoglobin_drop=D(4))),
        Varc3Type.NONE,
        VARC,
        MEMORY,
    ),
    exact(
        "drop 4 g/dL without a source, any fall",
        lambda: bled(Bleed(units=D(0), haemoglobin_drop=D(4)), HaemoglobinReading.ANY_FALL),
        Varc3Type.TWO,
        "Nienaber, J Am Heart Assoc",
        SEEN,
    ),
    exact("earlier version: drop 3.0 g/dL", lambda: varc2(drop("3.0")), Varc2Class.MAJOR, VARC2, SEEN),
    exact("earlier version: 3 units", lambda: varc2(units(3)), Varc2Class.MAJOR, VARC2, SEEN),
    exact("earlier version: 4 units", lambda: varc2(units(4)), Varc2Class.LIFE_THREATENING, VARC2, SEEN),
    exact(
        "earlier version: drop 5.0 g/dL", lambda: varc2(drop("5.0")), Varc2Class.LIFE_THREATENING, VARC2, SEEN
    ),
)

MORE_BLEEDING: tuple[Check, ...] = (
    exact("the types in order", lambda: [int(one) for one in Varc3Type], [0, 1, 2, 3, 4], VARC, MEMORY),
    exact(
        "overt with medical care",
        lambda: bled(Bleed(overt=True, medical_care=True)),
        Varc3Type.ONE,
        VARC,
        MEMORY,
    ),
    exact("overt without care", lambda: bled(Bleed(overt=True)), Varc3Type.NONE, VARC, MEMORY),
    exact("severe", lambda: bled(Bleed(overt=True, severe=True)), Varc3Type.THREE, VARC, MEMORY),
    exact(
        "earlier version: severe",
        lambda: varc2(Bleed(overt=True, severe=True)),
        Varc2Class.LIFE_THREATENING,
        VARC2,
        SEEN,
    ),
    exact("earlier version: 2 units", lambda: varc2(units(2)), Varc2Class.MAJOR, VARC2, SEEN),
    exact("earlier version: 1 unit", lambda: varc2(units(1)), Varc2Class.MINOR, VARC2, SEEN),
    exact("earlier version: drop 2.9 g/dL", lambda: varc2(drop("2.9")), Varc2Class.MINOR, VARC2, SEEN),
    exact(
        "earlier version: drop 6 g/dL without a source",
        lambda: varc2(Bleed(haemoglobin_drop=D(6))),
        Varc2Class.NONE,
        VARC2,
        SEEN,
    ),
)

KIDNEY_INJURY: tuple[Check, ...] = (
    exact("baseline 310 umol/L, 354", lambda: aki_umol("310", "354"), 3, VARC, MEMORY),
    exact("baseline 311 umol/L, 354", lambda: aki_umol("311", "354"), 1, VARC, MEMORY),
    exact("baseline 309 umol/L, 353", lambda: aki_umol("309", "353"), 1, VARC, MEMORY),
    exact("baseline 1.0, 1.29 at 48 h", lambda: aki("1.29", "1.29"), 0, VARC, MEMORY),
    exact("baseline 1.0, 1.3 at 48 h", lambda: aki("1.3", "1.3"), 1, VARC, MEMORY),
    exact("baseline 1.0, 1.3 only by day 7", lambda: aki("1.2", "1.3"), 0, VARC, MEMORY),
    exact("baseline 1.0, 1.5 by day 7", lambda: aki("1.2", "1.5"), 1, VARC, MEMORY),
    exact("baseline 1.0, 1.49 by day 7", lambda: aki("1.2", "1.49"), 0, VARC, MEMORY),
    exact("baseline 1.0, 2.0", lambda: aki("1.2", "2.0"), 1, VARC, MEMORY),
    exact("baseline 1.0, 2.1", lambda: aki("1.2", "2.1"), 2, VARC, MEMORY),
    exact("baseline 1.0, 3.0", lambda: aki("1.2", "3.0"), 2, VARC, MEMORY),
    exact("baseline 1.0, 3.1", lambda: aki("1.2", "3.1"), 3, VARC, MEMORY),
    exact("baseline 3.5, 4.0", lambda: aki("4.0", "4.0", "3.5"), 3, VARC, MEMORY),
    exact("baseline 3.6, 4.0", lambda: aki("4.0", "4.0", "3.6"), 1, VARC, MEMORY),
    exact("new dialysis", lambda: aki("1.0", "1.0", dialysis=True), 4, VARC, MEMORY),
    exact("baseline 88 umol/L, 114.4 at 48 h", lambda: aki_umol("88", "114.4"), 1, VARC, MEMORY),
    exact("baseline 88 umol/L, 114.3 at 48 h", lambda: aki_umol("88", "114.3"), 0, VARC, MEMORY),
)

COMPLICATIONS: tuple[Check, ...] = (*BLEEDING, *MORE_BLEEDING, *KIDNEY_INJURY)
