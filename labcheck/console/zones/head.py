"""The head row: which case this is, what is planned, whether it is real, and what time it is."""

from __future__ import annotations

from textual.content import Content

from labcheck.caselog.clockwords import clock_words, span_words
from labcheck.checklist.words import CUSP_WORDS, Cusp
from labcheck.console.view import View
from labcheck.console.zones.rows import Piece, Rows, cells, inert

ROOMY = 160
"""From this width the checklist's full title is written, below it the technique's word."""


def render(view: View, width: int, height: int) -> Content:
    """One row, in order of what may be left out last: rehearsal, case key, room clock, cusps, the rest.

    A press that could not be saved takes the whole row. In a quiet stage nothing here counts, so the clocks
    give way to a word and the row stands still.
    """
    rows = Rows(width, height, view.plain)
    if view.save.state == "not_saved":
        rows.add(
            Piece(f" NOT SAVED  {without_word(view.save.words, 'not saved')}"),
            right=(Piece(f"{clock_words(view.now)} "),),
            fill="alarm",
        )
        return rows.content()
    left, right = _chosen(view, width)
    rows.add(*left, right=right)
    return rows.content()


def without_word(words: str, word: str) -> str:
    """``words`` without a leading ``word`` that stands before it on the screen already."""
    if words.casefold().startswith(word.casefold()):
        return words[len(word) :].lstrip(" :,")
    return words


def cusps_words(targets: tuple[Cusp, ...]) -> str:
    """The planned order as it is said: "left, then right"."""
    return ", then ".join(CUSP_WORDS[c] for c in targets)


def _chosen(view: View, width: int) -> tuple[list[Piece], list[Piece]]:
    """The pieces that fit, left and right, each with its own blanks."""
    case = view.case
    plan = case.plan
    wanted: list[tuple[int, str, Piece]] = [(0, "left", Piece(f" {case.key} ", "strong"))]
    technique = view.technique if width >= ROOMY or plan is None else plan.technique.replace("_", " ")
    if technique:
        wanted.append((4, "left", Piece(f" {technique} ", "quiet")))
    if plan is not None:
        wanted.append((2, "left", Piece(f" {cusps_words(case.order or plan.targets)} ", "strong")))
        wanted.append((5, "left", Piece(f" {plan.substrate} valve ", "quiet")))
    if case.rehearsal:
        wanted.append((-1, "right", Piece(" REHEARSAL ", "held")))
    if view.read_only:
        wanted.append((-1, "right", Piece(" READ ONLY ", "held")))
    if case.seal is not None:
        wanted.append((-1, "right", Piece(" SEALED ", "held")))
    wanted.append((6, "right", Piece(f"  recorder {case.recorder}", "quiet")))
    if view.quiet:
        wanted.append((1, "right", Piece("  QUIET STAGE ", "strong")))
    else:
        if view.since_access_us is not None:
            wanted.append((3, "right", Piece(f"  since access {span_words(view.since_access_us)}", "quiet")))
        wanted.append((1, "right", Piece(f"  {clock_words(view.now)} ", "strong")))
    room = width - 2
    kept: set[int] = set()
    for index in sorted(range(len(wanted)), key=lambda n: wanted[n][0]):
        size = cells(inert(wanted[index][2].text, view.plain))
        if size <= room:
            kept.add(index)
            room -= size
    sides: dict[str, list[Piece]] = {"left": [], "right": []}
    for index, (_, side, piece) in enumerate(wanted):
        if index in kept:
            sides[side].append(piece)
    return sides["left"], sides["right"]
