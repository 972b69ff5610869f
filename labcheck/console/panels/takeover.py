"""Taking a case over from the console that has it: asked once, in words that say what happens to the other one."""

from __future__ import annotations

from typing import TYPE_CHECKING

from labcheck.console.panels.panel import Panel, Press
from labcheck.console.panels.pick import Item, Pick

if TYPE_CHECKING:
    from labcheck.console.case_screen import CaseScreen


def open_panel(screen: CaseScreen) -> Panel | None:
    """The question, or None where there is nothing to take over."""
    if not screen.read_only:
        screen.tell("this console has the case: there is nothing to take over")
        return None

    def take(_press: Press) -> None:
        screen.console.resume(screen.case.key, take=True)

    lead = [
        "From then on the other console can record nothing more. Its next press is",
        "refused and shown there, to be entered here. The takeover is an entry.",
    ]
    return Pick(screen, "TAKE THE CASE OVER?", [Item("take it over, record here", take)], lead, "takeover")
