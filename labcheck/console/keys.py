"""The one key table. The screens look presses up here; the bottom row, the help and the key card are made from it.

Rules the table keeps (and a test checks):

- a letter only opens something; nothing that is logged hangs on a single printable key, because an unknown
  key of a pedal or a broken escape sequence can arrive as any letter;
- the exception is Space, which acts only where attempts are, and a digit inside a panel, which was asked for;
- no action differs from another by Shift, and none needs it; a letter counts the same with caps lock on;
- F3, F10, F11, F13 and up and ctrl+space are never used: some terminals swallow them or turn them into others;
- whatever logs at once is undone by F9, which is as far from Enter as the board allows.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

Where = Literal["case", "list", "typing", "home", "plan"]
"""Where a key works: the running case, a panel that lists, a panel that takes text, the home and plan screens."""

CASE_AND_LISTS: tuple[Where, ...] = ("case", "list")
CASE_ALWAYS: tuple[Where, ...] = ("case", "list", "typing")
EVERYWHERE: tuple[Where, ...] = ("case", "list", "typing", "home", "plan")
FORMS: tuple[Where, ...] = ("list", "typing", "plan")


@dataclass(frozen=True, slots=True)
class Key:
    """One line of the table.

    ``keys``: Textual's key names, the printed one first. ``shown``: that key as printed on a board.
    ``word``: one short word for the bottom row. ``text``: what it does, for help and card.
    ``logs``: the press itself writes an entry. ``group``: the heading it stands under.
    """

    id: str
    keys: tuple[str, ...]
    shown: str
    word: str
    text: str
    where: tuple[Where, ...]
    group: str
    logs: bool = False


RECORD = "Record at once (F9 takes it back)"
OPEN = "Open a panel (nothing is recorded yet)"
MOVE = "Move and leave"
START = "First screen and plan"

KEYS: tuple[Key, ...] = (
    Key("call", ("enter",), "Enter", "call",
        "record the expected call as the operator says it", ("case",), RECORD, True),
    Key("energy", ("space", "f6"), "Space", "energy",
        "energy on / off, in stages that have attempts (F6 also while typing)",
        CASE_AND_LISTS, RECORD, True),
    Key("step_done", ("right",), "Right", "done",
        "the marked step is done, or open it for its value", ("case",), RECORD, True),
    Key("mark", ("f2",), "F2", "mark", "mark this moment, say later what it was", CASE_ALWAYS, RECORD, True),
    Key("pacing", ("f7",), "F7", "pacing", "rapid pacing on / off", CASE_ALWAYS, RECORD, True),
    Key("compressions", ("f8",), "F8", "compress", "chest compressions on / off", CASE_ALWAYS, RECORD, True),
    Key("silence", ("f5",), "F5", "silence",
        "silence the reminder on the screen for this case", CASE_ALWAYS, RECORD, True),
    Key("undo", ("f9", "ctrl+z"), "F9", "undo",
        "undo the last press; it stays in the log as void", CASE_ALWAYS, RECORD, True),
    Key("bailout", ("b", "f4"), "B", "bailout",
        "bailout: start, work through or close one (F4 also while typing)",
        CASE_AND_LISTS, OPEN),
    Key("attempt", ("a",), "A", "result", "the result of the attempt", CASE_AND_LISTS, OPEN),
    Key("reading", ("r",), "R", "reading", "a reading, or a sample sent", CASE_AND_LISTS, OPEN),
    Key("drug", ("d",), "D", "drug", "a drug given", CASE_AND_LISTS, OPEN),
    Key("device", ("v",), "V", "device", "a device used or changed", CASE_AND_LISTS, OPEN),
    Key("fault", ("x",), "X", "fault", "a fault", CASE_AND_LISTS, OPEN),
    Key("note", ("n",), "N", "note", "a note in words", CASE_AND_LISTS, OPEN),
    Key("late", ("l",), "L", "late",
        "late entry: what was forgotten, and when it happened", CASE_AND_LISTS, OPEN),
    Key("cusp", ("c",), "C", "cusp",
        "cusp: move the last entry, go to, abandon, change the order", CASE_AND_LISTS, OPEN),
    Key("step_other", ("left",), "Left", "other", "another answer to the marked step", ("case",), OPEN),
    Key("stages", ("s",), "S", "stages", "stages: go back, jump, skip", CASE_AND_LISTS, OPEN),
    Key("entries", ("e",), "E", "entries", "all entries: look back, correct, void", CASE_AND_LISTS, OPEN),
    Key("decision", ("y",), "Y", "decide", "a decision", CASE_AND_LISTS, OPEN),
    Key("handover", ("h",), "H", "handover", "another person takes the keys", CASE_AND_LISTS, OPEN),
    Key("clocks", ("k",), "K", "clocks", "compare with the imaging system's clock", CASE_AND_LISTS, OPEN),
    Key("signout", ("o",), "O", "sign-out", "sign-out list, and closing the case", CASE_AND_LISTS, OPEN),
    Key("runs", ("p",), "P", "on/off",
        "anything counted on and off: pacing, compressions, balloon", CASE_AND_LISTS, OPEN),
    Key("sources", ("i",), "I", "sources", "where the limits on the screen come from", CASE_AND_LISTS, OPEN),
    Key("debrief", ("g",), "G", "look back", "the debrief of this case, so far or sealed", CASE_AND_LISTS, OPEN),
    Key("takeover", ("t",), "T", "take over",
        "take over a case that another console has, and that is only looked at here", CASE_AND_LISTS, OPEN),
    Key("help", ("f1", "question_mark"), "F1", "keys", "all keys", EVERYWHERE, OPEN),
    Key("down", ("down",), "Down", "next", "next line", EVERYWHERE, MOVE),
    Key("up", ("up",), "Up", "back", "line before", EVERYWHERE, MOVE),
    Key("back", ("escape",), "Esc", "leave", "leave the panel or screen; nothing is recorded", FORMS, MOVE),
    Key("quit", ("ctrl+q",), "ctrl+Q", "quit",
        "quit the program (asked first; an open case waits)", EVERYWHERE, MOVE),
    Key("resume", ("enter",), "Enter", "open", "open the marked case, or a new one", ("home",), START),
    Key("new", ("n",), "N", "new", "plan a new case", ("home",), START),
    Key("rehearse", ("h",), "H", "rehearse",
        "plan a rehearsal: marked as not real, never exported as real", ("home",), START),
    Key("next_field", ("tab",), "Tab", "next", "next line of the plan", ("plan",), START),
    Key("change", ("right", "left"), "Right", "change", "choose the next or former value", ("plan",), START),
    Key("told_more", ("pagedown", "pageup"), "PageDown", "more",
        "read on in what the plan comes to so far", ("plan",), START),
    Key("begin", ("f2",), "F2", "begin", "open the case with this plan", ("plan",), START),
)  # fmt: skip

TYPING_ALIASES = {"energy": "f6", "bailout": "f4"}
"""Keys whose printable form is text while typing; the alias still works there."""

_FORBIDDEN = ("f3", "f10", "f11", "ctrl+space", "ctrl+@", *(f"f{n}" for n in range(13, 25)))


def find(key: str, where: Where) -> Key | None:
    """The line of the table for a pressed key. Letters count the same with caps lock on."""
    name = key.lower() if len(key) == 1 else key.removeprefix("upper_") if key.startswith("upper_") else key
    for line in KEYS:
        if name in line.keys and (where in line.where or _alias(line, name, where)):
            return line
    return None


def _alias(line: Key, name: str, where: Where) -> bool:
    return where == "typing" and TYPING_ALIASES.get(line.id) == name


_PRINTED = {"space": "Space", "escape": "Esc", "tab": "Tab", "pageup": "PageUp", "pagedown": "PageDown"}


def printed(key: str, character: str | None = None) -> str:
    """A key as it is printed on a board, for saying which one it was."""
    if character is not None and character.isprintable() and character != " ":
        return character.upper()
    return _PRINTED.get(key, key[:1].upper() + key[1:] if len(key) < 24 else "that key")


@lru_cache(maxsize=128)
def by_id(key_id: str) -> Key:
    """The line with that id. Raises ``StopIteration`` for an id that is not in the table."""
    return next(line for line in KEYS if line.id == key_id)


def faults() -> tuple[str, ...]:
    """What is wrong with the table, in words; empty when it keeps the rules at the top of this file."""
    found: list[str] = []
    for line in KEYS:
        found += [f"{line.id}: {key} is not safe" for key in line.keys if key in _FORBIDDEN]
        found += [f"{line.id}: {key} needs Shift" for key in line.keys if "shift" in key or key.isupper()]
        printable = [key for key in line.keys if len(key) == 1 or key == "space"]
        if line.logs and printable and line.id != "energy":
            found.append(f"{line.id}: {printable[0]} would log by itself")
    for where in EVERYWHERE:
        seen: dict[str, str] = {}
        for line in KEYS:
            if where not in line.where:
                continue
            for key in line.keys:
                if key in seen:
                    found.append(f"{where}: {key} is both {seen[key]} and {line.id}")
                seen[key] = line.id
    return tuple(found)


def card(width: int = 78) -> str:
    """The key card as plain text, to print and lay beside the keyboard."""
    out = ["labcheck key card", "=" * 17, ""]
    for group in (RECORD, OPEN, MOVE, START):
        out.append(group)
        for line in KEYS:
            if line.group == group:
                out += _wrapped(line, width)
        out.append("")
    out += [
        "Inside a panel a digit picks and records; it was asked for.",
        "labcheck records and prompts. The local protocol and the physician decide.",
    ]
    return "\n".join(out) + "\n"


def _wrapped(line: Key, width: int) -> list[str]:
    room = width - 12
    words, rows = line.text.split(), [""]
    for word in words:
        if rows[-1] and len(rows[-1]) + 1 + len(word) > room:
            rows.append("")
        rows[-1] = f"{rows[-1]} {word}".strip()
    return [f"  {line.shown:<9} {rows[0]}", *(" " * 12 + row for row in rows[1:])]
