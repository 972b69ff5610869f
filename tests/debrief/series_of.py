"""Series made up for the series page: one long enough for every chart, and small ones."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from labcheck.debrief.agreed import Agreed, Rates
from labcheck.debrief.summary import Summary
from tests.debrief.cases import ONE, TWO, history_like, played, summary

AGREED = Agreed(
    rates=(
        Rates(
            technique="electrosurgical",
            acceptable=Decimal("0.05"),
            unacceptable=Decimal("0.15"),
            agreed="2031-01-10",
            reason="as agreed",
        ),
    )
)


def small(n: int, failed: tuple[int, ...] = (1,)) -> list[Summary]:
    """So many real cases of one cusp."""
    return history_like(replace(summary(played(ONE)), rehearsal=False), n, failed)


def varied(n: int, failed: tuple[int, ...] = (3, 11)) -> list[Summary]:
    """So many real cases of two cusps, whose rescues, lateness and completeness differ."""
    cases = history_like(replace(summary(played(TWO)), rehearsal=False), n, failed)
    return [_varied(case, place) for place, case in enumerate(cases)]


def _varied(case: Summary, place: int) -> Summary:
    live, late, transcribed, amended = case.making.modes
    modes = (live + place % 5, max(0, late - place // 9), transcribed, amended)
    whole = replace(case.whole, unanswered=max(0, case.whole.unanswered - place // 4), killers=int(place < 4))
    return replace(
        case,
        rescues=case.rescues if place % 3 == 0 else (),
        entries=sum(modes),
        making=replace(case.making, modes=modes),
        whole=whole,
    )
