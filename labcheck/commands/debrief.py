"""``labcheck debrief``: one case looked back on (in lines or as a page), or a whole series of cases."""

from __future__ import annotations

import argparse
import unicodedata
from collections.abc import Sequence
from pathlib import Path

from labcheck.caselog.case import Case
from labcheck.commands.debrief_files import agreed_of, write_page
from labcheck.commands.ledgers import as_keys, folded, ledger_of
from labcheck.commands.looking_back import history_of
from labcheck.commands.output import CommandError, say
from labcheck.debrief import notebook
from labcheck.debrief.history import History
from labcheck.debrief.notes import Note, debriefing, roles
from labcheck.debrief.summary import summarise
from labcheck.ledger.store import FileLedger
from labcheck.reference.figures import Reason


def run(chosen: argparse.Namespace) -> int:
    """Do what the flags ask for."""
    if chosen.series:
        from labcheck.commands.debrief_series import run as run_series

        return run_series(chosen)
    if chosen.apart_by is not None:
        raise CommandError("--apart-by belongs to --series")
    if len(chosen.cases) != 1:
        raise CommandError("name one case, or ask for --series; see: labcheck debrief --help")
    (key,) = as_keys(chosen.cases)
    writing = chosen.learned is not None or chosen.action is not None
    with ledger_of(chosen, read_only=True) as ledger:
        case = folded(ledger, key)
        if writing:
            return _write(chosen, ledger.folder, case)
        head = ledger.head(key)
        beside = _history(chosen, ledger, case, head.hash_hex)
        notes = debriefing(notebook.read_notes(ledger.folder)).of(key)
    if chosen.html is not None:
        from labcheck.debrief.page.document import page

        write_page(chosen.html, page(case, head.hash_hex, head.seq, beside, notes))
        return 0
    from labcheck.debrief.sheet import sheet

    for line in sheet(case, head.hash_hex, head.seq, beside, notes):
        say(line)
    return 0


def _history(chosen: argparse.Namespace, ledger: FileLedger, case: Case, head: str) -> History:
    found = history_of(
        ledger,
        summarise(case, head),
        agreed_of(chosen, ledger.folder),
        rehearsals=chosen.rehearsals,
        named=as_keys(chosen.against) if chosen.against else None,
    )
    if isinstance(found, Reason):
        raise CommandError(found.text)
    return found


def _write(chosen: argparse.Namespace, folder: Path, case: Case) -> int:
    """Add a learning point or an action to the notes."""
    if chosen.html is not None or (chosen.learned is not None and chosen.action is not None):
        raise CommandError("write one note at a time, and make the page afterwards")
    action = chosen.action is not None
    owner = chosen.owner.strip().lower() if chosen.owner else None
    if action and owner not in roles(case):
        raise CommandError(f"an action needs its owner's role with --owner, one of: {', '.join(roles(case))}")
    if not action and (chosen.owner or chosen.by):
        raise CommandError("--owner and --by belong to --action")
    note = add_note(
        folder, case.key, "action" if action else "learned", chosen.action or chosen.learned, owner, chosen.by
    )
    say(f"note {note.n} saved beside case {case.key}; see: labcheck actions")
    return 0


def add_note(
    folder: Path,
    key: str,
    kind: str,
    words: str,
    owner: str | None = None,
    by: str | None = None,
    target: int | None = None,
) -> Note:
    """Append one note. Raises ``CommandError`` where it is not a fair one, ``LedgerError`` where it is not saved."""
    from pydantic import ValidationError

    from labcheck.ledger.clocks import SystemClock

    at = SystemClock().stamp().moment()

    def make(before: Sequence[Note], n: int, prev: str) -> Note:
        # Looked at again under the lock: another program may have closed the action meanwhile.
        if target is not None and not any(
            a.n == target and a.state == "open" for a in debriefing(before).actions
        ):
            raise CommandError(f"action {target} is not open any more; run: labcheck actions --all")
        return Note.model_validate(
            {
                "n": n, "prev": prev, "at": at, "case": key, "kind": kind, "owner": owner, "by": by,
                "text": unicodedata.normalize("NFC", words.strip()), "target": target,
            }
        )  # fmt: skip

    try:
        return notebook.append(folder, make)
    except ValidationError as fault:
        first = fault.errors(include_url=False, include_input=False)[0]
        place = {"text": "the text", "by": "--by"}.get(
            str(first["loc"][0] if first["loc"] else ""), "the note"
        )
        raise CommandError(
            f"{place}: {first['msg'].removeprefix('Value error, ')}; nothing was saved"
        ) from None
