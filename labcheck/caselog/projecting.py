"""Projections: what the plan offers for each target cusp, and how far a view used is off.

The annulus comes from the three hinge points of the plan, or from two projections known to be perpendicular
to it. Both views of a cusp need the hinge points. A view planned by hand wins over a computed one.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from labcheck.caselog.citing import Told, cite
from labcheck.checklist.plan import Plan
from labcheck.checklist.words import CUSP_WORDS, Cusp
from labcheck.reference import projections as geometry
from labcheck.reference.figures import Reason
from labcheck.reference.projections import Annulus, Projection, Vector
from labcheck.reference.sources import Mark, Source

View = Literal["front", "side"]
VIEWS: tuple[View, View] = ("front", "side")
HINGED: Mapping[Cusp, geometry.Cusp] = {"left": "left", "right": "right", "noncoronary": "non"}
"""The cusps that have a hinge point, in the words of the geometry."""

GEOMETRY = Source("own geometry of the annulus plane, patient square to the table", Mark.DERIVED)

CURVE_AT = (-30, -15, 0, 15, 30)
"""Where the perpendicular curve is told, degrees LAO positive."""

STEP_WORDS: Mapping[str, View] = {"front": "front", "side": "side"}
"""A projection step whose id begins so asks for that view."""


@dataclass(frozen=True, slots=True)
class Offered:
    """A view of one cusp to aim for. ``planned``: typed into the plan, else computed from the hinge points."""

    cusp: Cusp
    view: View
    projection: Projection
    planned: bool

    def typed(self) -> str:
        """As a step or a plan takes it: two signed whole degrees, LAO and cranial positive."""
        return f"{round(self.projection.lao_deg)} {round(self.projection.cranial_deg)}"


def hinge_points(plan: Plan) -> Mapping[geometry.Cusp, Vector]:
    """The hinge points that the plan gives, LPS in mm."""
    return {HINGED[h.cusp]: Vector(float(h.x_mm), float(h.y_mm), float(h.z_mm)) for h in plan.hinges}


def annulus(plan: Plan) -> Annulus | Reason:
    """The annulus plane: by the hinge points where any is given, else by the perpendicular projections."""
    if plan.hinges:
        return geometry.annulus_from_hinges(hinge_points(plan))
    known = [Projection(float(p.rao_lao_deg), float(p.cau_cra_deg)) for p in plan.perpendicular]
    if len(known) == 2:
        return geometry.annulus_from_projections(known[0], known[1])
    if known:
        return Reason("a second projection perpendicular to the annulus is not recorded")
    return Reason("neither hinge points nor perpendicular projections are recorded")


def computed_views(plan: Plan) -> tuple[Offered, ...] | Reason:
    """Front and side view of each target cusp on the perpendicular curve, from the hinge points."""
    if not plan.hinges:
        return Reason("the views of a cusp need its hinge points")
    views = geometry.cusp_views(hinge_points(plan))
    if isinstance(views, Reason):
        return views
    return tuple(
        Offered(cusp, view, views[HINGED[cusp]].front if view == "front" else views[HINGED[cusp]].side, False)
        for cusp in plan.targets
        if cusp in HINGED
        for view in VIEWS
    )


def offered(plan: Plan, cusp: Cusp, view: View) -> Offered | None:
    """The view to aim for: as planned, else as computed, else none."""
    for own in plan.projections:
        if (own.cusp, own.view) == (cusp, view):
            return Offered(cusp, view, Projection(float(own.rao_lao_deg), float(own.cau_cra_deg)), True)
    computed = computed_views(plan)
    if isinstance(computed, Reason):
        return None
    return next((one for one in computed if (one.cusp, one.view) == (cusp, view)), None)


def view_of_step(step_id: str) -> View | None:
    """Which view a projection step asks for, by the first word of its id ("front_view")."""
    return STEP_WORDS.get(step_id.partition("_")[0])


def projection_of(value: str) -> Projection | None:
    """A step's answer "-20 15" as a projection; None where it is none."""
    parts = value.split()
    if len(parts) != 2:
        return None
    try:
        lao, cranial = (float(Decimal(part)) for part in parts)
    except (ArithmeticError, ValueError):
        return None
    found = geometry.plausible(Projection(lao, cranial))
    return found if isinstance(found, Projection) else None


def off_words(plan: Plan, cusp: Cusp | None, view: View | None, used: Projection) -> str:
    """How far a projection used is off, "7 deg off planned, 3 deg off perpendicular"; empty where not known."""
    parts = []
    aim = offered(plan, cusp, view) if cusp is not None and view is not None else None
    if aim is not None:
        off = geometry.off_planned(used, aim.projection)
        if not isinstance(off, Reason):
            parts.append(
                f"{off:.0f} deg off {'planned' if aim.planned else 'computed'} {aim.projection.text()}"
            )
    plane = annulus(plan)
    if isinstance(plane, Annulus):
        off = plane.off_perpendicular(used)
        if not isinstance(off, Reason):
            parts.append(f"{off:.0f} deg off perpendicular")
    return ", ".join(parts)


def projection_lines(plan: Plan) -> tuple[Told, ...]:
    """The views offered for the target cusps, the curve, and doubts, for the plan's screen."""
    if not (plan.hinges or plan.perpendicular):
        return ()
    return tuple(_lines(plan))


def _lines(plan: Plan) -> Iterator[Told]:
    doubt = geometry.label_doubt(hinge_points(plan))
    if doubt is not None:
        yield Told("projections:labels", f"hinge points: {doubt.text}", notice=True)
    plane = annulus(plan)
    if isinstance(plane, Reason):
        wanting = plane.text.replace("the non cusp", "the non-coronary cusp")
        yield Told("projections", f"projections not known: {wanting}", missing=True)
        return
    computed = computed_views(plan)
    for one in computed if not isinstance(computed, Reason) else ():
        yield _offer_line(plan, one)
    curve = "; ".join(_curve_words(plane, lao) for lao in CURVE_AT)
    yield Told("projections:curve", f"perpendicular: {curve} {cite(GEOMETRY)}", GEOMETRY.line())
    if isinstance(computed, Reason):
        yield Told("projections:views", f"front and side views not known: {computed.text}", missing=True)


def _offer_line(plan: Plan, one: Offered) -> Told:
    words = f"{CUSP_WORDS[one.cusp]} cusp, {one.view} view: {one.projection.text()}"
    if not one.projection.within_reach:
        words += ", out of usual reach"
    own = offered(plan, one.cusp, one.view)
    if own is not None and own.planned:
        off = geometry.off_planned(own.projection, one.projection)
        if not isinstance(off, Reason):
            words += f"; planned {own.projection.text()}, {off:.0f} deg away"
    return Told(f"view:{one.cusp}:{one.view}", f"{words} {cite(GEOMETRY)}", GEOMETRY.line())


def _curve_words(plane: Annulus, lao_deg: int) -> str:
    cranial = plane.cranial_at(lao_deg)
    if isinstance(cranial, Reason):
        return cranial.text
    point = Projection(lao_deg, cranial)
    return point.text() if point.within_reach else f"{point.text()} out of reach"
