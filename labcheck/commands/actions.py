"""``labcheck actions``: what the debriefs agreed to change and what is still open, by role and never by name."""

from __future__ import annotations

import argparse

from labcheck.caselog.clockwords import date_words
from labcheck.commands.debrief import add_note
from labcheck.commands.ledgers import ledger_of
from labcheck.commands.output import CommandError, say
from labcheck.debrief.notebook import read_notes
from labcheck.debrief.notes import Action, debriefing
from labcheck.ledger.clocks import SystemClock


def run(chosen: argparse.Namespace) -> int:
    """List the open actions (``--all``: every one), or note that one is done or given up."""
    closing = chosen.done if chosen.done is not None else chosen.give_up
    if chosen.done is not None and chosen.give_up is not None:
        raise CommandError("an action is either done or given up")
    with ledger_of(chosen, read_only=True) as ledger:
        actions = debriefing(read_notes(ledger.folder)).actions
        if closing is not None:
            action = _open(actions, closing)
            if not chosen.say:
                raise CommandError("say with --say what was done, or why it was given up")
            kind = "done" if chosen.done is not None else "given_up"
            note = add_note(ledger.folder, action.case, kind, chosen.say, target=action.n)
            say(f"note {note.n} saved: action {action.n} is {kind.replace('_', ' ')}")
            return 0
    shown = [action for action in actions if chosen.all or action.state == "open"]
    today = date_words(SystemClock().stamp().moment())
    for action in sorted(shown, key=lambda a: (a.by or "9999", a.n)):
        late = "  PAST ITS DAY" if action.overdue(today) else ""
        say(f"{action.case}  noted {action.noted}  {action.words}{late}")
    if not shown:
        say("no actions yet" if chosen.all else "no open actions")
    return 0


def _open(actions: tuple[Action, ...], n: int) -> Action:
    found = next((action for action in actions if action.n == n), None)
    if found is None:
        raise CommandError(f"note {n} is no action; run: labcheck actions --all")
    if found.state != "open":
        raise CommandError(f"action {n} is not open any more; run: labcheck actions --all")
    return found
