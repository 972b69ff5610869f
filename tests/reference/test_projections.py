"""Projections against closed forms, and against a numeric search that shares no code with them.

The search knows nothing of normals: it turns the three hinge points as a C-arm would be turned, projects them on a
detector, and halves angles until the picture is right (the three points on one line, the cusp midway, the other
two over one another).
"""

import math

import numpy as np
import numpy.typing as npt
import pytest

from labcheck.reference.figures import Reason
from labcheck.reference.projections import (
    CUSPS,
    Annulus,
    Cusp,
    Projection,
    Vector,
    annulus_from_hinges,
    annulus_from_projections,
    cusp_views,
    label_doubt,
    off_planned,
)

Array = npt.NDArray[np.float64]
ANNULI = 10_000
NEAR_DEG = 0.01

FLAT: dict[Cusp, Vector] = {
    "right": Vector(0, -13, 0),
    "left": Vector(13 * math.cos(math.radians(30)), 6.5, 0),
    "non": Vector(-13 * math.cos(math.radians(30)), 6.5, 0),
}
"""A level annulus with the right cusp straight in front."""


def tilted(degrees: float) -> dict[Cusp, Vector]:
    """The level annulus turned about the left-right axis, its front edge down for positive degrees."""
    cos, sin = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    return {c: Vector(p.x, p.y * cos - p.z * sin, p.y * sin + p.z * cos) for c, p in FLAT.items()}


def annulus(hinges: dict[Cusp, Vector]) -> Annulus:
    found = annulus_from_hinges(hinges)
    assert isinstance(found, Annulus)
    return found


def test_a_level_annulus_is_perpendicular_without_any_tilt() -> None:
    assert all(point.cranial_deg == pytest.approx(0, abs=1e-12) for point in annulus(FLAT).curve())
    assert len(annulus(FLAT).curve()) == 181


@pytest.mark.parametrize("tilt", [-30.0, -10.0, 5.0, 25.0])
def test_an_annulus_tilted_forward_is_perpendicular_at_that_tilt_in_front(tilt: float) -> None:
    found = annulus(tilted(tilt))
    assert found.cranial_at(0) == pytest.approx(-tilt)
    assert found.cranial_at(90) == pytest.approx(0, abs=1e-9)
    assert found.cranial_at(60) == pytest.approx(-math.degrees(math.atan(math.tan(math.radians(tilt)) / 2)))


def test_the_views_of_a_level_annulus_are_those_of_a_triangle() -> None:
    views = cusp_views(FLAT)
    assert not isinstance(views, Reason)
    expected = {"right": (0, 90), "left": (-60, 30), "non": (60, -30)}
    for cusp, (front, side) in expected.items():
        assert views[cusp].front.lao_deg == pytest.approx(front, abs=1e-9)  # type: ignore[index]
        assert views[cusp].side.lao_deg == pytest.approx(side, abs=1e-9)  # type: ignore[index]


def test_an_annulus_that_leans_right_and_forward_gives_the_usual_quadrants() -> None:
    """Left cusp: front view RAO caudal, side view LAO cranial; right cusp: side view RAO caudal."""
    lean = {c: Vector(p.x, p.y, 0.6 * p.x - 0.15 * p.y) for c, p in FLAT.items()}
    views = cusp_views(lean)
    assert not isinstance(views, Reason)
    assert views["left"].front.lao_deg < 0 > views["left"].front.cranial_deg
    assert views["left"].side.lao_deg > 0 < views["left"].side.cranial_deg
    assert views["non"].side.lao_deg < 0 > views["non"].side.cranial_deg


@pytest.mark.parametrize(
    ("lao", "cranial", "expected"),
    [(0, 0, (0, -1, 0)), (90, 0, (1, 0, 0)), (-90, 0, (-1, 0, 0)), (0, 90, (0, 0, 1)), (0, -90, (0, 0, -1))],
)
def test_the_detector_stands_where_the_angles_say(
    lao: float, cranial: float, expected: tuple[float, float, float]
) -> None:
    found = Projection(lao, cranial).direction()
    assert (found.x, found.y, found.z) == pytest.approx(expected, abs=1e-12)


def test_two_perpendicular_projections_give_back_the_annulus() -> None:
    known = annulus(tilted(20))
    curve = known.curve()
    found = annulus_from_projections(curve[40], curve[130])
    assert isinstance(found, Annulus)
    assert (found.normal.x, found.normal.y, found.normal.z) == pytest.approx(
        (known.normal.x, known.normal.y, known.normal.z), abs=1e-12
    )


