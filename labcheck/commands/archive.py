"""``labcheck archive CASE --to FILE``: one case on its own, proved before it gets its name."""

from __future__ import annotations

import argparse

from labcheck.commands.ledgers import as_keys, ledger_of
from labcheck.commands.output import say
from labcheck.ledger.archive import archive


def run(chosen: argparse.Namespace) -> int:
    """Write the file and print its head."""
    (key,) = as_keys([chosen.case])
    with ledger_of(chosen, read_only=True) as ledger:
        head = archive(ledger, key, chosen.to)
    say(f"{chosen.to}: case {key}, {head.seq} entries, head {head.short}")
    return 0
