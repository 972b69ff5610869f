"""Cases to look back on: the shipped rehearsals, a very dense one, and histories made up for comparison."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal
from functools import cache
from itertools import groupby
from pathlib import Path

from labcheck.caselog.case import Case
from labcheck.caselog.playing import play
from labcheck.caselog.script import read_script
from labcheck.checklist.model import Checklist
from labcheck.checklist.reading import read_checklist
from labcheck.debrief.summary import Leaflet, Summary, summarise
from labcheck.ledger.store import open_ledger
from tests.caselog.driving import Driver

SHIPPED = Path(__file__).parents[2] / "checklists"
ONE = "left-cusp-surgical"
TWO = "right-then-left-bailout"
HEAD = "0123456789abcdef" * 4
DAY_US = 86_400_000_000
FACTORS = (1.0, 0.8, 1.3, 0.9, 1.1, 1.6, 0.7, 1.05, 0.95, 1.2, 0.85, 1.4, 1.15, 0.75, 1.25, 0.9)


@cache
def shipped(name: str) -> tuple[Checklist, str]:
    """A shipped checklist and its digest."""
    text = (SHIPPED / f"{name}.toml").read_bytes()
    return read_checklist(text, name), hashlib.sha256(text).hexdigest()


@cache
def played(name: str, key: str = "K7Q2-M4") -> Case:
    """A shipped rehearsal, driven live to its seal."""
    script = read_script((SHIPPED / "rehearsals" / f"{name}.toml").read_bytes(), name)
    checklist, digest = shipped(script.head.checklist)
    case = play(script, checklist, key, digest)
    assert isinstance(case, Case), str(case)
    return case


def dense() -> Case:
    """Two cusps, and forty events of every kind in three minutes."""
    checklist, _ = shipped("electrosurgical")
    driver = Driver("right", "left", checklist=checklist)
    driver.at(0).do("stage.open", stage="briefing")
    driver.at(4).do("stage.open", stage="access", reason="haemodynamic")
    driver.at(6).do("reading.take", reading="act", value=Decimal(151))
    driver.do("dose.give", drug="heparin", amount=Decimal(8000))
    driver.at(30).do("stage.open", stage="position", cusp="right", reason="haemodynamic")
    driver.at(38).do("stage.open", stage="traverse", cusp="right", reason="haemodynamic")
    driver.at(40)
    for number in range(8):
        driver.do("energy.on")
        driver.do("energy.off")
        driver.do("reading.take", reading="systolic", value=Decimal(90 - 5 * number))
        driver.do("note.write", text=f"note {number}")
        driver.do("dose.give", drug="vasopressor")
        driver.now_us += 17_000_000
    driver.do("attempt.close", outcome="crossed")
    driver.at(60).do("stage.open", stage="closure", reason="haemodynamic")
    driver.at(75).do("stage.open", stage="signout", reason="haemodynamic")
    return driver.case


def history_like(present: Summary, n: int, failed: Sequence[int] = ()) -> list[Summary]:
    """So many made-up earlier cases like the present one, three weeks apart; those numbered failed a leaflet."""
    return [
        replace(
            present,
            case=key(number),
            head=f"{number:064x}",
            sealed=True,
            opened_us=present.opened_us - (n - number) * 21 * DAY_US,
            times=tuple(
                t._replace(us=round(t.us * FACTORS[(number * 7 + place) % len(FACTORS)]))
                for place, t in enumerate(present.times)
            ),
            leaflets=tuple(
                Leaflet(one.cusp, "no" if number in failed else "yes", "") for one in present.leaflets
            ),
            technical="no" if number in failed else "yes",
        )
        for number in range(n)
    ]


def key(number: int) -> str:
    """A case key of its own for every number below 28**3."""
    letters = "BCDFGHJKLMNPQRSTVWXZ23456789"
    return f"H{letters[number // 784 % 28]}{letters[number // 28 % 28]}{letters[number % 28]}-22"


def put(folder: Path, name: str, case: str) -> str:
    """A shipped rehearsal, saved in a ledger under that key."""
    log = played(name, case).log
    checklist = read_script((SHIPPED / "rehearsals" / f"{name}.toml").read_bytes(), name).head.checklist
    ledger = open_ledger(folder)
    ledger.keep_checklist((SHIPPED / f"{checklist}.toml").read_bytes())
    ledger.append_case([tuple(press) for _, press in groupby(log, key=lambda event: event.press)])
    ledger.close()
    return case


def summary(case: Case) -> Summary:
    """The summary of a case under a made-up head."""
    return summarise(case, HEAD)
