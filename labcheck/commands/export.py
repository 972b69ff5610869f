"""``labcheck export CASE... --as FORMAT --to DIR``: cases leave the ledger, each file whole or not at all.

``--all`` exports a batch with a manifest; ``--check FILE...`` looks at files that left; ``--make-key FILE`` makes a
key for the pseudonyms.
"""

from __future__ import annotations

import argparse
import gc
import sys
from pathlib import Path

from labcheck.commands.ledgers import FAULT_FOUND, as_keys, ledger_of
from labcheck.commands.output import CommandError, clean, complain, say
from labcheck.commands.place import ledger_folder
from labcheck.registry.batching import Report, export_batch
from labcheck.registry.checking.files import check_file
from labcheck.registry.errors import ExportError
from labcheck.registry.exporting import Choices, export_case, known_format, known_profile
from labcheck.registry.identifiers import Identifiers, read_identifiers
from labcheck.registry.pseudonyms import make_key, read_key
from labcheck.registry.stored import load

NO_PROFILE = (
    "say who it is for: --profile hospital (clock times, free text, recorder tags, case keys), --profile registry "
    "(year and seconds since access, pseudonyms, no text) or --profile shifted (registry, with times moved by "
    "secret whole weeks)"
)
"""Never chosen for anybody: what a profile lets out cannot be taken back."""
UNREADABLE = 2
MOST_IDENTIFIERS = 256 * 1024
"""Bytes of a file of identifiers: the same limit as for a checklist."""


def run(chosen: argparse.Namespace) -> int:
    """Export, check or make a key; give the exit status."""
    try:
        if chosen.check:
            return _check(chosen.check)
        if chosen.make_key is not None:
            say(str(make_key(chosen.make_key)))
            return 0
        return _export(chosen)
    except ExportError as fault:
        raise CommandError(str(fault)) from None


def _export(chosen: argparse.Namespace) -> int:
    if not chosen.formats or chosen.to is None:
        raise CommandError("say what and where to: --as FORMAT --to DIR; see: labcheck export --help")
    if bool(chosen.cases) == chosen.all:
        raise CommandError("name the cases to export, or say --all; see: labcheck export --help")
    for name in chosen.formats:
        known_format(name)
    choices = _choices(chosen)
    return _batch(chosen, choices) if chosen.all else _named(chosen, choices)


def _choices(chosen: argparse.Namespace) -> Choices:
    if chosen.profile is None:
        raise CommandError(NO_PROFILE)
    key = read_key(chosen.key, ledger_folder(chosen)) if chosen.key is not None else None
    return Choices(
        profile=known_profile(chosen.profile),
        excel=chosen.excel,
        pseudonyms=key,
        identifiers=_identifiers(chosen.identifiers),
        snomed=chosen.snomed,
    )


def _identifiers(path: Path | None) -> dict[str, Identifiers]:
    if path is None:
        return {}
    try:
        with path.open("rb") as file:
            text = file.read(MOST_IDENTIFIERS + 1)
    except OSError as fault:
        raise CommandError(f"{path}: cannot be read: {fault.strerror}") from None
    return read_identifiers(text, str(path))


def _named(chosen: argparse.Namespace, choices: Choices) -> int:
    """Every case in every format; all are read before the first is written."""
    with ledger_of(chosen, read_only=True) as ledger:
        loaded = [load(ledger, key) for key in dict.fromkeys(as_keys(chosen.cases))]
    for case, stored in loaded:
        written = export_case(
            case,
            stored,
            chosen.formats,
            chosen.to,
            profile=choices.profile,
            excel=choices.excel,
            pseudonyms=choices.pseudonyms,
            identifiers=choices.identifiers,
            snomed=choices.snomed,
        )
        for path in written:
            say(str(path))
    return 0


def _batch(chosen: argparse.Namespace, choices: Choices) -> int:
    # A case is hundreds of small lasting objects and no cycles; looking for cycles took a fifth of a batch.
    gc.freeze()
    gc.set_threshold(50_000, 50, 50)
    with ledger_of(chosen, read_only=True) as ledger:
        report = export_batch(
            ledger, ledger.keys(rehearsals=chosen.rehearsals), chosen.formats, chosen.to, choices,
            rehearsals=chosen.rehearsals, only_new=chosen.new, progress=_progress,
        )  # fmt: skip
    say(_summary(report, chosen.to))
    for key, why in report.failed.items():
        say(f"not exported: {key}: {why}")
    return FAULT_FOUND if report.failed else 0


def _summary(report: Report, folder: Path) -> str:
    counts = (
        f"{len(report.exported)} exported, {len(report.unchanged)} unchanged, {len(report.failed)} failed"
    )
    return f"batch {report.number:04d}: {counts}; {folder / f'manifest-{report.number:04d}.json'}"


def _progress(done: int, total: int, line: str) -> None:
    # For people only: a pipe gets the summary on stdout and nothing here.
    if sys.stderr.isatty():
        ending = "\n" if done == total else "\r"
        print(f"\x1b[2K{done} of {total}  {clean(line)[:60]}", end=ending, file=sys.stderr, flush=True)


def _check(paths: list[Path]) -> int:
    """Every file is looked at, whatever the others are: one fault ends with 1, a file that cannot be read with 2."""
    status = 0
    for path in paths:
        try:
            name, findings = check_file(path)
        except ExportError as fault:
            complain(str(fault))
            status = UNREADABLE
            continue
        for finding in findings:
            say(f"{path}: {finding}")
        if not findings:
            say(f"{path}: {name}, nothing wrong found")
        elif status == 0:
            status = FAULT_FOUND
    return status
