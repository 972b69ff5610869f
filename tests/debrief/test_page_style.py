"""Colours of the page, computed, and labels that never overlap, whatever is asked of them."""

from __future__ import annotations

import re
from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labcheck.debrief.page.placing import GAP, Label, levels, rows_for, staggered
from labcheck.debrief.page.style import CSS, FILLS, INK, LINE, PAPER, TEXT_COLOURS


def luminance(colour: str) -> float:
    """Relative luminance, WCAG 2 (W3C recommendation, 2008)."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    r, g, b = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def contrast(a: str, b: str) -> float:
    light, dark = sorted((luminance(a), luminance(b)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_the_contrast_formula_gives_the_known_ends() -> None:
    # WCAG 2: black on white is 21 to 1.
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)


@pytest.mark.parametrize("ground", sorted(FILLS))
@pytest.mark.parametrize("name", sorted(TEXT_COLOURS))
def test_every_colour_of_text_passes_on_white_and_on_every_fill(name: str, ground: str) -> None:
    assert contrast(TEXT_COLOURS[name], FILLS[ground]) >= 4.5


def test_lines_can_be_seen() -> None:
    # WCAG 2.1: 3 to 1 for shapes.
    assert contrast(LINE, PAPER) >= 3


def test_the_style_colours_text_with_nothing_else() -> None:
    used = set(re.findall(r"(?<![-\w])(?:color|fill): (#[0-9a-f]{6})", CSS))
    # White text stands only on the rehearsal's black sign.
    assert used <= set(TEXT_COLOURS.values()) | {PAPER}
    assert contrast(PAPER, INK) >= 4.5


LABELS = st.lists(
    st.builds(
        Label,
        st.floats(min_value=0, max_value=700, allow_nan=False),
        st.text(alphabet="ER0123456789 abc", min_size=1, max_size=30),
        st.just(11.0),
    ),
    max_size=60,
)


@given(LABELS)
def test_no_two_labels_on_a_level_touch_and_none_is_lost(labels: list[Label]) -> None:
    placed = staggered(labels, 100.0, 690.0)
    assert sorted(map(id, (one.label for one in placed))) == sorted(map(id, labels))
    for a, b in combinations(placed, 2):
        if a.level == b.level:
            assert a.right + GAP <= b.left + 1e-9 or b.right + GAP <= a.left + 1e-9
    for one in placed:
        assert one.left >= 100.0
        assert one.right <= 690.0 + 1e-9 or one.label.width > 590.0
    assert levels(placed) <= len(labels)


@given(st.lists(st.tuples(st.integers(0, 100), st.integers(0, 50)), max_size=30))
def test_bars_in_a_row_never_overlap(pairs: list[tuple[int, int]]) -> None:
    spans = sorted((float(start), float(start + length)) for start, length in pairs)
    rows = rows_for(spans)
    for (a, row_a), (b, row_b) in combinations(zip(spans, rows, strict=True), 2):
        if row_a == row_b:
            assert a[1] <= b[0] or b[1] <= a[0]
