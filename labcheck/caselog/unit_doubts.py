"""Doubts about a unit: two readings that cannot both be right, told once and then accepted, never in the way."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal

from labcheck.caselog.case import Case, Timed
from labcheck.caselog.clockwords import MINUTE
from labcheck.caselog.events import ReadingTaken
from labcheck.caselog.stamps import Moment, span
from labcheck.caselog.tallies import in_time
from labcheck.checklist import finding
from labcheck.checklist.model import Reading
from labcheck.reference.figures import Figure, Reason
from labcheck.reference.radiation import (
    AIR_KERMA_IN_MGY,
    KAP_IN_GY_CM2,
    air_kerma_mgy,
    kap_gy_cm2,
    unit_doubt,
    unit_spelling,
)

TOGETHER_US = 10 * MINUTE
"""Both counters run on, so only readings taken about together can be held against each other (own choice)."""

_PAIRS = ((KAP_IN_GY_CM2, AIR_KERMA_IN_MGY), (AIR_KERMA_IN_MGY, KAP_IN_GY_CM2))


def radiation_doubt(
    case: Case, reading: Reading, value: Decimal | None, unit: str | None, at: Moment
) -> str | None:
    """Why a kerma-area product or air kerma does not fit the other one, or None.

    Only where the other was read within ten minutes; a quotient that no detector field could give is a sign
    of a wrong unit or a slipped digit in one of the two.
    """
    for own, other in _PAIRS:
        if not _counts_in(reading, own):
            continue
        partner = _latest(case, other, at)
        if partner is None:
            return None
        kap, kerma = _figure(value, unit or reading.unit), _figure(partner.what.value, partner.what.unit)
        if own is AIR_KERMA_IN_MGY:
            kap, kerma = kerma, kap
        doubt = unit_doubt(kap, kerma)
        return None if doubt is None else doubt.text
    return None


def _counts_in(reading: Reading | None, family: Mapping[str, Decimal]) -> bool:
    return reading is not None and unit_spelling(reading.unit or "") in family


def _figure(value: Decimal | None, unit: str | None) -> Figure | Reason:
    in_kap = unit_spelling(unit or "") in KAP_IN_GY_CM2
    return kap_gy_cm2(value, unit) if in_kap else air_kerma_mgy(value, unit)


def _latest(case: Case, family: Mapping[str, Decimal], at: Moment) -> Timed[ReadingTaken] | None:
    taken = [r for r in case.readings if _counts_in(finding.reading(case.checklist, r.what.reading), family)]
    near = [r for r in in_time(case, taken) if abs(span(r.at, at).us) <= TOGETHER_US]
    return near[-1] if near else None
