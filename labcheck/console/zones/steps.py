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
    airy = height - 1 >= 2 * count
    most = 2 if airy or height > 4 else 1
    held = _lines(view.steps[at], width, most, view.plain)
    room = max(1, height - 1 - (len(held) - 1))
    first = 0 if airy else max(0, min(at - room // 2, count - room))
    last = count if airy else min(count, first + room)
    rows.head("STEPS", view.steps_title, _place(view, first, last))
    for index in range(first, last):
        line = view.steps[index]
        shown = held if index == at else _lines(line, width, 2 if airy else 1, view.plain)
        for number, (left, right) in enumerate(shown):
            if index == at:
                sign = ">" if number == 0 else " "
                rows.add(Piece(f"{sign} {left}"), right=(Piece(right),) if right else (), fill="held")
            else:
                _plain_line(rows, line, left, right, number)
        if airy and len(shown) == 1:
            rows.blank()
    return rows.content()


def _place(view: View, first: int, last: int) -> str:
    """How many are answered, and which lines are in sight when not all are."""
    count = len(view.steps)
    answered = sum(1 for line in view.steps if line.state != "open")
    if last - first < count:
        return f"steps {first + 1}-{last} of {count}, {answered} answered"
    return f"{answered} of {count} answered"


def state_word(line: StepLine) -> str:
    """How a step stands, in a word. An open killer step says so in capitals."""
    if line.state == "open":
        return "KILLER" if line.step.killer else "open"
    return {"not_done": "NOT DONE", "not_applicable": "n/a"}.get(line.state, "done")


def _answer(line: StepLine) -> str:
    """What was answered where the word alone does not say it; who answers while it is open, or what an earlier
    visit said that asks for it again."""
    if line.state == "open":
        return line.words or line.step.owner or ""
    answer = "" if line.state == "done" else line.words
    for word in ("not done", "not applicable"):
        answer = answer.removeprefix(word).removeprefix(": ")
    if line.step.killer:
        return f"{answer}  killer" if answer else "killer"
    return answer


def _lines(line: StepLine, width: int, most: int, plain: bool) -> list[tuple[str, str]]:
    """The step as rows, each with its left and right part, without the sign of the held place.

    The right part gives way where the step itself would be cut for it.
    """
    # Asked again in this visit: the words say so even where the earlier answer has no room.
    asked = f"again: {line.step.say}" if line.anew else line.step.say
    say, right = inert(asked, plain), inert(_answer(line), plain)
    right = f"  {right} " if right else ""
    full = width - 2 - WORD
    narrow = full - cells(right) - 1
    if line.state == "open" and cells(say) > narrow:
        right, narrow = "", full
    elif narrow < full // 2:
        right = f"  {clip(right.strip(), full // 2 - 3)} "
        narrow = full - cells(right) - 1
    folded = fold(say, narrow, most)
    head = f"{state_word(line):<{WORD}}"
    return [
        (f"{head if n == 0 else ' ' * WORD}{part}", right if n == 0 else "") for n, part in enumerate(folded)
    ]


def _plain_line(rows: Rows, line: StepLine, left: str, right: str, number: int) -> None:
    word, say = _paints(line)
    answer: PaintName = "sky" if line.state == "value" else "quiet"
    rows.add(
        Piece("  "), Piece(left[:WORD], word if number == 0 else None), Piece(left[WORD:], say),
        right=(Piece(right, answer),) if right else (),
    )  # fmt: skip


def _paints(line: StepLine) -> tuple[PaintName, PaintName]:
    match line.state:
        case "open":
            return ("amber", "strong") if line.step.killer else ("text", "text")
        case "not_done":
            return "strong", "text"
        case _:
            return "quiet", "quiet"
