"""Text in cells: inert, clipped, folded."""

from __future__ import annotations

import unicodedata

from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from labcheck.console.zones.canvas import Strip
from labcheck.console.zones.rows import Piece, Rows, cells, clip, fold, inert

ANY = st.text(max_size=60)


@given(ANY, st.booleans())
def test_inert_text_holds_no_control_or_direction_sign(text: str, plain: bool) -> None:
    shown = inert(text, plain)
    assert not any(unicodedata.category(c) in {"Cc", "Cf", "Zl", "Zp", "Cs"} for c in shown)
    if plain:
        assert shown.isascii()


def test_markup_and_escapes_are_drawn_as_they_are_read() -> None:
    assert inert("[BAIL] catheter [3] out [/]") == "[BAIL] catheter [3] out [/]"
    assert inert("a\x1b[31mb\r\nc\td") == "a[31mb c d"
    assert inert("safe\u202eevil") == "safeevil"
    assert inert("caf\u00e9 \u03bcg \u8aad", plain=True) == "cafe ?g ?"


@given(ANY, st.integers(0, 40))
def test_clipped_text_never_takes_more_cells(text: str, width: int) -> None:
    shown = inert(text)
    assert cells(clip(shown, width)) <= width
    if cells(shown) <= width:
        assert clip(shown, width) == shown


@given(ANY, st.integers(3, 40), st.integers(1, 5))
def test_folded_text_keeps_to_its_lines_and_loses_nothing_unsaid(text: str, width: int, most: int) -> None:
    shown = inert(text)
    lines = fold(shown, width, most)
    assert 1 <= len(lines) <= most
    assert all(cells(line) <= width for line in lines)
    if not any(line.endswith("..") for line in lines):
        assert "".join(" ".join(lines).split()) == "".join(shown.split())


@given(
    st.lists(st.lists(ANY, max_size=4), max_size=8), st.lists(ANY, max_size=2), st.integers(1, 50), st.integers(1, 6),
    st.booleans(),
)  # fmt: skip
def test_rows_fill_their_height_and_never_pass_their_width(
    lines: list[list[str]], ends: list[str], width: int, height: int, plain: bool
) -> None:
    rows = Rows(width, height, plain)
    for line in lines:
        rows.add(*(Piece(text, "strong") for text in line), right=[Piece(text) for text in ends], fill="held")
    drawn = rows.content()
    found = drawn.plain.split("\n")
    assert len(found) == height
    assert all(cell_len(line) <= width for line in found)
    assert all(0 <= span.start < span.end <= len(drawn.plain) for span in drawn.spans)


@given(st.integers(0, 30), st.lists(st.tuples(st.integers(-5, 35), ANY), max_size=5))
def test_a_strip_is_always_as_wide_as_it_was_made(width: int, put: list[tuple[int, str]]) -> None:
    strip = Strip(width)
    for at, text in put:
        strip.put(at, inert(text), "text")
    assert sum(cells(piece.text) for piece in strip.pieces()) == width


def test_a_wide_character_half_covered_is_a_blank() -> None:
    strip = Strip(6)
    strip.put(0, "\u8aad\u8aad\u8aad", "text")
    strip.put(1, "xx", "strong")
    assert "".join(piece.text for piece in strip.pieces()) == " xx \u8aad"
