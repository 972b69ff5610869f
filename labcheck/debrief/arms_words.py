"""Two sets of cases in words, for the lines and for the page."""

from __future__ import annotations

from collections.abc import Iterator

from labcheck.debrief.arms import Arms, CountArms, TimeArms
from labcheck.debrief.comparing import Compared, lasted_words, own_words
from labcheck.debrief.lines import bullets, heading, inert, wrapped
from labcheck.debrief.series_facts import day_of
from labcheck.reference.figures import Reason
from labcheck.reference.statistics import gates


def arms_lines(arms: Arms) -> list[str]:
    """Two sets beside each other, as lines of at most 80 columns."""
    parts = (
        [f"TWO SETS  {arms.about}"],
        [line for words in about_words(arms) for line in wrapped(words)],
        [*heading("Counts"), *bullets(_counts(arms))],
        [*heading("Times"), *bullets(_times(arms))],
        [*heading("What this cannot say"), *bullets(cautions(arms))],
    )
    return [inert(line) for part in parts for line in part]


def about_words(arms: Arms) -> tuple[str, ...]:
    """Which two sets, and what was left out of both."""
    sets = (
        f"{letter}: {name}, n={len(cases)}, {min(map(day_of, cases))} to {max(map(day_of, cases))}"
        for letter, name, cases in zip("AB", arms.names, arms.sets, strict=True)
    )
    return (*sets, *(f"left out, {why}: {n}" for why, n in arms.left_out))


def _counts(arms: Arms) -> Iterator[str]:
    for one in arms.counts:
        difference = difference_words(one)
        told = difference if isinstance(one.difference, Reason) else f"B less A {difference}"
        yield f"{one.what}: A {one.first.text()}; B {one.second.text()}; {told}"


def difference_words(one: CountArms) -> str:
    """How many more of a hundred succeeded in B, with its interval, or why that is not said."""
    found = one.difference
    if isinstance(found, Reason):
        return f"no difference is computed: {found.text}"
    more = 100 * (one.second.count / one.second.n - one.first.count / one.first.n)
    return (
        f"{more:+.1f} in 100 ({found.level * 100:.0f} % interval {100 * found.low:+.1f} to "
        f"{100 * found.high:+.1f} in 100)"
    )


def _times(arms: Arms) -> Iterator[str]:
    for one in arms.times:
        a, b = set_words(one)
        yield f"{one.title}: A {a}; B {b}; {shift_words(one)}"


def set_words(one: TimeArms) -> tuple[str, str]:
    """The times of both sets: their values below five, else median and quartiles."""
    a, b = (
        own_words(Compared(one.id, one.title, None, None, None, times, 0, True), interval=False)
        for times in (one.first, one.second)
    )
    return a, b


def shift_words(one: TimeArms) -> str:
    """How much longer or shorter B took, with its exact interval and, after it, the exact p; or why not."""
    if isinstance(one.shift, Reason):
        return f"no shift is computed: {one.shift.text}"
    said = (
        f"B {signed_words(one.shift.shift)} ({100 * one.shift.coverage:.1f} % interval "
        f"{signed_words(one.shift.low)} to {signed_words(one.shift.high)})"
    )
    if isinstance(one.test, Reason):
        return f"{said}; no exact p: {one.test.text}"
    p = one.test.p_two_sided
    return f"{said}; exact p {p:.3f}" if p >= 0.001 else f"{said}; exact p below 0.001"


def signed_words(minutes: float) -> str:
    """ "4:10 shorter"; "0:00" where it comes to less than a second."""
    said = lasted_words(abs(minutes))
    return said if said == "0:00" else f"{said} {'shorter' if minutes < 0 else 'longer'}"


def cautions(arms: Arms) -> tuple[str, ...]:
    """What the comparison cannot say."""
    done = sum(1 for t in arms.times if not isinstance(t.shift, Reason))
    done += sum(1 for c in arms.counts if not isinstance(c.difference, Reason))
    out = [
        "Nobody drew lots: patients, practice and the people in the room differ besides, and a difference says "
        "nothing of its cause. No ranking, no advice.",
        "Leaflets of one case are counted as if each stood alone, which makes their intervals a little too narrow.",
        f"Sets of fewer than {gates.ARM_FROM} are not compared; an interval that holds zero is no proof that "
        "nothing changed.",
    ]
    if done > 1:
        out.append(
            f"{done} comparisons stand here: if nothing differed, about 1 in 20 of their intervals would still "
            "leave zero out."
        )
    if arms.by_day:
        out.append("A day that was chosen after looking at the times finds differences that are not there.")
    return tuple(out)
