"""``labcheck cases``: what the ledger holds, the case opened last first."""

from __future__ import annotations

import argparse
from datetime import UTC, datetime, timedelta, timezone

from labcheck.caselog.stamps import Moment
from labcheck.checklist.unfolding import cusp_word
from labcheck.commands.ledgers import ledger_of
from labcheck.commands.output import say
from labcheck.ledger.contract import CaseLine


def run(chosen: argparse.Namespace) -> int:
    """One line a case; rehearsals are marked."""
    with ledger_of(chosen, read_only=True) as ledger:
        lines = ledger.cases()
    for line in lines:
        say(_line(line))
    if not lines:
        say("no cases yet")
    return 0


def _line(line: CaseLine) -> str:
    cusps = ", then ".join(cusp_word(cusp) for cusp in line.targets)
    state = "sealed" if line.sealed else "unfinished"
    mark = "  REHEARSAL" if line.rehearsal else ""
    return f"{line.case}  {_clock(line.opened)}  {state:10}  {line.entries:4} entries  {line.technique}, {cusps}{mark}"


def _clock(moment: Moment) -> str:
    """The wall time as it stood on the console's clock, with its offset."""
    zone = timezone(timedelta(seconds=moment.off_s))
    whole = datetime.fromtimestamp(moment.wall_us // 1_000_000, UTC).astimezone(zone)
    return f"{whole:%Y-%m-%d %H:%M %z}"
