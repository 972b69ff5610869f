"""Where the zones stand."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labcheck.console.zones.layout import SMALLEST, ZONES, places


@given(st.integers(1, 260), st.integers(1, 90))
def test_the_zones_cover_the_screen_without_overlapping(width: int, height: int) -> None:
    seen: set[tuple[int, int]] = set()
    for box in places(width, height).values():
        assert box.width > 0
        assert box.height > 0
        cells = {(x, y) for x in range(box.x, box.x + box.width) for y in range(box.y, box.y + box.height)}
        assert not cells & seen
        seen |= cells
    assert all(x < width and y < height for x, y in seen)
    for y in range(height):
        # Two blank columns part neighbours that stand side by side; every row is used.
        assert any((x, y) in seen for x in range(width))


@pytest.mark.parametrize(
    ("size", "rows"),
    [
        ((60, 20), {"trace": 2, "now": 3, "next": 2, "keys": 1}),
        ((80, 24), {"trace": 2, "now": 5, "next": 2, "keys": 1}),
        ((120, 40), {"trace": 5, "now": 8, "next": 5, "keys": 1}),
        ((200, 60), {"trace": 8, "now": 10, "next": 6, "keys": 2}),
    ],
)
def test_the_rows_of_the_four_sizes(size: tuple[int, int], rows: dict[str, int]) -> None:
    found = places(*size)
    assert set(found) == set(ZONES)
    assert {name: found[name].height for name in rows} == rows  # type: ignore[index]


@given(st.integers(60, 260), st.integers(24, 90))
def test_from_twenty_four_rows_the_stage_and_its_clock_have_five(width: int, height: int) -> None:
    assert places(width, height)["now"].height >= 5


@pytest.mark.parametrize("size", [(SMALLEST[0] - 1, 40), (120, SMALLEST[1] - 1), (20, 6), (1, 2)])
def test_a_very_small_screen_keeps_the_stage_its_clock_and_the_last_entry(size: tuple[int, int]) -> None:
    assert set(places(*size)) == {"now", "tail"}
