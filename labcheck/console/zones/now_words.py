"""The words beside and beneath the block letters: what is switched on, the attempt, the clocks' names.

What is on (energy, a rescue, pacing) is never left out unsaid: where there is no room it is counted in words.
All else that does not fit stands in the trace, the steps or the entries.
"""

from __future__ import annotations

from labcheck.caselog.case import Attempt, Case
from labcheck.caselog.clockwords import clock_words, seconds_words, span_words
from labcheck.caselog.stamps import Moment, Stamp, span
from labcheck.checklist import finding
from labcheck.checklist.model import Stage
from labcheck.checklist.words import CUSP_WORDS
from labcheck.console.view import View
from labcheck.console.zones.rows import CUT, Piece, cells, clip, fold, inert

GAP = "   "
"""Between two words on one row."""

CUSP_BIG = {
    "left": "LEFT",
    "right": "RIGHT",
    "noncoronary": "NON",
    "fused": "FUSED",
    "anterior_mitral": "MITRAL",
}
"""The cusp in capitals; "NON" is how the non-coronary cusp is called across a room."""


def room_clock(view: View) -> list[Piece]:
    """The time of day in a quiet stage, where the head stands still: who calls the times out needs it there."""
    return [Piece(clock_words(view.now), "strong")] if view.quiet else []


def clock_title(view: View) -> list[Piece]:
    """What the large clock counts; the stage's own time beside it where another clock has its place."""
    if view.big is None:
        return [Piece("in this stage", "quiet")] if view.stage_us is not None else []
    words = [Piece(f" {view.big.title.upper()} ", "wanted")]
    if view.stage_us is not None:
        words.append(Piece(f"stage {span_words(max(0, view.stage_us))}", "quiet"))
    return words


def visit_words(view: View) -> list[Piece]:
    """From the second visit on, which one it is."""
    visit = view.case.visit
    if visit is None or visit.number < 2:
        return []
    return [Piece(f"visit {visit.number}", "strong")]


def cusp_words(view: View) -> list[Piece]:
    """The cusp of the open stage, in reverse."""
    visit = view.case.visit
    return [Piece(f" {CUSP_BIG[visit.cusp]} ", "held")] if visit and visit.cusp else []


def running(view: View, *, brief: bool = False) -> list[Piece]:
    """What is on, each in reverse with its own clock. ``brief`` leaves all clocks but the energy's to the figures."""
    case, now = view.case, view.now
    words: list[Piece] = []
    if case.burst is not None:
        words.append(Piece(f" ENERGY ON {since(case.burst.start, now)} ", "wanted"))
    words.extend(_rescues(case, now, brief))
    for spell_on in case.spells:
        if spell_on.end is None:
            run = finding.run(case.checklist, spell_on.run)
            title = (run.title if run else spell_on.run).upper()
            words.append(Piece(f" {title} ON{'' if brief else f' {since(spell_on.start, now)}'} ", "held"))
    return words


def trying(view: View) -> list[Piece]:
    """The attempt, and that energy is off where it could be on."""
    visit = view.case.visit
    stage = finding.stage(view.case.checklist, visit.stage) if visit else None
    if stage is None or stage.attempts is None:
        return []
    words = [Piece(attempt_words(view.case, stage), "strong")]
    if view.case.burst is None and stage.attempts.energy is not None:
        words.append(Piece("energy off", "text"))
    return words


def _rescues(case: Case, now: Stamp, brief: bool) -> list[Piece]:
    words = []
    for rescue in case.bailouts:
        if rescue.end is None:
            path = finding.bailout(case.checklist, rescue.what.bailout)
            big = path.big if path else rescue.what.bailout.upper()
            words.append(Piece(f" BAILOUT {big}{'' if brief else f' {since(rescue.start, now)}'} ", "held"))
    return words


def attempt_words(case: Case, stage: Stage) -> str:
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


def since(start: Moment, now: Stamp) -> str:
    passed = span(start, now.moment()).us
    return seconds_words(passed).split(".")[0] + " s" if 0 <= passed < 60_000_000 else span_words(passed)


def spaced(words: list[Piece]) -> list[Piece]:
    """The words with blanks between them."""
    out: list[Piece] = []
    for word in words:
        out += [word, Piece(GAP)]
    return out[:-1]


def fit(words: list[Piece], room: int) -> list[Piece]:
    """The words that fit as a whole, so that no state is cut in half."""
    kept: list[Piece] = []
    used = 0
    for word in words:
        size = cells(inert(word.text)) + (len(GAP) if kept else 0)
        if used + size <= room:
            kept.append(word)
            used += size
    return spaced(kept)


def fit_all_told(words: list[Piece], room: int) -> list[Piece]:
    """As many of the words as fit, and in words how many more there are: for what is switched on."""
    if len(fit(words, room)) >= 2 * len(words) - 1:
        return fit(words, room)
    for count in range(len(words) - 1, 0, -1):
        more = Piece(f"and {len(words) - count} more on", "amber")
        shown = fit([*words[:count], more], room)
        if len(shown) == 2 * count + 1:
            return shown
    if cells(inert(words[0].text)) > room and len(words) == 1:
        return [Piece(clip(inert(words[0].text), room), words[0].paint)]
    return [Piece(clip(f"{len(words)} things on", room), "amber")]


def column(lead: list[list[Piece]], on: list[Piece], rest: list[Piece], height: int, room: int) -> list[list[Piece]]:
    """Rows beside the block letters: the lead, what is on, then the rest as far as there are rows.

    What is on and has no row of its own is counted in the last. A long word of the rest is broken over two rows where
    there are two, and left out where not: the first of them has the first choice.
    """
    rows = [_clipped(row, room) for row in lead[:height]]
    free = height - len(rows)
    if len(on) > free:
        shown = max(0, free - 1)
        rows += [_clipped([word], room) for word in on[:shown]]
        return [*rows, fit_all_told(on[shown:], room)] if free else rows
    rows += [_clipped([word], room) for word in on]
    for word in rest:
        free = height - len(rows)
        # One column less than there is: plain words must not touch the digits.
        lines = fold(inert(word.text), room - 1, max(1, min(2, free)))
        if len(rows) + len(lines) <= height and not lines[-1].endswith(CUT):
            rows += [[Piece(line, word.paint)] for line in lines]
    return rows + [[] for _ in range(height - len(rows))]


def _clipped(row: list[Piece], room: int) -> list[Piece]:
    """The row's pieces within ``room`` columns."""
    out: list[Piece] = []
    for text, paint in row:
        shown = clip(inert(text), room)
        room -= cells(shown)
        if shown:
            out.append(Piece(shown, paint))
    return out
