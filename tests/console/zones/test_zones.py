"""What every zone keeps to, whatever it is given."""

from __future__ import annotations

import unicodedata
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rich.cells import cell_len

from labcheck.caselog.figures import Figure
from labcheck.caselog.holds import Unmet
from labcheck.caselog.prompts import Prompt
from labcheck.console.view import FooterKey, Save, TailLine, View
from labcheck.console.zones.layout import RENDER, ZONES
from tests.console.zones.drawing import SIZES, screen
from tests.console.zones.scenes import SCENES

HOSTILE = st.one_of(
    st.text(max_size=80),
    st.sampled_from(
        ["[/]", "[B2", "[=5 mm]", '{"a": [1]}', "\x1b[2J", "a\nb", "\u8aad" * 50, "e\u0301" * 30, "\u202e"]
    ),
)


@pytest.mark.parametrize("size", SIZES, ids=lambda s: f"{s[0]}x{s[1]}")
@pytest.mark.parametrize("scene", SCENES)
def test_a_zone_fills_its_rows_and_stays_within_its_columns(scene: str, size: tuple[int, int]) -> None:
    view = SCENES[scene]()
    for name in ZONES:
        for width, height in ((size[0], 9), (size[0] // 2, 4), (size[0], 1)):
            drawn = RENDER[name](view, width, height).plain.split("\n")
            assert len(drawn) == height, name
            assert all(cell_len(line) <= width for line in drawn), name


@settings(max_examples=40, deadline=None)
@given(
    st.sampled_from(ZONES),
    st.integers(0, 210),
    st.integers(0, 12),
    st.sampled_from(list(SCENES)),
    st.booleans(),
)
def test_no_size_breaks_a_zone(name: str, width: int, height: int, scene: str, plain: bool) -> None:
    view = replace(SCENES[scene](), plain=plain)
    drawn = RENDER[name](view, width, height).plain.split("\n")  # type: ignore[index]
    assert len(drawn) == max(1, height)
    assert all(cell_len(line) <= width for line in drawn)


def _hostile(view: View, text: str) -> View:
    steps = tuple(
        replace(line, words=text, step=line.step.model_copy(update={"say": text, "owner": text[:9]}))
        for line in view.steps
    )
    trace = view.trace
    if trace is not None:
        rows = tuple(
            replace(
                row, title=text, bars=tuple(replace(b, label=text) for b in row.bars),
                marks=tuple(replace(m, words=text) for m in row.marks),
            )
            for row in trace.rows
        )  # fmt: skip
        trace = replace(trace, rows=rows)
    expected = view.expected
    if expected is not None:
        expected = replace(expected, words=text, then=text, unmet=(Unmet("hold", text),) * 3)
    return replace(
        view, technique=text, stage_title=text, steps_title=text, steps=steps, trace=trace, expected=expected,
        figures=(Figure("x", text, "due"), Figure("y", text, "plain")), prompt=Prompt("p", text), silent=text,
        tail=(TailLine(1, "10:00:00", text, "LATE +1:00", "void"),) * 30, save=Save("not_saved", text, 3),
        answer=text, keys=(FooterKey("Enter", text),) * 3,
    )  # fmt: skip


@settings(max_examples=60, deadline=None)
@given(HOSTILE, st.sampled_from(SIZES), st.booleans())
def test_no_text_acts_on_the_screen_or_breaks_it(text: str, size: tuple[int, int], plain: bool) -> None:
    view = replace(_hostile(SCENES["ready"](), text), plain=plain)
    for name in ZONES:
        drawn = RENDER[name](view, size[0], 8)
        assert all(cell_len(line) <= size[0] for line in drawn.plain.split("\n")), name
        visible = drawn.plain.replace("\n", "")
        assert not any(unicodedata.category(c) in {"Cc", "Cf"} for c in visible), name
        if plain:
            assert visible.isascii(), name


@pytest.mark.parametrize("size", SIZES, ids=lambda s: f"{s[0]}x{s[1]}")
@pytest.mark.parametrize("scene", SCENES)
def test_no_sign_of_ours_may_be_two_cells_wide_anywhere(scene: str, size: tuple[int, int]) -> None:
    # Unicode Standard Annex 11, East Asian Width: A (ambiguous), W and F may take two cells.
    drawn = screen(SCENES[scene](), size).replace("\n", "")
    assert not {c for c in drawn if unicodedata.east_asian_width(c) in {"A", "W", "F"}}
    assert screen(replace(SCENES[scene](), plain=True), size).isascii()


@pytest.mark.parametrize("scene", SCENES)
def test_the_same_view_is_drawn_the_same(scene: str) -> None:
    first, second = SCENES[scene](), SCENES[scene]()
    for name in ZONES:
        one, two = RENDER[name](first, 120, 8), RENDER[name](second, 120, 8)
        assert one.plain == two.plain
        assert one.spans == two.spans
