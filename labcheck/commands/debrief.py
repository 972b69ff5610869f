"""``labcheck debrief CASE [--html FILE]``: the sheet that looks back on a case."""

from __future__ import annotations

import argparse

from labcheck.commands.ledgers import as_keys, folded, ledger_of
from labcheck.commands.output import CommandError, say
from labcheck.debrief.sheet import sheet


def run(chosen: argparse.Namespace) -> int:
    """Print the sheet."""
    if chosen.html is not None:
        raise CommandError("the page is not made yet; without --html the sheet is printed here")
    (key,) = as_keys([chosen.case])
    with ledger_of(chosen, read_only=True) as ledger:
        case = folded(ledger, key)
        head = ledger.head(key)
    for line in sheet(case, head.hash_hex, head.seq):
        say(line)
    return 0
