"""The six keys that matter now, for the bottom row."""

from __future__ import annotations

from labcheck.caselog.case import Case
from labcheck.caselog.progress import next_slot
from labcheck.checklist import finding
from labcheck.console.keys import by_id
from labcheck.console.panels.panel import Panel
from labcheck.console.view import FooterKey

WIDE = ("mark", "cusp", "fault", "device", "stages", "entries", "note", "signout")
"""What a wide screen has room for besides."""


def keys_for(case: Case, panel: Panel | None, *, read_only: bool = False) -> tuple[FooterKey, ...]:
    """Most wanted first: the row cuts from the end. The bailout is always among them, where one can be recorded."""
    if read_only:
        own = () if panel is None else (*(FooterKey(key, word) for key, word in panel.hints), *_named("back"))
        return own or _named("takeover", "entries", "debrief", "sources", "help", "quit")
    if panel is not None:
        return _in_panel(panel)
    if case.seal is not None:
        return _named("signout", "debrief", "entries", "late", "help", "quit")
    visit = case.visit
    if visit is None and case.visits and next_slot(case) is None:
        return _named("signout", "bailout", "undo", "help", "late", "reading", *WIDE)
    stage = finding.stage(case.checklist, visit.stage) if visit else None
    if stage is not None and stage.attempts is not None:
        first = ("call", "energy", "attempt") if stage.attempts.energy else ("call", "attempt", "step_done")
        if case.burst is not None:
            return (FooterKey("Space", "energy OFF"), *_named("attempt", "bailout", "reading", "undo", "help"))
        return _named(*first, "bailout", "undo", "help", "late", "reading", *WIDE)
    return _named("call", "step_done", "reading", "bailout", "undo", "help", "late", "drug", *WIDE)


def _named(*ids: str) -> tuple[FooterKey, ...]:
    return tuple(FooterKey(key.shown, key.word) for key in map(by_id, dict.fromkeys(ids)))


def _in_panel(panel: Panel) -> tuple[FooterKey, ...]:
    if panel.typing:
        return (FooterKey("Enter", "record"), FooterKey("Esc", "leave"), FooterKey("F4", "bailout"),
                FooterKey("F2", "mark"), FooterKey("F9", "undo"))  # fmt: skip
    own = tuple(FooterKey(key, word) for key, word in panel.hints)
    return (*own, *_named("back", "bailout", "mark", "undo"))
