"""The files of a debrief: the team's agreements that it reads, and the page that it writes."""

from __future__ import annotations

import argparse
from pathlib import Path

from labcheck.checklist.complaint import ChecklistError
from labcheck.commands.files import read_bytes
from labcheck.commands.output import CommandError, say
from labcheck.debrief import agreed
from labcheck.debrief.agreed import Agreed


def agreed_of(chosen: argparse.Namespace, folder: Path) -> Agreed:
    """The team's agreements: from the file named, or the one in the ledger's folder where there is one."""
    path: Path = chosen.agreed or folder / agreed.NAME
    if chosen.agreed is None and not path.exists():
        return agreed.NOTHING
    try:
        return agreed.read_agreed(read_bytes(path), path.name)
    except ChecklistError as fault:
        raise CommandError(str(fault.complaints[0])) from None


def write_page(path: Path, made: bytes) -> None:
    """The page, whole or not at all."""
    from labcheck.registry.errors import ExportError
    from labcheck.registry.writing import Staged

    try:
        with Staged(path.parent) as staged:
            staged.create(path.name).write(made)
    except ExportError as fault:
        raise CommandError(str(fault)) from None
    say(f"{path}: {len(made)} bytes, one page that needs nothing else; print it from any browser")
