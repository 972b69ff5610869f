"""What the CT measurements of the plan say about each coronary: type, rule, features, and what is missing.

Computed when shown, kept nowhere. A type describes anatomy; it is no forecast and no advice.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from labcheck.caselog.citing import Told, cite, whole
from labcheck.checklist.plan import Coronary, Plan
from labcheck.checklist.words import Ostium
from labcheck.reference.anatomy import (
    CUSP_RULE_2023,
    DEFAULT_BOUNDARIES,
    HIGH_RISK_TYPES_SOURCE,
    TANG_2020,
    Boundaries,
    Feature,
    ObstructionType,
    cusp_rule,
    high_risk_features,
    leaflet_top,
    obstruction_type,
)
from labcheck.reference.figures import Reason

OSTIA: tuple[Ostium, ...] = ("left", "right")


@dataclass(frozen=True, slots=True)
class CoronaryAnatomy:
    """One coronary as its measurements describe it. ``rule`` is None where the rule was not made for the valve."""

    ostium: Ostium
    type: ObstructionType | Reason
    rule: bool | Reason | None
    features: tuple[Feature, ...]


def boundaries(plan: Plan) -> Boundaries:
    """The boundary signs of the plan, or those of the paper."""
    signs = plan.boundary_signs
    if signs is None:
        return DEFAULT_BOUNDARIES
    return Boundaries(
        on_vtc_is_narrow=signs.vtc_4_mm == "narrow",
        on_vtstj_is_narrow=signs.vtstj_2_mm == "narrow",
        level_leaflet_is_above=signs.level_leaflet == "above",
    )


def coronary_anatomy(plan: Plan) -> tuple[CoronaryAnatomy, ...]:
    """Each coronary that the plan measures, left first."""
    measured = {coronary.ostium: coronary for coronary in plan.coronaries}
    return tuple(_anatomy(plan, measured[ostium]) for ostium in OSTIA if ostium in measured)


def _anatomy(plan: Plan, c: Coronary) -> CoronaryAnatomy:
    signs = boundaries(plan)
    top = leaflet_top(c.cusp_height_mm, c.height_mm, c.stj_height_mm, signs)
    native = plan.substrate == "native"
    return CoronaryAnatomy(
        c.ostium,
        obstruction_type(top, c.vtc_mm, c.vtstj_mm, signs),
        cusp_rule(c.cusp_height_mm, c.height_mm, c.vtc_mm, c.leaflet_calcium_mm3) if native else None,
        high_risk_features(c.height_mm, c.sinus_width_mm, c.vtc_mm, c.vtstj_mm),
    )


def anatomy_lines(plan: Plan) -> tuple[Told, ...]:
    """The lines for the plan's screen: per coronary its type, the rule and the features, or what is missing."""
    return tuple(_lines(plan))


def _lines(plan: Plan) -> Iterator[Told]:
    known = {one.ostium: one for one in coronary_anatomy(plan)}
    for ostium in OSTIA:
        if ostium in known:
            yield _type_line(plan, known[ostium])
            yield _rule_line(plan, known[ostium])
            yield from _feature_lines(known[ostium])
        elif ostium in plan.targets:
            words = f"{ostium} coronary: no CT measurements recorded"
            yield Told(f"anatomy:{ostium}", words, missing=True)


def _type_line(plan: Plan, one: CoronaryAnatomy) -> Told:
    id_, who = f"anatomy:{one.ostium}", f"{one.ostium} coronary"
    if isinstance(one.type, Reason):
        return Told(id_, f"{who}: type not known: {one.type.text}", TANG_2020.line(), missing=True)
    risk = "high risk" if one.type.high_risk else "not of the high-risk types"
    signs = "" if boundaries(plan) == DEFAULT_BOUNDARIES else ", boundary signs set in the plan"
    return Told(
        id_,
        f"{who}: type {one.type.value}, {risk}{signs} {cite(TANG_2020)}",
        whole(TANG_2020, HIGH_RISK_TYPES_SOURCE),
        notice=one.type.high_risk,
    )


def _rule_line(plan: Plan, one: CoronaryAnatomy) -> Told:
    id_, who = f"rule:{one.ostium}", f"{one.ostium} coronary"
    source = CUSP_RULE_2023.line()
    if one.rule is None:
        words = (
            f"{who}: cusp rule is for native valves, not for a {plan.substrate} one {cite(CUSP_RULE_2023)}"
        )
        return Told(id_, words, source)
    if isinstance(one.rule, Reason):
        return Told(id_, f"{who}: cusp rule not known: {one.rule.text}", source, missing=True)
    found = (
        "positive: cusp above ostium, and VTC at most 4 mm or calcium above 600 mm3"
        if one.rule
        else "negative"
    )
    return Told(id_, f"{who}: cusp rule {found} {cite(CUSP_RULE_2023)}", source, notice=one.rule)


def _feature_lines(one: CoronaryAnatomy) -> Iterator[Told]:
    for number, feature in enumerate(one.features, 1):
        words = f"{one.ostium} coronary: {feature.text} {cite(feature.source)}"
        yield Told(f"feature:{one.ostium}:{number}", words, feature.source.line(), notice=True)
