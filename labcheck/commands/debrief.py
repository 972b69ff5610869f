"""``labcheck debrief``: one case looked back on (in lines or as a page), or a whole series of cases."""

from __future__ import annotations

import argparse
import unicodedata
from collections.abc import Sequence
from pathlib import Path

from labcheck.caselog.case import Case
from labcheck.checklist.complaint import ChecklistError
from labcheck.commands.files import read_bytes
from labcheck.commands.ledgers import as_keys, folded, ledger_of
from labcheck.commands.looking_back import Shelf, history_of
from labcheck.commands.output import CommandError, say
from labcheck.debrief import agreed, notebook
from labcheck.debrief.agreed import Agreed
from labcheck.debrief.history import History, grouped, series
from labcheck.debrief.notes import Debriefing, Note, debriefing, roles
from labcheck.debrief.summary import Summary, summarise
from labcheck.ledger.store import FileLedger
from labcheck.reference.figures import Reason


def run(chosen: argparse.Namespace) -> int:
    """Do what the flags ask for."""
    if chosen.series:
        return _series(chosen)
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
        _write_page(chosen.html, case, head.hash_hex, head.seq, beside, notes)
        return 0
    from labcheck.debrief.sheet import sheet

    for line in sheet(case, head.hash_hex, head.seq, beside, notes):
        say(line)
    return 0


def _agreed(chosen: argparse.Namespace, folder: Path) -> Agreed:
    """The team's agreements: from the file named, or the one in the ledger's folder where there is one."""
    path: Path = chosen.agreed or folder / agreed.NAME
    if chosen.agreed is None and not path.exists():
        return agreed.NOTHING
    try:
        return agreed.read_agreed(read_bytes(path), path.name)
    except ChecklistError as fault:
        raise CommandError(str(fault.complaints[0])) from None


def _history(chosen: argparse.Namespace, ledger: FileLedger, case: Case, head: str) -> History:
    found = history_of(
        ledger,
        summarise(case, head),
        _agreed(chosen, ledger.folder),
        rehearsals=chosen.rehearsals,
        named=as_keys(chosen.against) if chosen.against else None,
    )
    if isinstance(found, Reason):
        raise CommandError(found.text)
    return found


def _write_page(path: Path, case: Case, head: str, count: int, beside: History, notes: Debriefing) -> None:
    """The page, whole or not at all."""
    from labcheck.debrief.page.document import page
    from labcheck.registry.errors import ExportError
    from labcheck.registry.writing import Staged

    made = page(case, head, count, beside, notes)
    try:
        with Staged(path.parent) as staged:
            staged.create(path.name).write(made)
    except ExportError as fault:
        raise CommandError(str(fault)) from None
    say(f"{path}: {len(made)} bytes, one page that needs nothing else; print it from any browser")


def _series(chosen: argparse.Namespace) -> int:
    if chosen.html is not None or chosen.against or chosen.learned or chosen.action:
        raise CommandError("--series goes with case keys, --agreed and --rehearsals only")
    from labcheck.debrief.series import series_lines

    with ledger_of(chosen, read_only=True) as ledger:
        joined = _agreed(chosen, ledger.folder)
        shelf = Shelf(ledger)
        groups: tuple[tuple[Summary, ...], ...]
        left: tuple[tuple[str, int], ...] = ()
        if chosen.cases:
            one = series(shelf.named(as_keys(chosen.cases)), joined, rehearsals=chosen.rehearsals)
            if isinstance(one, Reason):
                raise CommandError(one.text)
            groups = (one,)
        else:
            groups, left = grouped(shelf.all(chosen.rehearsals), joined, rehearsals=chosen.rehearsals)
    if not groups:
        raise CommandError("no sealed case to look back on; see: labcheck cases")
    for n, cases in enumerate(groups):
        for line in series_lines(cases, joined, left if n == 0 else ()):
            say(line)
        if n + 1 < len(groups):
            say()
    return 0


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
