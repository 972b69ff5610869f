"""``labcheck``: the console."""

from __future__ import annotations

import argparse

from labcheck.commands.ledgers import ledger_of
from labcheck.commands.screen import demand_screen
from labcheck.commands.shelf import SHIPPED


def run(chosen: argparse.Namespace) -> int:
    """Drive cases until the person leaves; the exit status is the console's."""
    demand_screen()
    with ledger_of(chosen, read_only=False) as ledger:
        from labcheck.console.app import run_console

        return run_console(ledger, SHIPPED, folder=ledger.folder)
