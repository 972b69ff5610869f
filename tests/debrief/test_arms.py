"""Two sets of cases beside each other: how they are told apart, what may be said, and in which direction."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

import pytest

from labcheck.debrief.agreed import NOTHING, Agreed, Join
from labcheck.debrief.arms import Arms, told_apart
from labcheck.debrief.arms_words import arms_lines, difference_words, shift_words
from labcheck.debrief.page.series_page import arms_page
from labcheck.debrief.series_facts import day_of
from labcheck.debrief.summary import Summary
from labcheck.reference.figures import Reason
from labcheck.reference.statistics.proportions import Interval, newcombe_difference
from labcheck.reference.statistics.ranks import MannWhitney, Shift, hodges_lehmann, mann_whitney
from tests.debrief.reading_pages import drawings, outside, overlaps, words
from tests.debrief.series_of import AGREED, small, varied


def only(cases: Sequence[Summary], by: str, agreed: Agreed = NOTHING) -> Arms:
    found = told_apart(cases, by, agreed)
    assert not isinstance(found, Reason), found
    (pair,) = found
    return pair


def why_not(cases: Sequence[Summary], by: str) -> str:
    found = told_apart(cases, by, NOTHING)
    assert isinstance(found, Reason)
    return found.text


def revised(cases: list[Summary], revision: str) -> list[Summary]:
    return [replace(case, revision=revision, digest=f"{revision:0>64}") for case in cases]


def splitter(cases: list[Summary]) -> list[Summary]:
    return [
        replace(
            case,
            case=f"S{case.case[1:]}",
            technique="mechanical_splitter",
            checklist="mechanical_splitter",
            digest="e" * 64,
            times=tuple(
                t._replace(title="another name") if t.id == "access_to_exit" else t for t in case.times
            ),
        )
        for case in cases
    ]


def test_a_day_tells_the_cases_before_it_from_those_on_it_and_after() -> None:
    cases = varied(20)
    day = day_of(cases[12])
    pair = only(cases, day)
    assert pair.sets == (tuple(cases[:12]), tuple(cases[12:]))
    assert pair.names == (f"before {day}", f"from {day} on")


def test_the_day_is_that_of_the_place_though_the_instants_stand_the_other_way_round() -> None:
    cases = varied(20)
    day = 1_930_003_200_000_000 - 1_930_003_200_000_000 % 86_400_000_000  # a midnight of UTC
    east = replace(cases[9], opened_us=day - 90 * 60_000_000, off_s=7200)
    west = replace(cases[10], opened_us=day - 60 * 60_000_000, off_s=0)
    earlier = [replace(c, opened_us=day - (40 - n) * 86_400_000_000, off_s=0) for n, c in enumerate(cases[:9])]
    later = [replace(c, opened_us=day + (n + 1) * 86_400_000_000, off_s=0) for n, c in enumerate(cases[11:])]
    pair = only([*earlier, east, west, *later], day_of(east))
    assert day_of(west) < day_of(east)
    assert west in pair.sets[0]
    assert east in pair.sets[1]
    assert sum(map(len, pair.sets)) == 20


def test_revisions_are_told_apart_and_the_newest_stands_against_the_one_before() -> None:
    cases = varied(21)
    mixed = [*revised(cases[:4], "1"), *revised(cases[4:12], "2"), *revised(cases[12:], "3")]
    pair = only(mixed, "revision")
    assert [len(some) for some in pair.sets] == [8, 9]
    assert pair.names[0].startswith("revision 2 (text 00000000")
    assert pair.left_out == (("older revisions", 4),)
    joined = Agreed(join=(Join(checklist="electrosurgical", revisions=("2", "3"), reason="wording only"),))
    pair = only(mixed, "revision", joined)
    assert [len(some) for some in pair.sets] == [4, 17]


def test_techniques_share_only_the_intervals_that_both_checklists_call_the_same() -> None:
    pair = only([*varied(9), *splitter(varied(6))], "technique")
    assert pair.names == ("electrosurgical", "mechanical splitter")
    ids = [one.id for one in pair.times]
    assert "access_to_exit" not in ids
    assert len(ids) > 3
    assert not any(id_.startswith("stage:") for id_ in ids)


def test_sets_are_never_mixed_of_cusp_counts_rehearsals_or_open_cases() -> None:
    cases = varied(12)
    day = day_of(cases[6])
    odd = [
        *[replace(case, case=f"J{case.case[1:]}") for case in small(12)],
        replace(cases[0], case="RRRR-RR", rehearsal=True),
        replace(cases[0], case="PPPP-PP", sealed=False),
    ]
    found = told_apart([*cases, *odd], day, NOTHING)
    assert not isinstance(found, Reason)
    for pair in found:
        assert len({len(case.cusps) for some in pair.sets for case in some}) == 1
        assert not any(case.rehearsal or not case.sealed for some in pair.sets for case in some)
        assert dict(pair.left_out) == {"a rehearsal": 1, "not sealed": 1}


@pytest.mark.parametrize(
    ("by", "said"),
    [
        ("revision", "no two revisions"),
        ("technique", "no two techniques"),
        ("2001-01-01", "no series has cases both before 2001-01-01 and from then on"),
        ("nurse", "tells no cases apart; say revision, technique or a day"),
        ("2031-02-30", "tells no cases apart"),
        ("20310301", "write the day as 2031-03-01"),
    ],
)
def test_what_tells_no_two_sets_apart_is_refused_with_the_reason(by: str, said: str) -> None:
    assert said in why_not(varied(8), by)


def test_the_figures_are_those_of_the_reference_and_b_slower_is_told_as_longer() -> None:
    cases = varied(20)
    slower = [
        *cases[:10],
        *(replace(case, times=tuple(t._replace(us=t.us * 3) for t in case.times)) for case in cases[10:]),
    ]
    pair = only(slower, day_of(cases[10]))
    for one in pair.times:
        a, b = ([t.minutes for case in some if (t := case.lasted(one.id))] for some in pair.sets)
        assert (list(one.first), list(one.second)) == (a, b)
        expected = hodges_lehmann(b, a)
        assert one.shift == expected
        assert isinstance(expected, Shift)
        assert expected.shift > 0
        assert re.match(r"B [\d:]+ longer \(9[5-9]\.\d % interval ", shift_words(one))
        assert one.test == mann_whitney(b, a)
        assert isinstance(one.test, MannWhitney)
    for count in pair.counts:
        difference = newcombe_difference(count.second.count, count.second.n, count.first.count, count.first.n)
        assert count.difference == difference
        assert isinstance(difference, Interval)


def test_more_successes_in_b_are_told_with_a_plus() -> None:
    cases = varied(20, failed=(0, 1, 2))
    pair = only(cases, day_of(cases[10]))
    assert difference_words(pair.counts[0]).startswith("+30.0 in 100 (95 % interval ")


@pytest.mark.parametrize("n", range(2, 8))
@pytest.mark.parametrize("few", [1, 2, 3, 4])
def test_small_sets_show_nothing_that_the_gates_forbid(n: int, few: int) -> None:
    cases = varied(n + few)
    pair = only(cases, day_of(cases[n]))
    said = " ".join(" ".join(arms_lines(pair)).split())
    page = words(arms_page([pair]))
    compared = min(n, few) >= 4
    for told in (said, page):
        assert ("exact p" in told) is compared
        assert ("shorter" in told or "longer (" in told) is compared
        assert (" in 100 (95 % interval" in told) is compared
        assert f"{few} against {n} cases: each group needs 4" in told or compared
    assert bool(drawings(arms_page([pair]))) is compared
    if few < 3:
        # Four leaflets at the most: set B has bare counts.
        assert re.search(rf"B \d of {2 * few};", said)
    assert "%" not in re.sub(r"[\d.]+ % interval|to [\d.]+ %\)", "", said)


def test_the_words_say_what_a_comparison_cannot_say() -> None:
    cases = varied(20)
    pair = only(cases, day_of(cases[10]))
    for told in (" ".join(" ".join(arms_lines(pair)).split()), words(arms_page([pair]))):
        assert "Nobody drew lots" in told
        assert f"{len(pair.times) + 3} comparisons stand here" in told
        assert "A day that was chosen after looking" in told
        assert "No ranking, no advice." in told
    revisions = only([*revised(cases[:10], "1"), *revised(cases[10:], "2")], "revision")
    assert "A day that was chosen" not in " ".join(arms_lines(revisions))


def test_lines_fit_a_remote_shell_and_the_page_has_no_words_over_each_other() -> None:
    cases = varied(30)
    pair = only(cases, day_of(cases[12]))
    assert max(map(len, arms_lines(pair))) <= 80
    found = drawings(arms_page([pair, pair]))
    assert len(found) == 2
    for svg in found:
        assert overlaps(svg) == []
        assert outside(svg) == []


def test_a_page_of_two_sets_never_holds_a_rehearsal() -> None:
    cases = varied(12)
    pair = only(cases, day_of(cases[6]))
    first = (replace(pair.sets[0][0], rehearsal=True), *pair.sets[0][1:])
    with pytest.raises(ValueError, match="is a rehearsal"):
        arms_page([replace(pair, sets=(first, pair.sets[1]))])


def test_sets_too_large_for_exact_counting_say_so() -> None:
    cases = small(300)
    pair = only(cases, day_of(cases[150]), AGREED)
    assert "too large for an exact comparison" in shift_words(pair.times[0])
