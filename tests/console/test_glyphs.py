"""The block letters."""

from __future__ import annotations

import string

import pytest

from labcheck.console.glyphs import FACES, NARROW, SEGMENTS, SLIM, TALL, WIDE, Face, face_for, spell, width_of

LETTER_FACES = (TALL, WIDE, NARROW, SLIM)
NEEDED = string.ascii_uppercase + string.digits + ":+-"


@pytest.mark.parametrize("face", LETTER_FACES, ids=lambda f: f.name)
def test_every_capital_digit_and_sign_of_a_clock_has_a_shape(face: Face) -> None:
    assert set(NEEDED) <= set(face.shapes)
    assert all(len(shape) == face.rows for shape in face.shapes.values())
    assert all(len({len(row) for row in shape}) == 1 for shape in face.shapes.values())


@pytest.mark.parametrize("face", FACES, ids=lambda f: f.name)
def test_no_two_letters_and_no_two_digits_of_a_face_look_alike(face: Face) -> None:
    for group in (string.ascii_uppercase, string.digits):
        shapes = [face.shapes[c] for c in group if c in face.shapes]
        assert len(set(shapes)) == len(shapes)


@pytest.mark.parametrize("face", FACES, ids=lambda f: f.name)
def test_all_digits_are_equally_wide_so_that_a_clock_does_not_jump(face: Face) -> None:
    assert len({width_of(face, digit) for digit in string.digits}) == 1
    assert width_of(face, "11:11") == width_of(face, "08:58")


@pytest.mark.parametrize("face", FACES, ids=lambda f: f.name)
def test_the_drawn_rows_are_as_wide_as_announced_and_ascii(face: Face) -> None:
    for text in ("12:04", "-0:59", "+1:02:09"):
        rows = ["".join(run.text for run in row) for row in spell(face, text)]
        assert [len(row) for row in rows] == [width_of(face, text)] * face.rows
        assert all(row.isascii() for row in rows)


def test_lit_cells_of_a_solid_face_spell_the_letter_for_whoever_sees_no_colour() -> None:
    lit = {run.text[0] for row in spell(WIDE, "SNARE") for run in row if run.lit}
    assert lit == set("SNARE")


def test_the_largest_face_that_fits_is_taken_and_none_if_none_fits() -> None:
    assert face_for("LACERATE", 200, 7) is TALL
    assert face_for("LACERATE", 60, 7) is WIDE
    assert face_for("LACERATE", 200, 5) is WIDE
    assert face_for("LACERATE", 42, 5) is NARROW
    assert face_for("LACERATE", 12, 5) is None
    assert face_for("\u00c4RMEL", 200, 7) is None
    assert face_for("2:46", 40, 3) is SEGMENTS
    assert face_for("SNARE", 200, 3) is None


def test_the_narrow_digits_have_a_clock_of_an_hour_on_eighty_columns() -> None:
    width = width_of(NARROW, "1:02:09")
    assert width is not None
    assert width <= 80 // 2
