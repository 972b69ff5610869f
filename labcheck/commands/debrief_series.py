"""``labcheck debrief --series``: whole series of cases, or two sets of them, in lines or as a page."""

from __future__ import annotations

import argparse
from collections.abc import Sequence

from labcheck.commands.debrief_files import agreed_of, write_page
from labcheck.commands.ledgers import as_keys, ledger_of
from labcheck.commands.looking_back import Shelf
from labcheck.commands.output import CommandError, say
from labcheck.debrief.agreed import Agreed
from labcheck.debrief.history import grouped, series
from labcheck.debrief.summary import Summary
from labcheck.reference.figures import Reason

Groups = tuple[tuple[Summary, ...], ...]
LeftOut = tuple[tuple[str, int], ...]


def run(chosen: argparse.Namespace) -> int:
    """Do what the flags beside ``--series`` ask for."""
    if chosen.against or chosen.learned or chosen.action or chosen.owner or chosen.by:
        raise CommandError("--series goes with case keys, --html, --apart-by, --agreed and --rehearsals only")
    if chosen.rehearsals and (chosen.html is not None or chosen.apart_by is not None):
        raise CommandError(
            "a page or two sets of rehearsals are not made: they would pass for cases; leave --rehearsals out, "
            "or ask for the lines alone"
        )
    with ledger_of(chosen, read_only=True) as ledger:
        agreed = agreed_of(chosen, ledger.folder)
        shelf = Shelf(ledger)
        if chosen.apart_by is not None:
            found = shelf.named(as_keys(chosen.cases)) if chosen.cases else shelf.all(rehearsals=False)
        else:
            groups, left = _groups(chosen, shelf, agreed)
    if chosen.apart_by is not None:
        return _apart(chosen, found, agreed)
    if chosen.html is not None:
        from labcheck.debrief.page.series_page import series_page

        write_page(chosen.html, series_page(groups, agreed, left))
        return 0
    from labcheck.debrief.series import series_lines

    _say_parts([series_lines(cases, agreed, left if n == 0 else ()) for n, cases in enumerate(groups)])
    return 0


def _groups(chosen: argparse.Namespace, shelf: Shelf, agreed: Agreed) -> tuple[Groups, LeftOut]:
    """The cases named as one series, or else all sealed ones as many. Raises ``CommandError`` where there are none."""
    if chosen.cases:
        one = series(shelf.named(as_keys(chosen.cases)), agreed, rehearsals=chosen.rehearsals)
        if isinstance(one, Reason):
            raise CommandError(one.text)
        return (one,), ()
    groups, left = grouped(shelf.all(chosen.rehearsals), agreed, rehearsals=chosen.rehearsals)
    if not groups:
        raise CommandError("no sealed case to look back on; see: labcheck cases")
    return groups, left


def _apart(chosen: argparse.Namespace, cases: Sequence[Summary], agreed: Agreed) -> int:
    """Two sets beside each other."""
    from labcheck.debrief.arms import told_apart

    pairs = told_apart(cases, chosen.apart_by.strip().lower(), agreed)
    if isinstance(pairs, Reason):
        raise CommandError(pairs.text)
    if chosen.html is not None:
        from labcheck.debrief.page.series_page import arms_page

        write_page(chosen.html, arms_page(pairs))
        return 0
    from labcheck.debrief.arms_words import arms_lines

    _say_parts([arms_lines(pair) for pair in pairs])
    return 0


def _say_parts(parts: Sequence[Sequence[str]]) -> None:
    for n, lines in enumerate(parts):
        if n:
            say()
        for line in lines:
            say(line)
