"""Getting the summaries of a ledger's cases for comparison: kept ones where they still fit, else from the log."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace

from labcheck.caselog.folding import begin, refold
from labcheck.checklist.complaint import ChecklistError
from labcheck.checklist.model import Checklist
from labcheck.checklist.reading import digest, read_checklist
from labcheck.commands.output import CommandError, complain
from labcheck.debrief.agreed import Agreed
from labcheck.debrief.history import History, given_history, own_history, unlike_words
from labcheck.debrief.kept import gathered
from labcheck.debrief.rereading import reread
from labcheck.debrief.summary import Summary, summarise
from labcheck.ledger.contract import CaseLine
from labcheck.ledger.errors import LedgerError
from labcheck.ledger.resume import load
from labcheck.ledger.store import FileLedger
from labcheck.reference.figures import Reason

MANY = 20
"""Cases to be read anew before the command says what takes so long."""


class Shelf:
    """The summaries of one ledger. Each checklist text is read once."""

    def __init__(self, ledger: FileLedger) -> None:
        self._ledger = ledger
        self._checklists: dict[str, Checklist] = {}
        self.lines = {line.case: line for line in ledger.cases()}
        self.unread: list[str] = []

    def of(self, keys: Iterable[str]) -> list[Summary]:
        """The summaries of these cases; one whose log cannot be read is complained of and left out."""
        heads = {key: self._ledger.head(key).hash_hex for key in keys}
        folder = self._ledger.folder
        found = gathered(folder, heads, self._make, _say_how_many, lambda absent: reread(folder, absent))
        return [found[key] for key in heads if key in found]

    def named(self, keys: Sequence[str]) -> list[Summary]:
        """The summaries of cases that a person named. Raises ``CommandError`` where one is not there."""
        absent = [key for key in keys if key not in self.lines]
        if absent:
            raise CommandError(f"there is no case {absent[0]}; run: labcheck cases")
        found = {one.case: one for one in self.of(dict.fromkeys(keys))}
        if self.unread:
            raise CommandError(f"case {self.unread[0]} cannot be read; run: labcheck verify {self.unread[0]}")
        return [found[key] for key in keys]

    def all(self, rehearsals: bool) -> list[Summary]:
        """Every sealed case of the kind asked for."""
        return self.of(
            key for key, line in self.lines.items() if line.sealed and line.rehearsal == rehearsals
        )

    def _make(self, key: str) -> Summary | None:
        try:
            loaded = load(self._ledger, key)
            name = digest(loaded.checklist)
            if name not in self._checklists:
                self._checklists[name] = read_checklist(loaded.checklist, f"checklist of {key}")
            case = refold(begin(key, self._checklists[name]), loaded.events)
            return summarise(case, self._ledger.head(key).hash_hex)
        except (LedgerError, ChecklistError) as fault:
            complain(f"case {key} is left out of the comparison: {str(fault).splitlines()[0]}")
            self.unread.append(key)
            return None


def _say_how_many(count: int) -> None:
    if count > MANY:
        complain(f"reading {count} cases from the log; their figures are then kept for the next time")


def history_of(
    ledger: FileLedger,
    present: Summary,
    agreed: Agreed,
    *,
    rehearsals: bool,
    named: Sequence[str] | None = None,
) -> History | Reason:
    """The present case's own history out of the ledger, or of the cases named, or why those are none."""
    shelf = Shelf(ledger)
    if named is not None:
        return given_history(present, shelf.named(named), agreed, rehearsals=rehearsals)
    plausible: list[str] = []
    left: Counter[str] = Counter()
    for line in shelf.lines.values():
        doubt = _line_doubt(present, line, rehearsals)
        if doubt is None and line.case != present.case:
            plausible.append(line.case)
        elif doubt is not None and line.case != present.case:
            left[doubt] += 1
    found = own_history(present, shelf.of(plausible), agreed, rehearsals=rehearsals)
    left.update(dict(found.left_out))
    left.update({"its log cannot be read": len(shelf.unread)} if shelf.unread else {})
    return replace(found, left_out=tuple(sorted(left.items())))


def _line_doubt(present: Summary, line: CaseLine, rehearsals: bool) -> str | None:
    """What the list of cases alone already forbids, so that such a case need not be read."""
    if line.rehearsal != rehearsals:
        return "a rehearsal" if line.rehearsal else "not a rehearsal"
    unlike = unlike_words(present, line.technique, len(line.targets))
    if unlike is not None:
        return unlike
    if not line.sealed:
        return "not sealed"
    return "opened later" if line.opened.wall_us > present.opened_us else None
