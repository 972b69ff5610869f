"""Presses of an earlier run that are not in the log: named when the case is taken up, until somebody enters them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from labcheck.console.keys import by_id
from labcheck.console.panels.panel import Panel, Press
from labcheck.console.panels.pick import Item, Pick
from labcheck.console.unwritten import listed

if TYPE_CHECKING:
    from labcheck.console.case_screen import CaseScreen


def show(screen: CaseScreen) -> None:
    """Before the screen is shown: say what came into the log only now, and open the list of what did not."""
    came = screen.session.earlier.brought_in
    if came:
        screen.answer = f"pressed in an earlier run, in the log only now: {listed(came)}"
    screen.panel = open_panel(screen)


def open_panel(screen: CaseScreen) -> Panel | None:
    """The list, or None where nothing is left of an earlier run."""
    left = screen.session.earlier.left
    if not left:
        return None

    def seen(_press: Press) -> None:
        screen.session.see_earlier()
        screen.turn(None)
        screen.tell("they stay in the side file beside the ledger, and are named no more")

    late = by_id("late").shown
    lead = [
        f"Pressed in an earlier run and NOT IN THE LOG ({len(left)}). Write them down, then enter them with {late}:",
        *(f"  {line.words}" for line in left),
        "Esc: they are named again at the next start, and when you leave.",
    ]
    return Pick(screen, "NOT SAVED", [Item("all are entered, or on paper: name them no more", seen)], lead, "kept")
