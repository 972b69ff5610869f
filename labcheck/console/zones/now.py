"""The present stage: its name, its cusp and its clock, large enough for the operator, and what is switched on.

The clock is the time in the open visit. While a large watch runs (since the laceration), that watch takes
its place, in the other colour and with its name beneath, and the stage's own clock goes into the words.
"""

from __future__ import annotations

from textual.content import Content

from labcheck.caselog.case import Attempt, Case
from labcheck.caselog.clockwords import seconds_words, span_words
from labcheck.caselog.stamps import Moment, Stamp, span
from labcheck.checklist import finding
from labcheck.checklist.model import Stage
from labcheck.checklist.words import CUSP_WORDS
from labcheck.console.glyphs import NARROW, SEGMENTS, TALL, WIDE, Face, spell, width_of
from labcheck.console.theme import PaintName
from labcheck.console.view import View
from labcheck.console.zones.rows import Piece, Rows, cells, fold, inert

CUSP_BIG = {
    "left": "LEFT",
    "right": "RIGHT",
    "noncoronary": "NON",
    "fused": "FUSED",
    "anterior_mitral": "MITRAL",
}
"""The cusp in block letters; "NON" is how the non-coronary cusp is called across a room."""
STACKED = 13
"""Rows from which a narrow screen shows the clock beneath the name."""
GAP = "   "
"""Between two words on one row."""
PLUS = 3
"""Columns for " +2", which says how many words did not fit; the figures have them."""
ASIDE = 18
"""Columns kept beside the block letters for the words, where there is no row for them beneath."""


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
    faces = (TALL, WIDE, NARROW) if rows.height >= 9 else (WIDE, NARROW)
    clock, clock_paint = _clock(view)
    face = _clock_face(clock, rows.width // 2, faces)
    block_rows = faces[0].rows
    letters = _letters(view, rows.width - (width_of(face, clock) or 0) - 7, faces, block_rows, joined=True)
    digits = _block(face, clock, clock_paint, block_rows)
    spare = rows.height - block_rows - 1
    trying = [*_visit_words(view), *_trying(view)]
    rows.add(Piece(f"  {view.stage_title}", "strong"), right=(*_spaced(trying), Piece("  ")))
    rows.blank(spare - 1 if spare > 1 else 0)
    for left, right in zip(letters, digits, strict=True):
        rows.add(Piece("  "), *left, right=(*right, Piece("  ")))
    clock_words = _spaced(_clock_words(view))
    running = _fit(_running(view), rows.width - sum(cells(piece.text) for piece in clock_words) - 6)
    if view.case.burst is None:
        rows.add(Piece("  "), *running, right=(*clock_words, Piece("  ")))
        return
    # Energy is said by a bar across the screen: the operator must see it from where he stands.
    bar = [Piece(piece.text) for piece in (*running, *clock_words)]
    rows.add(Piece(" "), *bar[: len(running)], right=(*bar[len(running) :], Piece("  ")), fill="wanted")


def _beside(rows: Rows, view: View) -> None:
    """The letters from edge to edge in height, the words in a column between name and clock."""
    clock, clock_paint = _clock(view)
    face = _clock_face(clock, rows.width // 2, (NARROW,))
    room = rows.width - (width_of(face, clock) or 0) - ASIDE - 4
    letters = _letters(view, room, (WIDE, NARROW), rows.height, joined=False)
    digits = _block(face, clock, clock_paint, rows.height)
    running = _running(view, brief=True)
    named, *own = _clock_words(view) or [Piece("")]
    words = [*_cusp_words(view), named, *running, *_trying(view), *own, *_visit_words(view)]
    used = sum(cells(piece.text) for piece in (*letters[-1], *digits[-1]))
    beside = _column([word for word in words if word.text], rows.height, rows.width - used - 5)
    for left, word, right in zip(letters, beside, digits, strict=True):
        rows.add(Piece(" "), *left, Piece("  "), *word, right=(*right, Piece(" ")))


def _stacked(rows: Rows, view: View) -> None:
    """For a narrow window: the name, the clock beneath it, then the words."""
    clock, clock_paint = _clock(view)
    face = _clock_face(clock, rows.width - 2, (WIDE, NARROW))
    letters = _letters(view, rows.width - 2, (WIDE, NARROW), 5, joined=False)
    for row in (*letters, [], *_block(face, clock, clock_paint, 5)):
        rows.add(Piece(" "), *row)
    for word in (*_cusp_words(view), *_clock_words(view), *_running(view), *_trying(view)):
        rows.add(Piece(" "), word)


def _small(rows: Rows, view: View) -> None:
    """A strip for little room: the name in capitals in reverse, the clock in strokes, the words beneath."""
    clock, _ = _clock(view)
    name = " ".join(part for part in _titles(view) if part)
    if rows.height >= 3 and (width_of(SEGMENTS, clock) or 99) <= rows.width // 2:
        digits = _block(SEGMENTS, clock, "strong", 3)
        size = rows.width - (width_of(SEGMENTS, clock) or 0) - 3
        for row, right in enumerate(digits):
            words = [Piece(f" {name} ", "held")]
            if row == 0:
                words = _fit(_running(view, brief=True), size)
            elif row == 2:
                words = _fit([*_clock_words(view), *_trying(view)], size)
            rows.add(Piece(" "), *words, right=(*right, Piece(" ")))
        return
    rows.add(Piece(f" {name} ", "held"), right=(Piece(f" {clock} ", "strong"),))
    rows.add(Piece(" "), *_fit([*_clock_words(view), *_running(view), *_trying(view)], rows.width - 2))


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
        return span_words(view.big.span.us), "block_amber"
    if view.stage_us is None:
        return "-:--", "block_clock"
    return span_words(max(0, view.stage_us)), "block_clock"


def _clock_words(view: View) -> list[Piece]:
    if view.big is None:
        return [Piece("in this stage", "quiet")] if view.stage_us is not None else []
    words = [Piece(f" {view.big.title.upper()} ", "wanted")]
    if view.stage_us is not None:
        words.append(Piece(f"stage {span_words(max(0, view.stage_us))}", "quiet"))
    return words


def _clock_face(clock: str, room: int, faces: tuple[Face, ...]) -> Face:
    return next((f for f in faces if (width_of(f, clock) or 999) <= room), NARROW)


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


def _block(face: Face, text: str, paint: PaintName, height: int) -> list[list[Piece]]:
    """The letters as pieces, one list a row, lower edge on the last of ``height`` rows."""
    lit = [[Piece(run.text, paint if run.lit else None) for run in row] for row in spell(face, text)]
    empty = Piece(" " * (width_of(face, text) or 0))
    return [*([[empty]] * (height - face.rows)), *lit]


def _visit_words(view: View) -> list[Piece]:
    visit = view.case.visit
    if visit is None or visit.number < 2:
        return []
    return [Piece(f"visit {visit.number}", "strong")]


def _cusp_words(view: View) -> list[Piece]:
    visit = view.case.visit
    return [Piece(f" {CUSP_WORDS[visit.cusp].upper()} ", "held")] if visit and visit.cusp else []


def _running(view: View, *, brief: bool = False) -> list[Piece]:
    """What is on, each in reverse with its own clock. ``brief`` leaves all clocks but the energy's to the figures."""
    case, now = view.case, view.now
    words: list[Piece] = []
    if case.burst is not None:
        words.append(Piece(f" ENERGY ON {_since(case.burst.start, now)} ", "wanted"))
    words.extend(_rescues(case, now, brief))
    for spell_on in case.spells:
        if spell_on.end is None:
            run = finding.run(case.checklist, spell_on.run)
            title = (run.title if run else spell_on.run).upper()
            words.append(Piece(f" {title} ON{'' if brief else f' {_since(spell_on.start, now)}'} ", "held"))
    return words


def _trying(view: View) -> list[Piece]:
    """The attempt, and that energy is off where it could be on."""
    visit = view.case.visit
    stage = finding.stage(view.case.checklist, visit.stage) if visit else None
    if stage is None or stage.attempts is None:
        return []
    words = [Piece(_attempt_words(view.case, stage), "strong")]
    if view.case.burst is None and stage.attempts.energy is not None:
        words.append(Piece("energy off", "text"))
    return words


def _rescues(case: Case, now: Stamp, brief: bool) -> list[Piece]:
    words = []
    for rescue in case.bailouts:
        if rescue.end is None:
            path = finding.bailout(case.checklist, rescue.what.bailout)
            big = path.big if path else rescue.what.bailout.upper()
            words.append(Piece(f" BAILOUT {big}{'' if brief else f' {_since(rescue.start, now)}'} ", "held"))
    return words


def _attempt_words(case: Case, stage: Stage) -> str:
    attempt = case.attempt
    visit = case.visit
    cusp = visit.cusp if visit else None
    if attempt is not None:
        # A moved attempt is not on the cusp in block letters, so it says its own.
        own = "" if cusp in (None, attempt.cusp) else f", {CUSP_WORDS[attempt.cusp]}"
        return f"attempt {attempt.number}{own}"
    last: Attempt | None = next(
        (a for a in reversed(case.attempts) if a.stage == stage.id and a.cusp == cusp), None
    )
    if last is None or stage.attempts is None:
        return "no attempt yet"
    outcome = finding.option(stage.attempts.outcomes, last.outcome or "")
    return f"attempt {last.number}: {outcome.text if outcome else last.outcome or 'no result'}"


def _since(start: Moment, now: Stamp) -> str:
    passed = span(start, now.moment()).us
    return seconds_words(passed).split(".")[0] + " s" if 0 <= passed < 60_000_000 else span_words(passed)


def _spaced(words: list[Piece]) -> list[Piece]:
    """The words with blanks between them."""
    out: list[Piece] = []
    for word in words:
        out += [word, Piece(GAP)]
    return out[:-1]


def _fit(words: list[Piece], room: int) -> list[Piece]:
    """The words that fit as a whole, so that no state is cut in half; a plus and a number for the others."""
    kept: list[Piece] = []
    used = 0
    for number, word in enumerate(words):
        spare = 0 if number + 1 == len(words) and len(kept) == number else PLUS
        size = cells(inert(word.text)) + (len(GAP) if kept else 0)
        if used + size + spare <= room:
            kept.append(word)
            used += size
    left_out = len(words) - len(kept)
    spaced = _spaced(kept)
    return [*spaced, Piece(f" +{left_out}", "amber")] if left_out and used + PLUS <= room else spaced


def _column(words: list[Piece], height: int, room: int) -> list[list[Piece]]:
    """One piece a row; the last row takes what fits of the rest."""
    column = [_fit([word], room) for word in words[: height - 1]]
    column.append(_fit(words[height - 1 :], room))
    return column + [[] for _ in range(height - len(column))]