def test_a_projection_ten_degrees_off_the_curve_of_a_level_annulus_is_ten_degrees_off_perpendicular() -> None:
    assert annulus(FLAT).off_perpendicular(Projection(33, 10)) == pytest.approx(10)
    assert annulus(FLAT).off_perpendicular(Projection(-71, -10)) == pytest.approx(10)
    assert annulus(tilted(20)).off_perpendicular(Projection(0, -20)) == pytest.approx(0, abs=1e-6)


def test_the_angle_off_the_planned_projection_is_that_between_the_beams() -> None:
    assert off_planned(Projection(10, 0), Projection(-5, 0)) == pytest.approx(15)
    assert off_planned(Projection(0, 20), Projection(0, -5)) == pytest.approx(25)
    assert off_planned(Projection(12, -7), Projection(12, -7)) == pytest.approx(0, abs=1e-9)
    # 30 degrees of rotation are fewer degrees of beam when the arm is tilted: 2 asin(sin 15 cos 40).
    assert off_planned(Projection(0, 40), Projection(30, 40)) == pytest.approx(
        2 * math.degrees(math.asin(math.sin(math.radians(15)) * math.cos(math.radians(40))))
    )


@pytest.mark.parametrize(
    ("projection", "words"),
    [((0, 0), "AP"), ((-12.4, -20), "RAO 12 CAU 20"), ((30, 0.2), "LAO 30"), ((0.4, 5), "AP CRA 5")],
)
def test_a_projection_is_said_in_the_words_of_the_room(projection: tuple[float, float], words: str) -> None:
    assert Projection(*projection).text() == words


def test_exchanged_cusp_labels_raise_a_doubt() -> None:
    assert label_doubt(FLAT) is None
    assert isinstance(label_doubt({**FLAT, "left": FLAT["non"], "non": FLAT["left"]}), Reason)


@pytest.mark.parametrize(
    "hinges",
    [
        {},
        {"left": FLAT["left"], "right": FLAT["right"]},
        {**FLAT, "left": Vector(math.nan, 0, 0)},
        {**FLAT, "left": Vector(1e300, 0, 0)},
        {**FLAT, "left": FLAT["right"]},
        {c: Vector(p.x / 1000, p.y / 1000, 0) for c, p in FLAT.items()},
        {"left": Vector(0, 0, 0), "right": Vector(10, 0, 0.1), "non": Vector(20, 0, 0)},
        {c: Vector(p.x, 0, p.y) for c, p in FLAT.items()},
    ],
    ids=["none", "two", "nan", "huge", "same", "metres", "one line", "upright"],
)
def test_hinge_points_that_fix_no_annulus_give_a_reason(hinges: dict[Cusp, Vector]) -> None:
    assert isinstance(annulus_from_hinges(hinges), Reason)
    assert isinstance(cusp_views(hinges), Reason)
    assert label_doubt(hinges) is None


def test_projections_out_of_reach_or_too_close_give_a_reason() -> None:
    assert isinstance(annulus_from_projections(Projection(0, 0), Projection(1, 0)), Reason)
    assert isinstance(annulus_from_projections(Projection(0, 0), Projection(math.nan, 0)), Reason)
    assert isinstance(annulus(FLAT).off_perpendicular(Projection(0, 46)), Reason)
    assert isinstance(off_planned(Projection(-91, 0), Projection(0, 0)), Reason)
    assert isinstance(annulus(FLAT).cranial_at(math.inf), Reason)


# The numeric search ---------------------------------------------------------------------------------------------


def picture(points: Array, lao_deg: Array, cranial_deg: Array) -> tuple[Array, Array]:
    """Across and up on the detector for each annulus (n, 3, 3): the patient is turned the other way round."""
    a, b = np.radians(lao_deg)[:, None], np.radians(cranial_deg)[:, None]
    x, y, z = points[..., 0], points[..., 1], points[..., 2]
    across = x * np.cos(a) + y * np.sin(a)
    toward = x * np.sin(a) - y * np.cos(a)
    return across, z * np.cos(b) - toward * np.sin(b)


def spread(points: Array, lao: Array, cranial: Array) -> Array:
    """Twice the signed area of the three points on the detector: zero when they lie on one line."""
    u, v = picture(points, lao, cranial)
    return np.asarray((u[:, 1] - u[:, 0]) * (v[:, 2] - v[:, 0]) - (u[:, 2] - u[:, 0]) * (v[:, 1] - v[:, 0]))


