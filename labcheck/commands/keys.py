"""``labcheck keys``: the key card, to be printed and kept beside the console."""

from __future__ import annotations

import argparse

from labcheck.commands.output import say
from labcheck.console.keys import card


def run(chosen: argparse.Namespace) -> int:
    """Print the card that is made from the one key table."""
    say(card().rstrip("\n"))
    return 0
