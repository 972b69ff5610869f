"""The next call: what the operator is expected to say, the key that records it, and what is not yet true."""

from __future__ import annotations

import re

from textual.content import Content

from labcheck.caselog.limit_words import VERIFY
from labcheck.console import keys
from labcheck.console.view import Expected, View
from labcheck.console.zones.rows import CUT, Piece, Rows, cells, clip, fold, inert

NOT_YET = "NOT YET"
LABEL = "NEXT  "
SHORT_SOURCE = re.compile(r" \([^()]*\)\Z")


def render(view: View, width: int, height: int) -> Content:
    """The call as a full bar once everything before it is true; until then, and while energy is on, an open bar.

    An answer to the last press (why a call was not recorded) takes the last row.
    """
    rows = Rows(width, height, view.plain)
    expected = view.expected
    if expected is None:
        _nothing(rows, view)
    elif height < 4:
        _short(rows, view, expected)
    else:
        _tall(rows, view, expected)
    return rows.content()


def _nothing(rows: Rows, view: View) -> None:
    words = "the case is sealed" if view.case.seal is not None else "no call is expected"
    if view.case.seal is None and view.case.visits:
        words = f"{words}; {keys.by_id('signout').shown} opens the sign-out list"
    if rows.height >= 4:
        rows.head("NEXT CALL")
        rows.add(Piece(f"  {words}", "strong"))
        rows.blank(rows.left - 1)
    else:
        rows.add(Piece(LABEL, "label"), Piece(words, "strong"))
    _answer(rows, view)


def _short(rows: Rows, view: View, expected: Expected) -> None:
    key = Piece(f" {_key_words(view, expected, rows)} ")
    if expected.unmet or view.case.burst is not None:
        rows.add(Piece(LABEL, "label"), Piece(f'[ "{expected.words}" ]', "amber"), right=(key,))
    else:
        rows.add(Piece(LABEL, "label"), Piece(f'  "{expected.words}"'), right=(key,), fill="wanted")
    rest = 1 if view.answer else 0
    unread = _unread(view)
    if expected.unmet:
        _missing(rows, expected, rows.left - rest)
    elif view.case.burst is not None and rows.left > rest:
        rows.add(_energy_words())
    elif unread and rows.left > rest:
        rows.add(*unread)
    elif expected.then and rows.left > rest:
        rows.add(Piece(f'then  "{expected.then}"', "quiet"))
    _answer(rows, view)


def _tall(rows: Rows, view: View, expected: Expected) -> None:
    rows.head("NEXT CALL", "", f'then "{expected.then}"' if expected.then else "")
    key = Piece(f"{_key_words(view, expected, rows)}  ")
    waits = bool(expected.unmet) or view.case.burst is not None
    high = rows.height >= 5 and not waits
    if waits:
        rows.add(Piece(f'  [ "{expected.words}" ]', "amber"), right=(key,))
    else:
        if high:
            rows.add(fill="wanted")
        rows.add(Piece(f'    "{expected.words}"'), right=(key,), fill="wanted")
        if high:
            rows.add(fill="wanted")
    if view.case.burst is not None:
        rows.add(_energy_words())
    rest = 1 if view.answer else 0
    _missing(rows, expected, rows.left - rest)
    unread = _unread(view)
    if unread and rows.left > rest:
        rows.add(*unread)
    _answer(rows, view)


def _unread(view: View) -> list[Piece]:
    """Killer lines of the stage that nobody has answered: the call may come, but they are said before it.

    What the call itself waits for comes first.
    """
    lines = [
        line for line in view.steps if line.state == "open" and line.step.killer and ":" not in line.stage
    ]
    if not lines or (view.expected is not None and view.expected.unmet):
        return []
    count = "1 killer step" if len(lines) == 1 else f"{len(lines)} killer steps"
    return [Piece("  "), Piece("OPEN", "amber"), Piece(f"  {count}: {lines[0].step.say}", "strong")]


def _energy_words() -> Piece:
    """While energy is on its end is waited for, and the call stands back."""
    return Piece(f"  energy is on: {keys.by_id('energy').shown} when it is off", "strong")


def _key_words(view: View, expected: Expected, rows: Rows) -> str:
    """The key and what it does now; the key alone rather than a call cut short. An open panel has the key first."""
    if view.read_only:
        return "recorded at the other console"
    key = keys.by_id("call").shown
    if view.panel is not None:
        return f"{keys.by_id('back').shown}, then {key}"
    words = f"{key}: needs a reason" if expected.unmet else f"{key} as it is said"
    taken = cells(inert(expected.words, rows.plain)) + len(LABEL) + len('[ "" ]') + 3
    return words if taken + len(words) <= rows.width else key


def _missing(rows: Rows, expected: Expected, room: int) -> None:
    """The unmet lines, each on its own row while there are rows, else run together."""
    lines = [inert(unmet.text, rows.plain) for unmet in expected.unmet]
    if not lines or room < 1:
        return
    gap = " " * (len(NOT_YET) + 6)
    if len(lines) <= room:
        for number, line in enumerate(lines):
            right = [] if number else _verify(rows, line)
            rows.add(Piece("  "), _sign(number), Piece(f"  {line}", "strong"), right=right)
        return
    count = f"{len(lines)} in all"
    wide = rows.width - len(gap) - len(count) - 1
    folded = fold("  +  ".join(lines), wide, room)
    source = SHORT_SOURCE.search(lines[0])
    if room == 1 and source is not None and not folded[0].startswith(lines[0]):
        # The words are cut rather than where the limit in them comes from.
        folded = [clip(lines[0][: source.start()], wide - cells(source[0]) - len(CUT)) + source[0] + CUT]
    for number, line in enumerate(folded):
        more = [Piece(count, "amber")] if line.endswith(CUT) else _verify(rows, line) if not number else []
        rows.add(Piece("  "), _sign(number), Piece(f"  {line}", "strong"), right=more)


def _verify(rows: Rows, line: str) -> list[Piece]:
    """The reminder that limits are the site's own, where a limit is named and there is room for it."""
    words = f"{VERIFY}: {keys.by_id('sources').shown}"
    if not line.rstrip().endswith(")") or cells(line) + len(NOT_YET) + 8 + len(words) > rows.width:
        return []
    return [Piece(words, "quiet")]


def _sign(number: int) -> Piece:
    return Piece(f" {NOT_YET} ", "wanted") if number == 0 else Piece(" " * (len(NOT_YET) + 2))


def _answer(rows: Rows, view: View) -> None:
    if view.answer and rows.left:
        rows.blank(rows.left - 1)
        rows.add(Piece(f" {view.answer}"), fill="held")
