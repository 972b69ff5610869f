"""Where the ledger is: the folder named on the command line, or the platform's place for a user's data."""

from __future__ import annotations

import argparse
from pathlib import Path


def ledger_folder(chosen: argparse.Namespace) -> Path:
    """The ledger's folder; it need not exist yet."""
    named: Path | None = getattr(chosen, "ledger", None)
    if named is not None:
        return named
    from platformdirs import user_data_path

    return user_data_path("labcheck", appauthor=False) / "ledger"
