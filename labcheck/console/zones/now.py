"""The present stage: its name, its cusp and its clock, large enough for the operator, and what is switched on.

The clock is the time in the open visit. While a large watch runs (since the laceration), that watch takes
its place, in the other colour and with its name beneath, and the stage's own clock goes into the words.
"""

from __future__ import annotations

from functools import lru_cache

from textual.content import Content

from labcheck.caselog.clockwords import span_words, unknown
from labcheck.console.glyphs import NARROW, SEGMENTS, SLIM, TALL, WIDE, Face, spell, width_of
from labcheck.console.theme import PaintName
from labcheck.console.view import View
from labcheck.console.zones.now_words import (
    CUSP_BIG,
    clock_title,
    column,
    cusp_words,
    fit,
    fit_all_told,
    room_clock,
    running,
    spaced,
    trying,
    visit_words,
)
from labcheck.console.zones.rows import Piece, Rows, cells, fold, inert

STACKED = 13
"""Rows from which a narrow screen shows the clock beneath the name."""
ASIDE = 18
"""Columns wanted beside the block letters for the words, where there is no row for them beneath."""
LEAST_ASIDE = 14
"""Columns that the words keep beside a long name."""
SIZES = ((WIDE, NARROW, ASIDE), (NARROW, NARROW, ASIDE), (SLIM, NARROW, LEAST_ASIDE), (SLIM, SLIM, LEAST_ASIDE))
"""Letters, digits and columns for the words on a narrow screen, in the order they are tried."""


def render(view: View, width: int, height: int) -> Content:
    """Block letters of seven rows from nine rows up, of five from five rows up, else capitals and a small clock."""
    rows = Rows(width, height, view.plain)
    if width < 60 and height >= STACKED:
        _stacked(rows, view)
    elif height < 5 or width < 60:
        _small(rows, view)
    elif height < 7:
        _beside(rows, view)
    else:
        _beneath(rows, view)
    return rows.content()


