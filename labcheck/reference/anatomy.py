"""Coronary obstruction anatomy from CT, one coronary at a time.

Papers differ on whether 4 mm itself is narrow, so the boundary signs are a setting and the raw millimetres
are always kept beside the type. A type describes anatomy: in one validation none of 30 "high risk" patients
obstructed.
"""

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from labcheck.reference.figures import Range, Reason
from labcheck.reference.sources import Mark, Source

TANG_2020 = Source("Tang, EuroIntervention 2020, type per coronary; boundaries", Mark.FROM_MEMORY)
HIGH_RISK_TYPES_SOURCE = Source("IIB, IIIB, IIIC as high risk: J Cardiovasc Comput Tomogr 2023", Mark.SEEN)
CUSP_RULE_2023 = Source(
    "PMC9991077, JACC Cardiovasc Interv (60 obstructed, 1,381 not): cusp above coronary height and "
    "(VTC at most 4 mm or leaflet calcium above 600 mm3)",
    Mark.SEEN,
)
FEATURES = Source(
    "review of safeguards and pitfalls, Ann Cardiothorac Surg: "
    "height at most 10, VTC at most 4, VTSTJ at most 2 mm",
    Mark.SEEN,
)
RIBEIRO_2013 = Source(
    "Ribeiro, JACC Cardiovasc Interv 2013: height below 12 and sinus below 30 mm", Mark.FROM_MEMORY
)

CORONARY_HEIGHT = Range("coronary height", Decimal(0), Decimal(40), "mm")
CUSP_HEIGHT = Range("cusp height", Decimal(0), Decimal(40), "mm")
STJ_HEIGHT = Range("sinotubular junction height", Decimal(5), Decimal(60), "mm")
SINUS_WIDTH = Range("sinus width", Decimal(15), Decimal(60), "mm")
# A simulated valve can reach past the wall, so these two distances may be below zero.
VTC = Range("valve-to-coronary distance", Decimal(-10), Decimal(30), "mm")
VTSTJ = Range("valve-to-sinotubular-junction distance", Decimal(-10), Decimal(30), "mm")
CALCIUM = Range("leaflet calcium", Decimal(0), Decimal(10_000), "mm3")


class ObstructionType(StrEnum):
    """The six types; `high_risk` is the set B and C."""

    I = "I"  # noqa: E741
    IIA = "IIA"
    IIB = "IIB"
    IIIA = "IIIA"
    IIIB = "IIIB"
    IIIC = "IIIC"

    @property
    def high_risk(self) -> bool:
        """Whether the type belongs to the published high-risk set."""
        return self in (ObstructionType.IIB, ObstructionType.IIIB, ObstructionType.IIIC)


class LeafletTop(StrEnum):
    """Where the top of the deflected leaflet is expected to come to lie."""

    BELOW_OSTIUM = "below ostium"
    BELOW_STJ = "above ostium, below sinotubular junction"
    ABOVE_STJ = "above sinotubular junction"


@dataclass(frozen=True, slots=True)
class Boundaries:
    """The two distances and on which side a value exactly on them falls. Defaults are those of Tang 2020."""

    vtc_mm: Decimal = Decimal(4)
    vtstj_mm: Decimal = Decimal(2)
    on_vtc_is_narrow: bool = True
    on_vtstj_is_narrow: bool = True
    level_leaflet_is_above: bool = False

    def narrow_vtc(self, vtc: Decimal) -> bool:
        """Whether a valve-to-coronary distance counts as narrow."""
        return vtc < self.vtc_mm or (self.on_vtc_is_narrow and vtc == self.vtc_mm)

    def narrow_vtstj(self, vtstj: Decimal) -> bool:
        """Whether a valve-to-junction distance counts as narrow."""
        return vtstj < self.vtstj_mm or (self.on_vtstj_is_narrow and vtstj == self.vtstj_mm)

    def above(self, top: Decimal, level: Decimal) -> bool:
        """Whether the leaflet top counts as above a level."""
        return top > level or (self.level_leaflet_is_above and top == level)


DEFAULT_BOUNDARIES = Boundaries()


