"""Kidney function from creatinine: filtration (CKD-EPI 2021) and clearance (Cockcroft-Gault).

The two answer different questions and differ in unit: filtration is per 1.73 m2 of body surface, clearance is
not. Contrast limits that are multiples of clearance were derived with Cockcroft-Gault and refuse filtration.
"""

from decimal import Decimal
from typing import Literal

from labcheck.reference.figures import Figure, Range, Reason
from labcheck.reference.sources import Mark, Source

Sex = Literal["female", "male"]
CreatinineUnit = Literal["mg/dL", "umol/L"]

UMOL_PER_L_IN_ONE_MG_PER_DL = Decimal("88.4")
"""1 mg/dL of creatinine = 88.4 umol/L. Some codes use 88.42; the effect on filtration is 0.02."""

CLEARANCE_UNIT = "mL/min"
FILTRATION_UNIT = "mL/min/1.73 m2"

CKD_EPI_2021 = Source("Inker, N Engl J Med 2021, CKD-EPI creatinine equation without race", Mark.SECONDARY)
COCKCROFT_GAULT = Source("Cockcroft, Nephron 1976, actual body weight", Mark.SECONDARY)

AGE = Range("age", Decimal(18), Decimal(110), "years")
WEIGHT = Range("weight", Decimal(25), Decimal(300), "kg")
HEIGHT = Range("height", Decimal(100), Decimal(230), "cm")

# The two creatinine ranges do not overlap, so no number is plausible in both units:
# a value entered with the wrong unit becomes a reason instead of a wrong clearance.
CREATININE_MG_DL = Range("creatinine", Decimal("0.2"), Decimal("17.9"), "mg/dL")
CREATININE_UMOL_L = Range("creatinine", Decimal(18), Decimal(1600), "umol/L")


def creatinine_mg_dl(value: Decimal | None, unit: CreatinineUnit | None) -> Decimal | Reason:
    """Creatinine in mg/dL from a value in either unit, or why not."""
    if value is None:
        return Reason("creatinine is not recorded")
    if unit == "mg/dL":
        return CREATININE_MG_DL.check(value)
    if unit == "umol/L":
        checked = CREATININE_UMOL_L.check(value)
        return checked if isinstance(checked, Reason) else checked / UMOL_PER_L_IN_ONE_MG_PER_DL
    return Reason("creatinine has no unit; give mg/dL or umol/L")


def creatinine_umol_l(value: Decimal | None, unit: CreatinineUnit | None) -> Decimal | Reason:
    """Creatinine in umol/L from a value in either unit, or why not."""
    in_mg = creatinine_mg_dl(value, unit)
    if isinstance(in_mg, Reason):
        return in_mg
    return in_mg * UMOL_PER_L_IN_ONE_MG_PER_DL


def filtration(
    age_years: Decimal | None, sex: Sex | None, creatinine: Decimal | None, unit: CreatinineUnit | None
) -> Figure | Reason:
    """Estimated glomerular filtration in mL/min/1.73 m2 by CKD-EPI 2021.

    142 x min(Scr/k, 1)^a x max(Scr/k, 1)^-1.200 x 0.9938^age, x 1.012 for women;
    k 0.7 and a -0.241 for women, k 0.9 and a -0.302 for men. Adults only.
    """
    age = AGE.check(age_years)
    if isinstance(age, Reason):
        return age
    serum = creatinine_mg_dl(creatinine, unit)
    if isinstance(serum, Reason):
        return serum
    if sex == "female":
        knee, slope, factor = Decimal("0.7"), Decimal("-0.241"), Decimal("1.012")
    elif sex == "male":
        knee, slope, factor = Decimal("0.9"), Decimal("-0.302"), Decimal(1)
    else:
        return Reason("sex is not recorded; the equation needs female or male")
    relative = serum / knee
    below = min(relative, Decimal(1)) ** slope
    above = max(relative, Decimal(1)) ** Decimal("-1.200")
    value = 142 * below * above * Decimal("0.9938") ** age * factor
    return Figure(value, FILTRATION_UNIT, CKD_EPI_2021)


def clearance(
    age_years: Decimal | None,
    weight_kg: Decimal | None,
    sex: Sex | None,
    creatinine: Decimal | None,
    unit: CreatinineUnit | None,
) -> Figure | Reason:
    """Creatinine clearance in mL/min by Cockcroft-Gault: (140 - age) x kg / (72 x Scr), x 0.85 for women."""
    age = AGE.check(age_years)
    if isinstance(age, Reason):
        return age
    weight = WEIGHT.check(weight_kg)
    if isinstance(weight, Reason):
        return weight
    serum = creatinine_mg_dl(creatinine, unit)
    if isinstance(serum, Reason):
        return serum
    if sex not in ("female", "male"):
        return Reason("sex is not recorded; the formula needs female or male")
    value = (140 - age) * weight / (72 * serum)
    return Figure(value * Decimal("0.85") if sex == "female" else value, CLEARANCE_UNIT, COCKCROFT_GAULT)
