"""Contrast medium against its published limits, in mL.

Every limit is a level at which a prompt may appear; none says what to do. Published multiples of clearance
differ (2, 3, 3.7, 4 and 6.15 have all been proposed), so each limit keeps the name of its paper.
"""

from decimal import Decimal

from labcheck.reference import renal
from labcheck.reference.figures import Figure, Range, Reason
from labcheck.reference.sources import Mark, Source

CIGARROA_1989 = Source(
    "Cigarroa, Am J Med 1989: 5 mL x kg / creatinine (mg/dL), at most 300 mL; "
    "nephropathy 2/86 within and 6/29 over",
    Mark.SEEN,
)
GURM_2011_TWO = Source("Gurm, J Am Coll Cardiol 2011 (58,957): keep below 2 x clearance", Mark.SEEN)
GURM_2011_THREE = Source("Gurm, J Am Coll Cardiol 2011 (58,957): not above 3 x clearance", Mark.SEEN)
LASKEY_2007 = Source("Laskey, J Am Coll Cardiol 2007: 3.7 x clearance", Mark.FROM_MEMORY)

CIGARROA_CAP_ML = Decimal(300)
CIGARROA_ML_PER_KG = Decimal(5)

CLEARANCE_MULTIPLES: dict[Decimal, Source] = {
    Decimal("2.0"): GURM_2011_TWO,
    Decimal("3.0"): GURM_2011_THREE,
    Decimal("3.7"): LASKEY_2007,
}

VOLUME = Range("contrast volume", Decimal(0), Decimal(2000), "mL")


def cigarroa_limit(
    weight_kg: Decimal | None, creatinine: Decimal | None, unit: renal.CreatinineUnit | None
) -> Figure | Reason:
    """The Cigarroa limit in mL: 5 x kg / creatinine in mg/dL, never more than 300."""
    weight = renal.WEIGHT.check(weight_kg)
    if isinstance(weight, Reason):
        return weight
    serum = renal.creatinine_mg_dl(creatinine, unit)
    if isinstance(serum, Reason):
        return serum
    return Figure(min(CIGARROA_CAP_ML, CIGARROA_ML_PER_KG * weight / serum), "mL", CIGARROA_1989)


def clearance_limit(multiple: Decimal, clearance: Figure | Reason) -> Figure | Reason:
    """A published multiple (2.0, 3.0 or 3.7) of Cockcroft-Gault clearance, in mL.

    A filtration figure is refused: the multiples were derived on clearance, and the two can differ by half.
    """
    if isinstance(clearance, Reason):
        return clearance
    if clearance.unit != renal.CLEARANCE_UNIT:
        return Reason(f"needs clearance in {renal.CLEARANCE_UNIT}, not {clearance.unit}")
    source = CLEARANCE_MULTIPLES.get(multiple) if multiple.is_finite() else None
    if source is None:
        known = ", ".join(str(m) for m in CLEARANCE_MULTIPLES)
        return Reason(f"no published source for this multiple of clearance; known are {known}")
    return Figure(multiple * clearance.value, "mL", source)


def clearance_ratio(volume_ml: Decimal | None, clearance: Figure | Reason) -> Figure | Reason:
    """Contrast volume over Cockcroft-Gault clearance; the multiples are limits of this ratio."""
    if isinstance(clearance, Reason):
        return clearance
    if clearance.unit != renal.CLEARANCE_UNIT:
        return Reason(f"needs clearance in {renal.CLEARANCE_UNIT}, not {clearance.unit}")
    volume = VOLUME.check(volume_ml)
    if isinstance(volume, Reason):
        return volume
    if clearance.value <= 0:
        return Reason("clearance is not above zero")
    return Figure(volume / clearance.value, "x clearance", clearance.source)
