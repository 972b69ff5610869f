"""Two sets of own cases beside each other: before and after a day, two revisions of a checklist, two techniques.

Each set is a comparable series by itself. Nobody drew lots, so a difference says nothing of its cause, and the
words say that. Cases are compared and never people.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date

from labcheck.debrief.agreed import Agreed
from labcheck.debrief.history import grouped
from labcheck.debrief.outcomes import Outcomes, leaflets, technical
from labcheck.debrief.series_facts import day_of, without_rescue
from labcheck.debrief.summary import Summary
from labcheck.reference.figures import Reason
from labcheck.reference.statistics import gates
from labcheck.reference.statistics.proportions import Interval
from labcheck.reference.statistics.ranks import MannWhitney, Shift, mann_whitney

Series = tuple[Summary, ...]
Counted = tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True)
class TimeArms:
    """One interval in both sets, minutes. ``shift``: how much longer the second set took, if that may be said."""

    id: str
    title: str
    first: tuple[float, ...]
    second: tuple[float, ...]
    shift: Shift | Reason
    test: MannWhitney | Reason


@dataclass(frozen=True, slots=True)
class CountArms:
    """One count in both sets. ``difference``: of the proportions, second less first, if that may be said."""

    what: str
    first: gates.Success
    second: gates.Success
    difference: Interval | Reason


@dataclass(frozen=True, slots=True)
class Arms:
    """Two sets with their names, and what was left out of both."""

    about: str
    names: tuple[str, str]
    sets: tuple[Series, Series]
    times: tuple[TimeArms, ...]
    counts: tuple[CountArms, ...]
    left_out: Counted
    by_day: bool


def told_apart(cases: Iterable[Summary], by: str, agreed: Agreed) -> tuple[Arms, ...] | Reason:
    """The cases as pairs of sets by "revision", by "technique" or by a day ("2031-03-01"), or why there are none.

    Rehearsals and cases that are not sealed are left out and counted.
    """
    groups, left = grouped(cases, agreed)
    if by == "technique":
        found = _by_technique(groups, left)
    elif by == "revision":
        found = _by_revision(groups, left)
    else:
        try:
            day = date.fromisoformat(by).isoformat()
        except ValueError:
            return Reason(f'"{by}" tells no cases apart; say revision, technique or a day as 2031-03-01')
        if day != by:
            return Reason(f'"{by}": write the day as {day}')
        found = _by_day(groups, left, day)
    return found or Reason(_NONE.get(by, f"no series has cases both before {by} and from then on"))


_NONE = {
    "technique": "there are no two techniques with cases of as many cusps",
    "revision": "there are no two revisions of one checklist with cases of as many cusps",
}


def _by_day(groups: Sequence[Series], left: Counted, day: str) -> tuple[Arms, ...]:
    out = []
    for group in groups:
        # By the day of the place where each was recorded: the order of the instants may differ from that of the days.
        before = tuple(case for case in group if day_of(case) < day)
        after = tuple(case for case in group if day_of(case) >= day)
        if before and after:
            names = (f"before {day}", f"from {day} on")
            out.append(_arms(_about(group[-1]), names, (before, after), left, by_day=True))
    return tuple(out)


def _by_revision(groups: Sequence[Series], left: Counted) -> tuple[Arms, ...]:
    """The newest series of a checklist against the one before it; those before both are counted."""
    kept: dict[tuple[str, str, int], list[Series]] = {}
    for group in groups:
        last = group[-1]
        kept.setdefault((last.technique, last.checklist, len(last.cusps)), []).append(group)
    out = []
    for several in kept.values():
        if len(several) < 2:
            continue
        *older, first, second = sorted(several, key=lambda group: (group[-1].opened_us, group[-1].case))
        gone = (*left, ("older revisions", sum(map(len, older)))) if older else left
        about = f"{_about(second[-1])}, checklist {second[-1].checklist}"
        out.append(_arms(about, (_revisions(first), _revisions(second)), (first, second), gone))
    return tuple(out)


def _revisions(group: Series) -> str:
    """Revisions with the beginning of the text's digest, which tells two texts of one revision apart."""
    last = group[-1]
    names = ", ".join(dict.fromkeys(case.revision for case in group))
    return f"revision {names} (text {last.digest[:8]})"


def _by_technique(groups: Sequence[Series], left: Counted) -> tuple[Arms, ...]:
    """The two techniques with the most cases, each by its largest series; the other series are counted."""
    largest: dict[int, dict[str, Series]] = {}
    for group in groups:
        largest.setdefault(len(group[0].cusps), {}).setdefault(group[0].technique, group)
    out = []
    for cusps, by_name in largest.items():
        if len(by_name) < 2:
            continue
        first, second = list(by_name.values())[:2]
        others = sum(len(g) for g in groups if len(g[0].cusps) == cusps) - len(first) - len(second)
        gone = (*left, ("another technique or revision", others)) if others else left
        names = (_plain(first[-1].technique), _plain(second[-1].technique))
        out.append(_arms(_cusps(second[-1]), names, (first, second), gone))
    return tuple(out)


def _plain(technique: str) -> str:
    return technique.replace("_", " ")


def _cusps(case: Summary) -> str:
    return "1 cusp" if len(case.cusps) == 1 else f"{len(case.cusps)} cusps"


def _about(case: Summary) -> str:
    return f"{_plain(case.technique)}, {_cusps(case)}"


def _arms(
    about: str, names: tuple[str, str], sets: tuple[Series, Series], left: Counted, *, by_day: bool = False
) -> Arms:
    first, second = sets
    titles = [{one.id: one.title for case in cases for one in case.times} for cases in sets]
    # Only what both checklists call by the same id and the same words is the same interval.
    shared = [
        id_
        for id_, title in titles[1].items()
        if titles[0].get(id_) == title and not id_.startswith("stage:")
    ]
    times = tuple(_times(id_, titles[1][id_], first, second) for id_ in shared)
    counts = (
        _counts(leaflets(first), leaflets(second), sets),
        _counts(technical(first), technical(second), sets),
        _rescues(first, second),
    )
    return Arms(about, names, sets, times, counts, left, by_day)


def _times(id_: str, title: str, first: Series, second: Series) -> TimeArms:
    a, b = (tuple(one.minutes for case in cases if (one := case.lasted(id_))) for cases in (first, second))
    shift = gates.times_compared(b, a)
    # The test is not shown where the shift is not: it passes the same gate.
    return TimeArms(id_, title, a, b, shift, shift if isinstance(shift, Reason) else mann_whitney(b, a))


def _counts(first: Outcomes, second: Outcomes, sets: tuple[Series, Series]) -> CountArms:
    """Leaflets too are compared only where there are cases enough: two leaflets of a case are not two cases."""
    few = gates.arms_doubt(len(sets[1]), len(sets[0]))
    found = _difference(first.what, first.success, second.success)
    return found if few is None else replace(found, difference=few)


def _rescues(first: Series, second: Series) -> CountArms:
    a, b = (gates.success(without_rescue(cases), len(cases)) for cases in (first, second))
    if isinstance(a, Reason) or isinstance(b, Reason):
        raise ValueError("more cases without a rescue than cases")
    return _difference("cases without any bailout", a, b)


def _difference(what: str, a: gates.Success, b: gates.Success) -> CountArms:
    return CountArms(what, a, b, gates.counts_compared(b.count, b.n, a.count, a.n))
