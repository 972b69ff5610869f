"""Own earlier cases that a case may be compared with, and why others may not.

Comparable are sealed cases that were opened earlier, of the same technique, with as many target cusps and the
same text of the same checklist (or a revision that the team has joined to it). The case itself is never among
them, and a real case is never compared with a rehearsal.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

from labcheck.debrief.agreed import NOTHING, Agreed
from labcheck.debrief.summary import Lasted, Summary
from labcheck.reference.figures import Reason


@dataclass(frozen=True)
class History:
    """Earlier cases, oldest first, and how many were left out for which reason.

    ``rehearsals``: the history is of rehearsals, asked for on purpose.
    """

    present: Summary
    earlier: tuple[Summary, ...]
    left_out: tuple[tuple[str, int], ...] = ()
    rehearsals: bool = False
    agreed: Agreed = NOTHING

    @cached_property
    def _times(self) -> dict[str, list[Lasted]]:
        """Every finished interval and stage by its id, oldest first."""
        out: dict[str, list[Lasted]] = {}
        for case in self.earlier:
            for one in case.times:
                out.setdefault(one.id, []).append(one)
        return out

    def minutes(self, id_: str) -> tuple[float, ...]:
        """The durations of one interval or stage in the earlier cases that finished it, oldest first."""
        return tuple(one.minutes for one in self._times.get(id_, ()))

    def by_wall(self, id_: str) -> int:
        """How many of those were measured by the wall clock only."""
        return sum(one.wall for one in self._times.get(id_, ()))


def alone(present: Summary) -> History:
    """A history without any earlier case."""
    return History(present, ())


def own_history(
    present: Summary, cases: Iterable[Summary], agreed: Agreed = NOTHING, *, rehearsals: bool = False
) -> History:
    """The comparable cases out of all that there are. Nothing is refused; what does not fit is counted."""
    earlier: list[Summary] = []
    left: Counter[str] = Counter()
    for one in cases:
        if one.case == present.case:
            continue
        doubt = _doubt(present, one, agreed, rehearsals)
        if doubt is None:
            earlier.append(one)
        else:
            left[doubt] += 1
    return History(present, _in_order(earlier), tuple(sorted(left.items())), rehearsals, agreed)


def given_history(
    present: Summary, cases: Sequence[Summary], agreed: Agreed = NOTHING, *, rehearsals: bool = False
) -> History | Reason:
    """Exactly the cases that were asked for, or why they cannot be the history of this one."""
    if any(one.case == present.case for one in cases):
        return Reason(f"case {present.case} cannot be part of its own history; take it off the list")
    if len({one.case for one in cases}) < len(cases):
        return Reason("a case is named twice; name every earlier case once")
    for one in cases:
        doubt = _doubt(present, one, agreed, rehearsals)
        if doubt is not None:
            return Reason(f"case {one.case} cannot be compared with {present.case}: {doubt}; leave it out")
    return History(present, _in_order(cases), (), rehearsals, agreed)


def series(
    cases: Sequence[Summary], agreed: Agreed = NOTHING, *, rehearsals: bool = False
) -> tuple[Summary, ...] | Reason:
    """The cases as one series, oldest first, or why they are none."""
    if not cases:
        return Reason("there are no cases to look back on")
    if len({one.case for one in cases}) < len(cases):
        return Reason("a case is named twice; name every case once")
    ordered = _in_order(cases)
    last = ordered[-1]
    for one in ordered:
        doubt = _unlike(last, one, agreed) or _unfit(one, rehearsals)
        if doubt is not None:
            return Reason(f"cases {one.case} and {last.case} are no series: {doubt}; look at them apart")
    return ordered


def grouped(
    cases: Iterable[Summary], agreed: Agreed = NOTHING, *, rehearsals: bool = False
) -> tuple[tuple[tuple[Summary, ...], ...], tuple[tuple[str, int], ...]]:
    """All cases as comparable series, the largest first, and what was left out of every one of them."""
    groups: list[list[Summary]] = []
    by_text: dict[tuple[str, str, int], list[Summary]] = {}
    left: Counter[str] = Counter()
    for one in _in_order(tuple(cases)):
        doubt = _unfit(one, rehearsals)
        if doubt is not None:
            left[doubt] += 1
            continue
        key = (one.technique, one.digest, len(one.cusps))
        group = by_text.get(key) or next((g for g in groups if _unlike(g[0], one, agreed) is None), None)
        if group is None:
            group = []
            groups.append(group)
        by_text[key] = group
        group.append(one)
    ordered = sorted(groups, key=lambda g: (-len(g), g[0].technique, len(g[0].cusps), g[0].opened_us))
    return tuple(tuple(g) for g in ordered), tuple(sorted(left.items()))


def _in_order(cases: Sequence[Summary]) -> tuple[Summary, ...]:
    return tuple(sorted(cases, key=lambda s: (s.opened_us, s.case)))


def _doubt(present: Summary, other: Summary, agreed: Agreed, rehearsals: bool) -> str | None:
    """Why an earlier case cannot be compared with the present one."""
    if present.rehearsal and not rehearsals:
        return "a rehearsal is not compared with other cases unless it is asked for"
    if rehearsals and not present.rehearsal:
        return "a real case is not compared with rehearsals"
    unlike = _unlike(present, other, agreed) or _unfit(other, rehearsals)
    if unlike is not None:
        return unlike
    if (other.opened_us, other.case) > (present.opened_us, present.case):
        return "opened later"
    return None


def unlike_words(present: Summary, technique: str, cusps: int) -> str | None:
    """Why a case of that technique on so many cusps cannot be compared, if that alone forbids it."""
    if technique != present.technique:
        return f"another technique ({technique.replace('_', ' ')})"
    if cusps != len(present.cusps):
        return f"another number of cusps ({cusps} and not {len(present.cusps)})"
    return None


def _unlike(present: Summary, other: Summary, agreed: Agreed) -> str | None:
    plainly = unlike_words(present, other.technique, len(other.cusps))
    if plainly is not None:
        return plainly
    if other.checklist != present.checklist:
        return f"another checklist ({other.checklist})"
    if other.digest != present.digest and not agreed.joined(
        present.checklist, present.revision, other.revision
    ):
        if other.revision != present.revision:
            return f"another revision of the checklist ({other.revision}, not joined)"
        return f"another text of checklist revision {other.revision}, not joined"
    return None


def _unfit(other: Summary, rehearsals: bool) -> str | None:
    if other.rehearsal != rehearsals:
        return "a rehearsal" if other.rehearsal else "not a rehearsal"
    return None if other.sealed else "not sealed"
