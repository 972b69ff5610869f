"""``labcheck transcribe SCRIPT``: a paper record goes into the ledger, every entry marked transcribed.

The whole script is decided before the first entry is written; a fault in entry 90 leaves nothing of entry 1.
"""

from __future__ import annotations

import argparse
import os
from itertools import chain
from pathlib import Path

from labcheck.caselog.case import Case
from labcheck.caselog.deciding import Refused, decide
from labcheck.caselog.events import Event
from labcheck.caselog.folding import begin, fold, fold_all
from labcheck.caselog.playing import refusal, transcribed
from labcheck.caselog.script import Script, read_script
from labcheck.checklist.complaint import ChecklistError
from labcheck.checklist.model import Checklist
from labcheck.commands.files import read_bytes
from labcheck.commands.ledgers import ledger_of
from labcheck.commands.output import CommandError, say
from labcheck.commands.shelf import find_checklist
from labcheck.debrief.kept import add
from labcheck.debrief.summary import summarise
from labcheck.ledger.clocks import Clock, SystemClock
from labcheck.ledger.keys import new_case_key


def run(chosen: argparse.Namespace) -> int:
    """Decide every entry, then write them all. Raises ``CommandError`` naming the first entry that is refused."""
    try:
        script = read_script(read_bytes(chosen.script), chosen.script.name)
    except ChecklistError as error:
        raise CommandError(str(error.complaints[0])) from None
    checklist, text, digest = find_checklist(script.head.checklist, chosen.script.parent)
    with ledger_of(chosen, read_only=False) as ledger:
        key = new_case_key(os.urandom, ledger.has)
        presses = decided(script, checklist, key, digest, SystemClock())
        ledger.keep_checklist(text)
        saved = ledger.append_case(presses)
        entries = sum(len(press) for press in presses)
        kind = " (rehearsal)" if script.head.rehearsal else ""
        say(f"{key}: {entries} entries transcribed from {script.name}{kind}")
        _keep_figures(
            ledger.folder, fold_all(begin(key, checklist), chain.from_iterable(presses)), saved.head_hex
        )
    return 0


def _keep_figures(folder: Path, case: Case, head_hex: str) -> None:
    """Keep a sealed case's figures for later debriefs, as the console does at the seal."""
    if case.seal is not None:
        add(folder, summarise(case, head_hex))


def decided(
    script: Script, checklist: Checklist, key: str, digest: str, clock: Clock
) -> list[tuple[Event, ...]]:
    """The events of every press, in order. Raises ``CommandError`` at the first refusal."""
    case = begin(key, checklist)
    presses: list[tuple[Event, ...]] = []
    for number, intent in enumerate(transcribed(script, key, digest)):
        outcome = decide(case, intent, clock.stamp())
        if isinstance(outcome, Refused):
            raise CommandError(f"{refusal(script, number, outcome)}; nothing was written")
        for event in outcome.events:
            case = fold(case, event)
        if outcome.events:
            presses.append(outcome.events)
    return presses