def leaflet_top(
    cusp_height_mm: Decimal | None,
    coronary_height_mm: Decimal | None,
    stj_height_mm: Decimal | None,
    boundaries: Boundaries = DEFAULT_BOUNDARIES,
) -> LeafletTop | Reason:
    """Where the leaflet top lies, from three heights above the annulus in mm.

    The junction height is not needed when the leaflet stays below the ostium.
    """
    cusp = CUSP_HEIGHT.check(cusp_height_mm)
    if isinstance(cusp, Reason):
        return cusp
    coronary = CORONARY_HEIGHT.check(coronary_height_mm)
    if isinstance(coronary, Reason):
        return coronary
    if not boundaries.above(cusp, coronary):
        return LeafletTop.BELOW_OSTIUM
    junction = STJ_HEIGHT.check(stj_height_mm)
    if isinstance(junction, Reason):
        return junction
    return LeafletTop.ABOVE_STJ if boundaries.above(cusp, junction) else LeafletTop.BELOW_STJ


def obstruction_type(
    top: LeafletTop | Reason,
    vtc_mm: Decimal | None,
    vtstj_mm: Decimal | None,
    boundaries: Boundaries = DEFAULT_BOUNDARIES,
) -> ObstructionType | Reason:
    """The type of one coronary. Only what decides is asked for: nothing for I, VTSTJ alone for IIIC."""
    if isinstance(top, Reason):
        return top
    if top is LeafletTop.BELOW_OSTIUM:
        return ObstructionType.I
    if top is LeafletTop.ABOVE_STJ:
        vtstj = VTSTJ.check(vtstj_mm)
        if isinstance(vtstj, Reason):
            return vtstj
        if boundaries.narrow_vtstj(vtstj):
            return ObstructionType.IIIC
    vtc = VTC.check(vtc_mm)
    if isinstance(vtc, Reason):
        return vtc
    narrow = boundaries.narrow_vtc(vtc)
    if top is LeafletTop.BELOW_STJ:
        return ObstructionType.IIB if narrow else ObstructionType.IIA
    return ObstructionType.IIIB if narrow else ObstructionType.IIIA


def cusp_rule(
    cusp_height_mm: Decimal | None,
    coronary_height_mm: Decimal | None,
    vtc_mm: Decimal | None,
    calcium_mm3: Decimal | None,
) -> bool | Reason:
    """The PMC9991077 rule for native valves: positive when the cusp is taller than the coronary is high and
    VTC is at most 4 mm or leaflet calcium above 600 mm3. One may be missing when the other decides."""
    cusp = CUSP_HEIGHT.check(cusp_height_mm)
    if isinstance(cusp, Reason):
        return cusp
    coronary = CORONARY_HEIGHT.check(coronary_height_mm)
    if isinstance(coronary, Reason):
        return coronary
    if cusp <= coronary:
        return False
    vtc = VTC.check(vtc_mm)
    calcium = CALCIUM.check(calcium_mm3)
    if isinstance(vtc, Decimal) and vtc <= 4:
        return True
    if isinstance(calcium, Decimal) and calcium > 600:
        return True
    if isinstance(vtc, Reason):
        return vtc
    return calcium if isinstance(calcium, Reason) else False


@dataclass(frozen=True, slots=True)
class Feature:
    """One published high-risk feature that a measurement shows."""

    text: str
    source: Source


def high_risk_features(
    coronary_height_mm: Decimal | None,
    sinus_width_mm: Decimal | None,
    vtc_mm: Decimal | None,
    vtstj_mm: Decimal | None,
) -> tuple[Feature, ...]:
    """The published features present among the measurements given; a missing or odd one shows none."""
    found: list[Feature] = []
    height, sinus = CORONARY_HEIGHT.check(coronary_height_mm), SINUS_WIDTH.check(sinus_width_mm)
    vtc, vtstj = VTC.check(vtc_mm), VTSTJ.check(vtstj_mm)
    if isinstance(height, Decimal) and height <= 10:
        found.append(Feature("coronary height at most 10 mm", FEATURES))
    if isinstance(height, Decimal) and isinstance(sinus, Decimal) and height < 12 and sinus < 30:
        found.append(Feature("coronary height below 12 mm with sinus below 30 mm", RIBEIRO_2013))
    if isinstance(vtc, Decimal) and vtc <= 4:
        found.append(Feature("valve-to-coronary distance at most 4 mm", FEATURES))
    if isinstance(vtstj, Decimal) and vtstj <= 2:
        found.append(Feature("valve-to-sinotubular-junction distance at most 2 mm", FEATURES))
    return tuple(found)
