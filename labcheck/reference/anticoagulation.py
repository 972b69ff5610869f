"""Heparin per kilogram, activated clotting time against a target, and the protamine ratio.

Ratios and standings are shown, never recommended. ACT targets differ between sources (200, 250 and 300 s), so
the target always comes from the checklist and this module only compares.
"""

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from labcheck.reference.figures import Figure, Range, Reason
from labcheck.reference.renal import WEIGHT
from labcheck.reference.sources import Mark, Source

AL_KASSOU_2023 = Source(
    "Al-Kassou, Clin Cardiol 2023 (1,446): full 0.9 to 1.0, partial 0.4 to 0.6 mg per 100 IU", Mark.SEEN
)
ACT_CONSENSUS_2012 = Source(
    "2012 expert consensus, 300 s or more, as quoted in two trial records", Mark.SECONDARY
)
ACT_LABS_250 = Source("ACT 250 s or more", Mark.COMMON_PRACTICE)
ACT_TRIAL_200 = Source("trial record: more than 200 s or 250 s, by procedure", Mark.SECONDARY)
BERNELLI_2014 = Source(
    "Bernelli, JACC Cardiovasc Interv 2014: baseline ACT 159.1 +/- 28.3 s, 30.4 % at 175 s or more", Mark.SEEN
)
HEPARIN_PER_KG = Source("heparin total over weight", Mark.DERIVED)
ACT_RECHECK = Source("recheck about 5 min after a bolus, then every 20 to 30 min", Mark.COMMON_PRACTICE)

HEPARIN_TOTAL = Range("heparin total", Decimal(0), Decimal(100_000), "IU")
PROTAMINE_TOTAL = Range("protamine total", Decimal(0), Decimal(1000), "mg")
ACT_SECONDS = Range("ACT", Decimal(50), Decimal(1500), "s")
ACT_TARGET = Range("ACT target", Decimal(100), Decimal(600), "s")
ACT_CEILING = Range("ACT ceiling", Decimal(100), Decimal(1500), "s")

RAISED_BASELINE_ACT_S = Decimal(175)
ACT_RECHECK_AFTER_BOLUS_MIN = Decimal(5)
ACT_RECHECK_EVERY_MIN = Decimal(20)


class ProtamineClass(StrEnum):
    """The dose classes of the one comparison found; anything between or beyond them was not studied there."""

    FULL = "full"
    PARTIAL = "partial"
    UNCLASSIFIED = "unclassified"


class ActStanding(StrEnum):
    """An ACT against the target and, where one is set, the ceiling of the checklist."""

    BELOW_TARGET = "below target"
    IN_RANGE = "in range"
    ABOVE_RANGE = "above range"


@dataclass(frozen=True, slots=True)
class ProtamineRatio:
    """Protamine in mg per 100 IU of all heparin given, and its class."""

    ratio: Figure
    dose_class: ProtamineClass


def heparin_per_kg(total_iu: Decimal | None, weight_kg: Decimal | None) -> Figure | Reason:
    """All heparin so far over body weight, in IU/kg."""
    total = HEPARIN_TOTAL.check(total_iu)
    if isinstance(total, Reason):
        return total
    weight = WEIGHT.check(weight_kg)
    if isinstance(weight, Reason):
        return weight
    return Figure(total / weight, "IU/kg", HEPARIN_PER_KG)


def protamine_ratio(protamine_mg: Decimal | None, heparin_iu: Decimal | None) -> ProtamineRatio | Reason:
    """Protamine per 100 IU of all heparin given, in mg/100 IU; the age of the last dose is not weighed in."""
    protamine = PROTAMINE_TOTAL.check(protamine_mg)
    if isinstance(protamine, Reason):
        return protamine
    heparin = HEPARIN_TOTAL.check(heparin_iu)
    if isinstance(heparin, Reason):
        return heparin
    if heparin == 0:
        return Reason("no heparin is recorded, so there is no protamine ratio")
    per_hundred = 100 * protamine

    # Cross-multiplied: a rounded quotient could fall on the wrong side of 0.9.
    def between(low: str, high: str) -> bool:
        return Decimal(low) * heparin <= per_hundred <= Decimal(high) * heparin

    if between("0.9", "1.0"):
        dose_class = ProtamineClass.FULL
    elif between("0.4", "0.6"):
        dose_class = ProtamineClass.PARTIAL
    else:
        dose_class = ProtamineClass.UNCLASSIFIED
    return ProtamineRatio(Figure(per_hundred / heparin, "mg/100 IU", AL_KASSOU_2023), dose_class)


def act_standing(
    act_s: Decimal | None, target_s: Decimal | None, ceiling_s: Decimal | None = None
) -> ActStanding | Reason:
    """An ACT in seconds against a target, reached at equality, and a ceiling, passed only above it."""
    act = ACT_SECONDS.check(act_s)
    if isinstance(act, Reason):
        return act
    target = ACT_TARGET.check(target_s)
    if isinstance(target, Reason):
        return target
    if act < target:
        return ActStanding.BELOW_TARGET
    if ceiling_s is None:
        return ActStanding.IN_RANGE
    ceiling = ACT_CEILING.check(ceiling_s)
    if isinstance(ceiling, Reason):
        return ceiling
    if ceiling < target:
        return Reason("the ACT ceiling is below the ACT target")
    return ActStanding.ABOVE_RANGE if act > ceiling else ActStanding.IN_RANGE


def baseline_act_is_raised(act_s: Decimal | None) -> bool | Reason:
    """Whether a baseline ACT is 175 s or more, as in three of ten patients of the published cohort."""
    act = ACT_SECONDS.check(act_s)
    return act if isinstance(act, Reason) else act >= RAISED_BASELINE_ACT_S