def searched_cranial(points: Array, lao: Array, rounds: int = 26) -> Array:
    low, high = np.full(len(points), -90.0), np.full(len(points), 90.0)
    start = spread(points, lao, low)
    for _ in range(rounds):
        middle = (low + high) / 2
        same = np.sign(spread(points, lao, middle)) == np.sign(start)
        low, high = np.where(same, middle, low), np.where(same, high, middle)
    return np.asarray((low + high) / 2)


def along_line(points: Array, lao: Array) -> Array:
    """Where the three points lie along their common line in the perpendicular picture."""
    u, v = picture(points, lao, searched_cranial(points, lao))
    slant = np.arctan2(v[:, 2] - v[:, 1], u[:, 2] - u[:, 1])[:, None]
    # The line is read from left to right in the picture.
    turn = np.where(np.cos(slant) < 0, -1.0, 1.0)
    return np.asarray(turn * (u * np.cos(slant) + v * np.sin(slant)))


def searched_view(points: Array, cusp: npt.NDArray[np.int64], front: npt.NDArray[np.bool_]) -> Array:
    """The LAO angle at which a cusp is midway (front) or the other two coincide (side)."""
    rows = np.arange(len(points))
    one, other = (cusp + 1) % 3, (cusp + 2) % 3

    def miss(lao: Array) -> Array:
        place = along_line(points, lao)
        midway = place[rows, cusp] - (place[rows, one] + place[rows, other]) / 2
        return np.asarray(np.where(front, midway, place[rows, one] - place[rows, other]))

    low, high = np.full(len(points), -90.0), np.full(len(points), 90.0)
    start = np.sign(miss(low))
    for _ in range(24):
        middle = (low + high) / 2
        same = np.sign(miss(middle)) == start
        low, high = np.where(same, middle, low), np.where(same, high, middle)
    return np.asarray((low + high) / 2)


def random_annuli(seed: int) -> Array:
    """Uneven triangles of 20 to 30 mm in planes up to 70 degrees from level, anywhere in the chest."""
    rng = np.random.default_rng(seed)
    turn = rng.uniform(0, 360, ANNULI)[:, None] + np.array([0, -120, 120]) + rng.uniform(-20, 20, (ANNULI, 3))
    radius = rng.uniform(10, 15, (ANNULI, 3))
    flat = np.stack([radius * np.cos(np.radians(turn)), radius * np.sin(np.radians(turn))], axis=-1)
    tilt, toward = np.radians(rng.uniform(0, 70, ANNULI)), np.radians(rng.uniform(0, 360, ANNULI))
    rise = np.tan(tilt)[:, None] * (
        flat[..., 0] * np.cos(toward)[:, None] + flat[..., 1] * np.sin(toward)[:, None]
    )
    points = np.concatenate([flat, rise[..., None]], axis=-1)
    shrink = np.linalg.norm(flat, axis=-1) / np.linalg.norm(points, axis=-1)
    return np.asarray(
        points * shrink[..., None].min(axis=1, keepdims=True) + rng.uniform(-200, 200, (ANNULI, 1, 3))
    )


def hinges_of(row: Array) -> dict[Cusp, Vector]:
    return {cusp: Vector(*map(float, row[i])) for i, cusp in enumerate(CUSPS)}


def test_ten_thousand_random_annuli_agree_with_a_numeric_search_to_a_hundredth_of_a_degree() -> None:
    points = random_annuli(1)
    rng = np.random.default_rng(2)
    lao = rng.uniform(-90, 90, ANNULI)
    cusp, front = rng.integers(0, 3, ANNULI), rng.integers(0, 2, ANNULI).astype(bool)
    cranial = searched_cranial(points, lao)
    view = searched_view(points, cusp, front)
    view_cranial = searched_cranial(points, view)
    for i in range(ANNULI):
        hinges = hinges_of(points[i])
        found, views = annulus_from_hinges(hinges), cusp_views(hinges)
        assert isinstance(found, Annulus), hinges
        assert not isinstance(views, Reason)
        assert found.cranial_at(float(lao[i])) == pytest.approx(cranial[i], abs=NEAR_DEG)
        pair = views[CUSPS[cusp[i]]]
        got = pair.front if front[i] else pair.side
        # Near RAO or LAO 90 the search may land on the opposite end of the same line of sight.
        opposite = abs(got.lao_deg - view[i]) > 179
        assert (got.lao_deg + (180 if got.lao_deg < 0 else -180) * opposite) == pytest.approx(
            view[i], abs=NEAR_DEG
        )
        assert got.cranial_deg * (-1 if opposite else 1) == pytest.approx(view_cranial[i], abs=NEAR_DEG)
