"""Whether there is a terminal to draw the console in."""

from __future__ import annotations

import sys

from labcheck.commands.output import CommandError


def demand_screen() -> None:
    """Raise ``CommandError`` unless keys and screen are a terminal (the screen is written to stderr)."""
    if not (sys.stdin.isatty() and sys.stderr.isatty()):
        raise CommandError("the console needs a terminal for its keys and its screen; start it in one")
