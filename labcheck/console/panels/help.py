"""Help and sources: text to read, made from the key table and from the checklist's own sources."""

from __future__ import annotations

import re

from labcheck.caselog.case import Case
from labcheck.caselog.citing import Told
from labcheck.caselog.clinical import plan_lines
from labcheck.caselog.clinical_figures import contrast_lines, contrast_tally
from labcheck.caselog.figures import figures
from labcheck.caselog.limit_words import VERIFY
from labcheck.caselog.stamps import Moment
from labcheck.console.keys import KEYS, MOVE, OPEN, RECORD, START
from labcheck.console.panels.panel import Desk, Panel, Press
from labcheck.console.zones.rows import Piece, Rows, fold, inert

MARK_WORDS = {
    "seen": "read in the source",
    "secondary": "read second-hand",
    "memory": "from memory",
    "practice": "common practice",
    "derived": "computed",
}


SHORT = re.compile(r" \([^()]*verify locally\)")


class Reader(Panel):
    """Paragraphs that scroll. Each is a key (or "") and a text."""

    hints = (("Down", "read on"), ("PageDown", "further"))

    def __init__(self, desk: Desk, title: str, paragraphs: list[tuple[str, str]], panel_id: str) -> None:
        super().__init__(desk, title)
        self.id = panel_id
        self.paragraphs = paragraphs
        self.top = 0

    def body(self, rows: Rows) -> None:
        lines = self._lines(rows.width, rows.plain)
        room = rows.left
        self.top = max(0, min(self.top, len(lines) - room))
        shown = lines[self.top : self.top + room]
        below = len(lines) - self.top - room
        if below > 0:
            shown = shown[:-1]
        for key, text in shown:
            rows.add(Piece(f" {key:<9}" if key or text.startswith(" ") else " ", "label"), Piece(text))
        if below > 0:
            rows.add(Piece(f" {below + 1} more lines: Down, PageDown", "quiet"))

    def _lines(self, width: int, plain: bool) -> list[tuple[str, str]]:
        lines: list[tuple[str, str]] = []
        for key, text in self.paragraphs:
            indent = 10 if key else 1
            parts = fold(inert(text, plain), max(10, width - indent - 1), 6)
            lines.append((key, parts[0]))
            lines += [("", " " * 9 + part if key else part) for part in parts[1:]]
        return lines

    def key(self, press: Press) -> bool:
        move = {"down": 1, "up": -1, "pagedown": 8, "pageup": -8, "home": -9999, "end": 9999}.get(press.key)
        if move is None:
            return False
        self.top = max(0, self.top + move)
        return True


def help_panel(desk: Desk) -> Panel:
    """All keys, under the headings of the table."""
    paragraphs: list[tuple[str, str]] = []
    for group in (RECORD, OPEN, MOVE, START):
        paragraphs.append(("", group.upper()))
        paragraphs += [(line.shown, line.text) for line in KEYS if line.group == group]
    paragraphs.append(("", "labcheck records and prompts. The local protocol and the physician decide."))
    return Reader(desk, "KEYS", paragraphs, "help")


def _computed(case: Case, at: Moment) -> list[Told]:
    """What follows from the plan, and contrast against each limit. A limit that contrast is held against is said
    once, with the contrast."""
    against = contrast_lines(case, at)
    said = {told.id for told in against if not told.missing}
    planned = plan_lines(case.plan) if case.plan is not None else ()
    return [*against, *(told for told in planned if told.id not in said)]


def _whole(words: str, source: str) -> str:
    """The line with its whole source; the short form that stands in it elsewhere is left out."""
    return f"{SHORT.sub('', words)}: {source}" if source else words


def sources_panel(desk: Desk) -> Panel:
    """Where every limit on the screen and in the checklist comes from, each said once."""
    case, now = desk.case, desk.now()
    checklist = case.checklist
    paragraphs = [("", f"{checklist.title}, revision {checklist.revision}. {checklist.verify}")]
    computed = _computed(case, now.moment())
    tally = contrast_tally(case)
    covered = f"tally:{tally.id}" if tally is not None and any(not told.missing for told in computed) else ""
    shown = [(f.words, f.source) for f in figures(case, now) if f.source and f.id != covered]
    lines = [_whole(words, source) for words, source in (*shown, *((told.words, told.source) for told in computed))]
    sources = [f"{s.text} ({MARK_WORDS[s.mark]}); {VERIFY}" for s in checklist.source]
    paragraphs += [("", "ON THE SCREEN AND COMPUTED"), *(("", line) for line in dict.fromkeys(lines))]
    paragraphs += [("", "NAMED BY THE CHECKLIST"), *(("", line) for line in dict.fromkeys(sources))]
    return Reader(desk, "SOURCES  the local protocol overrides every one", paragraphs, "sources")
