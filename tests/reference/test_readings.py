"""Cumulative readings and the notices they reach."""

from decimal import Decimal
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labcheck.reference import pacing
from labcheck.reference.figures import Figure, Reason
from labcheck.reference.radiation import (
    AIR_KERMA_NOTICES,
    Cumulative,
    NoticeKind,
    air_kerma_mgy,
    kap_gy_cm2,
    new_notices,
    next_reading,
)

NOTHING = Cumulative("mGy")
READINGS = st.lists(st.integers(0, 9000), min_size=1, max_size=12)


def mgy(value: int) -> Figure | Reason:
    return air_kerma_mgy(Decimal(value), "mGy")


def after(*values: int) -> Cumulative:
    tally = NOTHING
    for value in values:
        found = next_reading(tally, mgy(value))
        assert isinstance(found, Cumulative)
        tally = found
    return tally


def test_a_reading_that_falls_is_refused_and_says_from_what_to_what() -> None:
    refused = next_reading(after(1200), mgy(1100))
    assert isinstance(refused, Reason)
    assert "1200" in refused.text
    assert "1100" in refused.text


def test_a_reading_that_stands_still_is_accepted() -> None:
    assert after(1200, 1200).total == 1200


def test_a_stated_reset_keeps_what_was_given_before_it() -> None:
    found = next_reading(after(1200), mgy(40), reset_stated=True)
    assert isinstance(found, Cumulative)
    assert found.total == 1240
    grown = next_reading(found, mgy(100))
    assert isinstance(grown, Cumulative)
    assert grown.total == 1300


def test_a_reading_of_another_quantity_is_refused() -> None:
    assert isinstance(next_reading(NOTHING, kap_gy_cm2(Decimal(10), "Gy·cm2")), Reason)
    assert next_reading(NOTHING, Reason("air kerma is not recorded")) == Reason("air kerma is not recorded")


@given(READINGS)
def test_each_level_gives_one_notice_however_the_readings_are_spaced(values: list[int]) -> None:
    values.sort()
    steps = [Decimal(0), *map(Decimal, values)]
    one_by_one = [n for a, b in pairwise(steps) for n in new_notices(a, b, AIR_KERMA_NOTICES)]
    assert one_by_one == list(new_notices(Decimal(0), steps[-1], AIR_KERMA_NOTICES))
    levels = [notice.level for notice in one_by_one if notice.kind is not NoticeKind.SUBSTANTIAL]
    assert levels == [Decimal(level) for level in range(3000, values[-1] + 1, 1000)]


def test_no_notice_comes_from_a_correction_downwards_or_a_number_out_of_all_proportion() -> None:
    assert new_notices(Decimal(5000), Decimal(2000), AIR_KERMA_NOTICES) == ()
    assert new_notices(Decimal(0), Decimal("1e30"), AIR_KERMA_NOTICES) == ()
    assert new_notices(Decimal(0), Decimal("NaN"), AIR_KERMA_NOTICES) == ()


@pytest.mark.parametrize(
    ("seconds", "long"),
    [(("9", "9"), True), (("9", "8.9"), False), (("9", None), None), (("18", None), True), ((), False)],
)
def test_eighteen_seconds_of_pacing_are_long_and_an_unknown_run_leaves_it_open(
    seconds: tuple[str | None, ...], long: bool | None
) -> None:
    """Matsuo, CJC Open 2025 (seen): 18 s or more in all."""
    found = pacing.tally([pacing.PacingRun(Decimal(180), Decimal(s) if s else None) for s in seconds])
    assert isinstance(found, pacing.PacingTally)
    assert found.long is long
