"""``labcheck rebuild --to DIR``: a new ledger out of what a damaged one still proves, with the mirrors' help."""

from __future__ import annotations

import argparse

from labcheck.commands.files import read_bytes
from labcheck.commands.output import CommandError, say
from labcheck.commands.place import ledger_folder
from labcheck.ledger.errors import LedgerError
from labcheck.ledger.rebuild import beside, rebuild


def run(chosen: argparse.Namespace) -> int:
    """One line a case: 0 when all of it is in the new ledger, 1 when something is lost. The old one stays."""
    texts = [read_bytes(path) for path in chosen.checklist]
    try:
        made = rebuild(ledger_folder(chosen), chosen.to, texts)
    except LedgerError as fault:
        raise CommandError(str(fault)) from None
    for case in made:
        helped = f", {case.from_mirror} of them from the mirror" if case.from_mirror else ""
        note = f"; {case.note}" if case.note else ""
        say(f"{case.case}: {case.entries} entries{helped}{note}")
    for path in beside(chosen.to):
        say(f"{path.name}: taken over as it was")
    say(f"{chosen.to}: {len(made)} cases; use it with --ledger, and keep the old folder")
    return 1 if any(case.note for case in made) else 0
