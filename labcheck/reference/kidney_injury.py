"""Acute kidney injury stage by VARC-3. All arithmetic is decimal: 1.3 - 1.0 must be exactly 0.3."""

from dataclasses import dataclass
from decimal import Decimal

from labcheck.reference.figures import Reason
from labcheck.reference.renal import CREATININE_MG_DL, CREATININE_UMOL_L, CreatinineUnit
from labcheck.reference.sources import Mark, Source

VARC3_AKI = Source("VARC-3, Généreux 2021, acute kidney injury", Mark.FROM_MEMORY)


@dataclass(frozen=True, slots=True)
class _Thresholds:
    rise_48h: Decimal
    ceiling: Decimal
    ceiling_rise: Decimal


# The published micromole figures are rounded on their own and are not 88.4 times the milligram ones.
_THRESHOLDS = {
    "mg/dL": _Thresholds(Decimal("0.3"), Decimal("4.0"), Decimal("0.5")),
    "umol/L": _Thresholds(Decimal("26.4"), Decimal(354), Decimal(44)),
}


@dataclass(frozen=True, slots=True)
class AkiStage:
    """Stage 0 to 4. `final` is false while a peak is not known and could still raise the stage."""

    stage: int
    final: bool
    source: Source = VARC3_AKI


def aki_stage(
    baseline: Decimal | None,
    peak_48h: Decimal | None,
    peak_7d: Decimal | None,
    unit: CreatinineUnit | None,
    *,
    new_dialysis: bool = False,
) -> AkiStage | Reason:
    """The stage from creatinine before, its peak within 48 h and its peak within 7 days, all in `unit`.

    1: 1.5 to 2.0 times in 7 days, or a rise of 0.3 mg/dL (26.4 umol/L) in 48 h; 2: above 2.0 to 3.0 times;
    3: above 3.0 times, or at least 4.0 mg/dL (354) with a rise of at least 0.5 (44); 4: new dialysis.
    """
    if new_dialysis:
        return AkiStage(4, True)
    if unit not in _THRESHOLDS:
        return Reason("creatinine has no unit; give mg/dL or umol/L")
    accepted = CREATININE_MG_DL if unit == "mg/dL" else CREATININE_UMOL_L
    before = accepted.check(baseline)
    if isinstance(before, Reason):
        return Reason(f"baseline: {before.text}")
    peaks: list[Decimal] = []
    for name, value in (("peak within 48 h", peak_48h), ("peak within 7 days", peak_7d)):
        checked = None if value is None else accepted.check(value)
        if isinstance(checked, Reason):
            return Reason(f"{name}: {checked.text}")
        if checked is not None:
            peaks.append(checked)
    if not peaks:
        return Reason("no creatinine after the procedure is recorded")
    stage = _stage(before, peak_48h, max(peaks), _THRESHOLDS[unit])
    return AkiStage(stage, final=peak_48h is not None and peak_7d is not None)


def _stage(before: Decimal, peak_48h: Decimal | None, highest: Decimal, limits: _Thresholds) -> int:
    if highest > 3 * before or (highest >= limits.ceiling and highest - before >= limits.ceiling_rise):
        return 3
    if highest > 2 * before:
        return 2
    rose = peak_48h is not None and peak_48h - before >= limits.rise_48h
    return 1 if rose or 2 * highest >= 3 * before else 0
