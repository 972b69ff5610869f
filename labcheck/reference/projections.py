"""Projections perpendicular to the aortic annulus, and the views of each cusp on that curve.

Convention. Patient coordinates are LPS in mm: x to the patient's left, y to the back, z to the head. Angles
are signed degrees: LAO and cranial positive, RAO and caudal negative. A projection (a, b) is named by where
the detector stands as seen from the isocentre: v = (sin a cos b, -cos a cos b, sin b), so (0, 0) has the
detector in front of the chest, (90, 0) on the patient's left, and (0, 90) above the head. The patient lies
supine and square to the table; a rotated patient moves every angle.

A beam lies in the plane of the annulus when v is perpendicular to the annulus normal n, which gives one
cranial angle for every LAO angle: tan b = (n_y cos a - n_x sin a) / n_z.

On this curve, the front view of a cusp is the one in which its hinge point stands midway between the other
two, and the side view the one in which the other two hinge points lie over one another. Of the two opposite
directions the one with the detector in front of the patient is given. Angles come from hinge points alone;
a table, a chest or a detector may stand in the way, which `within_reach` tells only roughly.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from labcheck.reference.figures import Reason
from labcheck.reference.sources import Mark, Source

Cusp = Literal["left", "right", "non"]
CUSPS: tuple[Cusp, ...] = ("left", "right", "non")

GEOMETRY = Source("perpendicular projection from three hinge points, own geometry", Mark.DERIVED)
REACH = Source("C-arm reach about 90 degrees LAO or RAO, 45 degrees cranial or caudal", Mark.COMMON_PRACTICE)

REACH_LAO_DEG = 90.0
REACH_CRANIAL_DEG = 45.0
FARTHEST_MM = 5000.0
HINGE_SPACING_MM = (3.0, 80.0)
SMALLEST_SINE = 0.05
"""Three points flatter, or two projections closer, than about 3 degrees do not fix a plane."""


@dataclass(frozen=True, slots=True)
class Vector:
    """A direction or a point in LPS coordinates."""

    x: float
    y: float
    z: float

    def minus(self, other: "Vector") -> "Vector":
        """This point as seen from the other."""
        return Vector(self.x - other.x, self.y - other.y, self.z - other.z)

    def times(self, factor: float) -> "Vector":
        """The vector stretched by a factor."""
        return Vector(self.x * factor, self.y * factor, self.z * factor)

    def dot(self, other: "Vector") -> float:
        """The scalar product."""
        return self.x * other.x + self.y * other.y + self.z * other.z

    def cross(self, other: "Vector") -> "Vector":
        """The vector product."""
        return Vector(
            self.y * other.z - self.z * other.y,
            self.z * other.x - self.x * other.z,
            self.x * other.y - self.y * other.x,
        )

    def length(self) -> float:
        """The length in the units of the coordinates."""
        return math.hypot(self.x, self.y, self.z)


@dataclass(frozen=True, slots=True)
class Projection:
    """A C-arm position in signed degrees: LAO and cranial positive."""

    lao_deg: float
    cranial_deg: float

    def direction(self) -> Vector:
        """The unit vector from the isocentre to the detector."""
        lao, cranial = math.radians(self.lao_deg), math.radians(self.cranial_deg)
        return Vector(
            math.sin(lao) * math.cos(cranial), -math.cos(lao) * math.cos(cranial), math.sin(cranial)
        )

    @property
    def within_reach(self) -> bool:
        """Whether a C-arm can usually be put there."""
        return abs(self.lao_deg) <= REACH_LAO_DEG and abs(self.cranial_deg) <= REACH_CRANIAL_DEG

    def text(self) -> str:
        """In the words of the room, in whole degrees: `RAO 12 CAU 20`, `AP CAU 5`, `LAO 30`, `AP`."""
        lao, cranial = round(self.lao_deg), round(self.cranial_deg)
        side = f"LAO {lao}" if lao > 0 else f"RAO {-lao}" if lao < 0 else "AP"
        tilt = f" CRA {cranial}" if cranial > 0 else f" CAU {-cranial}" if cranial < 0 else ""
        return side + tilt


@dataclass(frozen=True, slots=True)
class Views:
    """The two views of one cusp on the perpendicular curve."""

    front: Projection
    side: Projection


@dataclass(frozen=True, slots=True)
class Annulus:
    """The annulus plane: its unit normal, pointing to the head."""

    normal: Vector

    def cranial_at(self, lao_deg: float) -> float | Reason:
        """The cranial (positive) or caudal angle, -90 to 90, that makes LAO `lao_deg` perpendicular."""
        if not math.isfinite(lao_deg) or abs(lao_deg) > 180:
            return Reason("the LAO or RAO angle must lie between -180 and 180 degrees")
        lao = math.radians(lao_deg)
        across = self.normal.y * math.cos(lao) - self.normal.x * math.sin(lao)
        return math.degrees(math.atan2(across, self.normal.z))

    def curve(self, step_deg: int = 1) -> tuple[Projection, ...]:
        """The perpendicular curve from RAO 90 to LAO 90, every `step_deg` degrees."""
        points = []
        for lao in range(-90, 91, max(1, step_deg)):
            cranial = self.cranial_at(lao)
            if not isinstance(cranial, Reason):
                points.append(Projection(lao, cranial))
        return tuple(points)

    def off_perpendicular(self, used: Projection) -> float | Reason:
        """How far the beam of a projection is out of the annulus plane, 0 to 90 degrees."""
        checked = plausible(used)
        if isinstance(checked, Reason):
            return checked
        beam = used.direction()
        out = abs(beam.dot(self.normal))
        return math.degrees(math.atan2(out, beam.cross(self.normal).length()))


def plausible(projection: Projection) -> Projection | Reason:
    """The projection when a C-arm could be set to it, else the reason."""
    lao, cranial = projection.lao_deg, projection.cranial_deg
    if not (math.isfinite(lao) and math.isfinite(cranial)):
        return Reason("a projection needs two finite angles in degrees")
    if not projection.within_reach:
        return Reason(
            f"LAO/RAO {lao:.6g}, cranial/caudal {cranial:.6g} is outside {REACH_LAO_DEG:g} and "
            f"{REACH_CRANIAL_DEG:g} degrees; check the signs (LAO and cranial are positive)"
        )
    return projection


def annulus_from_hinges(hinges: Mapping[Cusp, Vector]) -> Annulus | Reason:
    """The annulus through the three cusp hinge points, LPS in mm."""
    for cusp in CUSPS:
        point = hinges.get(cusp)
        if point is None:
            return Reason(f"the hinge point of the {cusp} cusp is not recorded")
        if not all(math.isfinite(c) and abs(c) <= FARTHEST_MM for c in (point.x, point.y, point.z)):
            return Reason(f"the hinge point of the {cusp} cusp is not a position in mm")
    left, right, non = (hinges[cusp] for cusp in CUSPS)
    sides = (right.minus(left), non.minus(right), left.minus(non))
    shortest, longest = HINGE_SPACING_MM
    if not all(shortest <= side.length() <= longest for side in sides):
        return Reason(
            f"the hinge points must lie {shortest:g} to {longest:g} mm apart; check that they are in mm"
        )
    return _plane(sides[0], sides[2], "the three hinge points lie almost on one line")


def annulus_from_projections(first: Projection, second: Projection) -> Annulus | Reason:
    """The annulus perpendicular to two known projections. Cusp views need the hinge points instead."""
    for projection in (first, second):
        checked = plausible(projection)
        if isinstance(checked, Reason):
            return checked
    return _plane(first.direction(), second.direction(), "the two projections are too close to each other")


def _plane(first: Vector, second: Vector, flat: str) -> Annulus | Reason:
    normal = first.cross(second)
    if normal.length() < SMALLEST_SINE * first.length() * second.length():
        return Reason(flat)
    normal = normal.times(1 / normal.length())
    if abs(normal.z) < SMALLEST_SINE:
        return Reason("the annulus stands almost upright; no cranial angle follows from the LAO angle")
    return Annulus(normal if normal.z > 0 else normal.times(-1))


def cusp_views(hinges: Mapping[Cusp, Vector]) -> Mapping[Cusp, Views] | Reason:
    """Front and side view of each cusp on the perpendicular curve, from the three hinge points."""
    annulus = annulus_from_hinges(hinges)
    if isinstance(annulus, Reason):
        return annulus
    views: dict[Cusp, Views] = {}
    for cusp in CUSPS:
        one, other = (hinges[c] for c in CUSPS if c != cusp)
        midway = one.minus(other.times(-1)).times(0.5)
        views[cusp] = Views(_seen_along(hinges[cusp].minus(midway)), _seen_along(one.minus(other)))
    return views


def label_doubt(hinges: Mapping[Cusp, Vector]) -> Reason | None:
    """A doubt about the cusp labels: seen from the head, left, right and non follow one another clockwise.

    Two labels exchanged give views that look right and are wrong, so the order is worth a look. None when the
    order is as expected or there is no plane to judge it on.
    """
    annulus = annulus_from_hinges(hinges)
    if isinstance(annulus, Reason):
        return None
    left, right, non = (hinges[cusp] for cusp in CUSPS)
    if right.minus(left).cross(non.minus(left)).dot(annulus.normal) < 0:
        return None
    return Reason("the cusps do not follow in the usual order left, right, non; check the labels")


def _seen_along(line: Vector) -> Projection:
    """The projection that looks along a line with the detector in front of the patient."""
    # A line exactly from side to side has no front; LAO 90 is taken rather than RAO 90.
    toward_front = line if (line.y, -line.x) < (0.0, 0.0) else line.times(-1)
    lao = math.degrees(math.atan2(toward_front.x, -toward_front.y))
    cranial = math.degrees(math.atan2(toward_front.z, math.hypot(toward_front.x, toward_front.y)))
    return Projection(lao, cranial)


def off_planned(used: Projection, planned: Projection) -> float | Reason:
    """The angle in degrees between the beam used and the beam planned."""
    for projection in (used, planned):
        checked = plausible(projection)
        if isinstance(checked, Reason):
            return checked
    one, other = used.direction(), planned.direction()
    return math.degrees(math.atan2(one.cross(other).length(), one.dot(other)))
