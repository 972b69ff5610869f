"""The steps: the present stage's lines as they are read out, what was answered, and the place that is held."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.content import Content

from labcheck.console.theme import PaintName
from labcheck.console.view import View
from labcheck.console.zones.rows import Piece, Rows, cells, clip, fold, inert

if TYPE_CHECKING:
    from labcheck.caselog.steps import StepLine

WORD = 9
"""Columns for the word that says how a step stands."""


def render(view: View, width: int, height: int) -> Content:
    """A heading, then the steps around the held one. The held step stands in reverse and is never cut short
    while there is a row for it; the list scrolls so that it stays in sight."""
    rows = Rows(width, height, view.plain)
    count = len(view.steps)
    if not count:
        rows.head("STEPS", view.steps_title)
        rows.add(Piece("  nothing to read out here", "quiet"))
        return rows.content()
    at = min(max(view.step_at, 0), count - 1)
    answered = sum(1 for line in view.steps if line.state != "open")
    held = _held_lines(view.steps[at], width, 2 if height > 4 else 1, view.plain)
    room = max(1, height - 1 - (len(held) - 1))
    airy = room >= 2 * count
    first = _first(at, count, room)
    last = count if airy else min(count, first + room)
    place = f"{answered} of {count} answered"
    if last - first < count:
        place = f"lines {first + 1}-{last} of {count}, {answered} answered"
    rows.head("STEPS", view.steps_title, place)
    for index in range(first, last):
        if index == at:
            for line in held:
                rows.add(Piece(line), fill="held")
        else:
            _line(rows, view.steps[index])
        if airy:
            rows.blank()
    return rows.content()


def state_word(line: StepLine) -> str:
    """How a step stands, in a word. An open killer step says so in capitals."""
    if line.state == "open":
        return "KILLER" if line.step.killer else "open"
    return {"not_done": "NOT DONE", "not_applicable": "n/a"}.get(line.state, "done")


def _first(at: int, count: int, room: int) -> int:
    return max(0, min(at - room // 2, count - room))


def _answer(line: StepLine) -> str:
    """What was answered where the word alone does not say it; of an open killer step nothing more."""
    if line.state == "open":
        return ""
    answer = "" if line.state == "done" else line.words
    for word in ("not done: ", "not applicable: "):
        answer = answer.removeprefix(word)
    if answer in ("not done", "not applicable"):
        answer = ""
    if line.step.killer:
        return f"{answer}  killer" if answer else "killer"
    return answer


def _held_lines(line: StepLine, width: int, most: int, plain: bool) -> list[str]:
    answer = inert(_answer(line), plain)
    if line.state == "open" and line.step.owner:
        answer = inert(line.step.owner, plain)
    head = f"> {state_word(line):<{WORD}}"
    ends = f" {answer} " if answer else ""
    room = width - cells(head) - cells(ends)
    if room < 12:
        ends, room = "", width - cells(head)
    first, *others = fold(inert(line.step.say, plain), room, most)
    gap = " " * max(0, room - cells(first))
    return [f"{head}{first}{gap}{ends}", *(clip(" " * cells(head) + other, width) for other in others)]


def _line(rows: Rows, line: StepLine) -> None:
    word, say = _paints(line)
    answer = _answer(line)
    rows.add(
        Piece("  "),
        Piece(f"{state_word(line):<{WORD}}", word),
        Piece(line.step.say, say),
        right=(Piece(f"{answer} ", "sky" if line.state == "value" else "quiet"),) if answer else (),
    )


def _paints(line: StepLine) -> tuple[PaintName, PaintName]:
    match line.state:
        case "open":
            return ("amber", "strong") if line.step.killer else ("text", "text")
        case "not_done":
            return "strong", "text"
        case _:
            return "quiet", "quiet"