def _beneath(rows: Rows, view: View) -> None:
    """The letters over the whole width, the words in rows of their own above and beneath."""
    faces = (TALL, WIDE, NARROW, SLIM) if rows.height >= 9 else (WIDE, NARROW, SLIM)
    clock, clock_paint = _clock(view)
    face = _clock_face(clock, rows.width // 2, faces)
    block_rows = faces[0].rows
    letters = _letters(view, rows.width - (width_of(face, clock) or 0) - 7, faces, block_rows, joined=True)
    digits = _block(face, clock, clock_paint, block_rows)
    spare = rows.height - block_rows - 1
    title = spaced([Piece(f"  {view.stage_title}", "strong"), *room_clock(view)])
    rows.add(*title, right=(*spaced([*visit_words(view), *trying(view)]), Piece("  ")))
    rows.blank(spare - 1 if spare > 1 else 0)
    for left, right in zip(letters, digits, strict=True):
        rows.add(Piece("  "), *left, right=(*right, Piece("  ")))
    named = spaced(clock_title(view))
    on = fit_all_told(running(view), rows.width - sum(cells(piece.text) for piece in named) - 6)
    if view.case.burst is None:
        rows.add(Piece("  "), *on, right=(*named, Piece("  ")))
        return
    # Energy is said by a bar across the screen: the operator must see it from where he stands.
    bar = [Piece(piece.text) for piece in (*on, *named)]
    rows.add(Piece(" "), *bar[: len(on)], right=(*bar[len(on) :], Piece("  ")), fill="wanted")


def _beside(rows: Rows, view: View) -> None:
    """The letters from edge to edge in height, the words in a column between name and clock."""
    clock, clock_paint = _clock(view)
    letter_face, face, aside = _sizes(rows.width, _titles(view)[0], clock)
    room = rows.width - (width_of(face, clock) or 0) - aside - 4
    letters = _letters(view, room, (letter_face,), rows.height, joined=False)
    digits = _block(face, clock, clock_paint, rows.height)
    named, *own = [[piece] for piece in clock_title(view)] or [[]]
    lead = [_spoken([*cusp_words(view), *room_clock(view)]), named]
    rest = [*trying(view), *(piece for row in own for piece in row), *visit_words(view)]
    used = sum(cells(piece.text) for piece in (*letters[-1], *digits[-1]))
    beside = column([row for row in lead if row], running(view, brief=True), rest, rows.height, rows.width - used - 5)
    for left, word, right in zip(letters, beside, digits, strict=True):
        rows.add(Piece(" "), *left, Piece("  "), *word, right=(*right, Piece(" ")))


def _sizes(width: int, name: str, clock: str) -> tuple[Face, Face, int]:
    """The first of ``SIZES`` in which the name has room, else the last."""
    for letters, digits, aside in SIZES:
        room = width - (width_of(digits, clock) or 0) - aside - 4
        if (width_of(letters, name) or 999) <= room:
            return letters, digits, aside
    return SIZES[1]


def _spoken(row: list[Piece]) -> list[Piece]:
    """Two words on one row, a single blank between them."""
    return [piece for word in row for piece in (word, Piece(" "))][:-1]


def _stacked(rows: Rows, view: View) -> None:
    """For a narrow window: the name, the clock beneath it, then the words."""
    clock, clock_paint = _clock(view)
    face = _clock_face(clock, rows.width - 2, (WIDE, NARROW, SLIM))
    letters = _letters(view, rows.width - 2, (WIDE, NARROW, SLIM), 5, joined=False)
    for row in (*letters, [], *_block(face, clock, clock_paint, 5)):
        rows.add(Piece(" "), *row)
    for word in (*cusp_words(view), *room_clock(view), *clock_title(view), *running(view), *trying(view)):
        rows.add(Piece(" "), word)


def _small(rows: Rows, view: View) -> None:
    """A strip for little room: the name in capitals in reverse, the clock in strokes, the words beneath."""
    clock, _ = _clock(view)
    name = " ".join(part for part in _titles(view) if part)
    named = [Piece(f" {name} ", "held"), *room_clock(view)]
    if rows.height >= 3 and (width_of(SEGMENTS, clock) or 99) <= rows.width // 2:
        digits = _block(SEGMENTS, clock, "strong", 3)
        size = rows.width - (width_of(SEGMENTS, clock) or 0) - 3
        whole = len(fit(named, size)) == 2 * len(named) - 1
        on = fit_all_told(running(view, brief=True), size)
        beneath = fit([*clock_title(view), *trying(view)], size)
        for words, right in zip((on, fit(named, size) if whole else named[:1], beneath), digits, strict=True):
            rows.add(Piece(" "), *words, right=(*right, Piece(" ")))
        if not whole:
            rows.add(Piece(" "), *room_clock(view))
        return
    rows.add(*(fit(named, rows.width - cells(clock) - 3) or named), right=(Piece(f" {clock} ", "strong"),))
    rows.add(Piece(" "), *fit([*clock_title(view), *running(view), *trying(view)], rows.width - 2))


def _titles(view: View) -> tuple[str, str]:
    """The stage and its cusp in capitals."""
    if view.case.seal is not None:
        return "SEALED", ""
    visit = view.case.visit
    if visit is None:
        return "NO STAGE", ""
    return view.stage_big or view.stage_title.upper(), CUSP_BIG[visit.cusp] if visit.cusp else ""


def _clock(view: View) -> tuple[str, PaintName]:
    """The large clock's digits and paint; dashes where nothing runs."""
    if view.big is not None:
        # Over a restart that set the clock back nobody knows how long it was: the words beside it say so.
        return "-:--" if unknown(view.big.span) else span_words(view.big.span.us), "block_amber"
    if view.stage_us is None:
        return "-:--", "block_clock"
    return span_words(max(0, view.stage_us)), "block_clock"


def _clock_face(clock: str, room: int, faces: tuple[Face, ...]) -> Face:
    return next((f for f in faces if (width_of(f, clock) or 999) <= room), faces[-1])


def _letters(
    view: View, room: int, faces: tuple[Face, ...], height: int, *, joined: bool
) -> list[list[Piece]]:
    """Name and cusp in the largest letters that fit, the cusp smaller rather than both; else in capitals."""
    name, cusp = _titles(view)
    if joined and cusp:
        for face in faces:
            for other in faces[faces.index(face) :]:
                size = (width_of(face, name) or 999) + 4 + (width_of(other, cusp) or 999)
                if size <= room:
                    left = _block(face, name, "block_stage", height)
                    right = _block(other, cusp, "block_clock", height)
                    return [[*a, Piece("    "), *b] for a, b in zip(left, right, strict=True)]
    for face in faces:
        if (width_of(face, name) or 999) <= room:
            return _block(face, name, "block_stage", height)
    return _capitals(name, room, height)


def _capitals(name: str, room: int, height: int) -> list[list[Piece]]:
    """Capitals in a bar of reverse video, spaced where there is room for that."""
    spaced = " ".join(name)
    lines = fold(inert(spaced if cells(spaced) + 4 <= room else name), max(1, room - 4), 1)
    bar = f"  {lines[0]}  "
    middle = height // 2
    return [
        [Piece(bar if row == middle else " " * cells(bar), "held")] if abs(row - middle) <= 1 else []
        for row in range(height)
    ]


@lru_cache(maxsize=64)
def _block(face: Face, text: str, paint: PaintName, height: int) -> list[list[Piece]]:
    """The letters as pieces, one list a row, lower edge on the last of ``height`` rows."""
    lit = [[Piece(run.text, paint if run.lit else None) for run in row] for row in spell(face, text)]
    empty = Piece(" " * (width_of(face, text) or 0))
    return [*([[empty]] * (height - face.rows)), *lit]
