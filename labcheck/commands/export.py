"""``labcheck export CASE... --as FORMAT --to DIR``: cases leave the ledger, each file whole or not at all."""

from __future__ import annotations

import argparse

from labcheck.commands.ledgers import as_keys, ledger_of
from labcheck.commands.output import CommandError, say
from labcheck.registry.errors import ExportError
from labcheck.registry.exporting import export_case, known_format, known_profile
from labcheck.registry.stored import load


def run(chosen: argparse.Namespace) -> int:
    """Write every case in every format and print the paths. All cases are read before the first is written."""
    try:
        known_profile(chosen.profile)
        for name in chosen.formats:
            known_format(name)
        with ledger_of(chosen, read_only=True) as ledger:
            loaded = [load(ledger, key) for key in dict.fromkeys(as_keys(chosen.cases))]
        for case, stored in loaded:
            written = export_case(
                case, stored, chosen.formats, chosen.to, profile=chosen.profile, excel=chosen.excel
            )
            for path in written:
                say(str(path))
    except ExportError as fault:
        raise CommandError(str(fault)) from None
    return 0
