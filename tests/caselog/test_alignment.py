"""Two orders laid beside each other, against a frozen table and an independent library."""

from __future__ import annotations

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rapidfuzz.distance import Indel

from labcheck.caselog.alignment import align
from labcheck.caselog.deviations import misplaced

STEPS = tuple("abcdefghi")
"""A made-up linear model of nine steps; d is a protection that may be declined, h the coronary check."""

TABLE = [
    ("as expected", "abcdefghi", 0, 0, "1.0000"),
    ("protection left out", "abcefghi", 1, 0, "0.9412"),
    ("three steps done a second time", "abcdefdefghi", 0, 3, "0.8571"),
    ("coronary check forgotten", "abcdefgi", 1, 0, "0.9412"),
    ("two steps swapped", "abdcefghi", 1, 1, "0.8889"),
    ("abandoned, two steps missing", "abcdefg", 2, 0, "0.8750"),
]
"""Costs and alignment fitness computed once with pm4py (alignments against a strict order)."""


@pytest.mark.parametrize(
    ("name", "came", "left_out", "added", "fitness"), TABLE, ids=[row[0] for row in TABLE]
)
def test_six_frozen_logs_cost_what_an_alignment_library_says(
    name: str, came: str, left_out: int, added: int, fitness: str
) -> None:
    found = align(STEPS, came)
    assert (len(found.left_out), len(found.added)) == (left_out, added)
    assert f"{1 - found.cost / (len(STEPS) + len(came)):.4f}" == fitness


def test_a_score_would_rank_a_forgotten_check_above_a_proper_second_try() -> None:
    forgotten, again = align(STEPS, "abcdefgi"), align(STEPS, "abcdefdefghi")
    assert forgotten.cost < again.cost


def test_the_cost_is_that_of_an_independent_library_on_two_thousand_random_logs() -> None:
    random_logs = random.Random(20310304)
    for _ in range(2000):
        model = [random_logs.choice("abcdefghijkl") for _ in range(random_logs.randint(0, 14))]
        came = [s for s in model if random_logs.random() > 0.15]
        for _ in range(random_logs.randint(0, 4)):
            came.insert(random_logs.randint(0, len(came)), random_logs.choice("abcdefghijkl"))
        if random_logs.random() < 0.3:
            random_logs.shuffle(came)
        assert align(model, came).cost == Indel.distance(model, came), (model, came)


@given(st.lists(st.sampled_from("abcde"), max_size=12), st.lists(st.sampled_from("abcde"), max_size=12))
def test_pairs_are_equal_in_both_orders_and_everything_else_is_left_out_or_added(
    expected: list[str], came: list[str]
) -> None:
    found = align(expected, came)
    assert all(expected[a] == came[b] for a, b in found.pairs)
    assert list(found.pairs) == sorted(found.pairs)
    assert len({b for _, b in found.pairs}) == len(found.pairs)
    assert sorted([a for a, _ in found.pairs] + list(found.left_out)) == list(range(len(expected)))
    assert sorted([b for _, b in found.pairs] + list(found.added)) == list(range(len(came)))


@given(st.permutations(list("abcdefg")))
def test_taking_out_what_is_misplaced_leaves_the_expected_order(came: list[str]) -> None:
    moved = [what for what, _, _ in misplaced("abcdefg", came)]
    rest = [s for s in came if s not in moved]
    assert rest == sorted(rest)
    assert 2 * len(moved) == Indel.distance("abcdefg", "".join(came))


@given(st.permutations(list("abcdefg")))
def test_each_misplaced_step_is_named_beside_one_it_really_changed_places_with(came: list[str]) -> None:
    for what, other, early in misplaced("abcdefg", came):
        assert (came.index(what) < came.index(other)) != ("abcdefg".index(what) < "abcdefg".index(other))
        assert early == (came.index(what) < came.index(other))
