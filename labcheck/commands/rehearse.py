"""``labcheck rehearse [SCRIPT] [--pace N]``: the console, driven by a script until a person takes the keys."""

from __future__ import annotations

import argparse
from pathlib import Path

from labcheck.caselog.script import Script, read_script
from labcheck.checklist.complaint import ChecklistError
from labcheck.commands import shelf
from labcheck.commands.files import read_bytes
from labcheck.commands.ledgers import ledger_of
from labcheck.commands.output import CommandError
from labcheck.commands.screen import demand_screen

USUAL_PACE = 20.0
"""Times faster than life: an hour in three minutes, slow enough to watch each stage."""


def run(chosen: argparse.Namespace) -> int:
    """Play the script, or the shipped one, in a case that is marked as not real."""
    script, beside = _script(chosen.script)
    checklist, text, _ = shelf.find_checklist(script.head.checklist, beside)
    demand_screen()
    with ledger_of(chosen, read_only=False) as ledger:
        from labcheck.console.app import run_console
        from labcheck.console.playing import Player, ScriptClock

        clock = ScriptClock(script, chosen.pace or USUAL_PACE)
        player = Player(script, checklist, text, clock)
        return run_console(ledger, shelf.SHIPPED, clock=clock, folder=ledger.folder, player=player)


def _script(path: Path | None) -> tuple[Script, Path | None]:
    """The script and the folder its own checklist may lie in. A shipped script may be named without a path."""
    beside: Path | None
    if path is not None and path.exists():
        text, name, beside = read_bytes(path), path.name, path.parent
    elif path is None or path.name == str(path):
        wanted = shelf.DEFAULT_REHEARSAL if path is None else path.name.removesuffix(".toml")
        text, name, beside = shelf.rehearsal_text(wanted), f"{wanted}.toml", None
    else:
        raise CommandError(f"{path}: there is no such file; without a script the shipped rehearsal is played")
    try:
        return read_script(text, name), beside
    except ChecklistError as error:
        raise CommandError(str(error.complaints[0])) from None
