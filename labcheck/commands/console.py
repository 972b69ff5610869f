"""``labcheck``: the console."""

from __future__ import annotations

import argparse
from contextlib import ExitStack
from typing import TYPE_CHECKING

from labcheck.commands.screen import demand_screen

if TYPE_CHECKING:
    from collections.abc import Sequence

    from labcheck.console.app import Stock


class Shelf:
    """The shipped checklists, looked for when a plan is first asked for."""

    def names(self) -> Sequence[str]:
        """The ids of the checklists."""
        from labcheck.commands.shelf import SHIPPED

        return SHIPPED.names()

    def text(self, name: str) -> bytes:
        """The exact bytes of one."""
        from labcheck.commands.shelf import SHIPPED

        return SHIPPED.text(name)


def run(chosen: argparse.Namespace) -> int:
    """Drive cases until the person leaves; the exit status is the console's."""
    demand_screen()
    from labcheck.console.app import start_console

    with ExitStack() as stack:
        # The ledger is opened, and all it needs imported, once the first picture is on the screen.
        return start_console(lambda: _stock(chosen, stack))


def _stock(chosen: argparse.Namespace, stack: ExitStack) -> Stock:
    from labcheck.commands.ledgers import ledger_of
    from labcheck.console.app import Stock

    ledger = stack.enter_context(ledger_of(chosen, read_only=False))
    return Stock(ledger, Shelf(), folder=ledger.folder)
