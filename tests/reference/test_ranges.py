"""Every accepted range includes both its ends and nothing beyond them, and says what it refused."""

from decimal import Decimal

import pytest

from labcheck.reference import (
    alignment,
    anatomy,
    anticoagulation,
    bleeding,
    contrast,
    delayed,
    endpoints,
    pacing,
    radiation,
    renal,
)
from labcheck.reference.figures import Range, Reason

MODULES = (
    alignment,
    anatomy,
    anticoagulation,
    bleeding,
    contrast,
    delayed,
    endpoints,
    pacing,
    radiation,
    renal,
)
RANGES = {
    (one.subject, one.unit): one
    for module in MODULES
    for one in vars(module).values()
    if isinstance(one, Range)
}


@pytest.mark.parametrize("accepted", RANGES.values(), ids=lambda one: f"{one.subject}, {one.unit}")
def test_a_range_ends_where_it_says(accepted: Range) -> None:
    assert accepted.low < accepted.high
    assert accepted.check(accepted.low) == accepted.low
    assert accepted.check(accepted.high) == accepted.high
    little = Decimal("0.000001")
    for beyond in (accepted.low - little, accepted.high + little):
        refused = accepted.check(beyond)
        assert isinstance(refused, Reason)
        assert accepted.unit in refused.text
        assert accepted.subject in refused.text


def test_there_are_ranges_to_test() -> None:
    assert len(RANGES) > 20


@pytest.mark.parametrize("odd", [None, True, 1.0, "12", Decimal("NaN"), Decimal("sNaN"), Decimal("Infinity")])
def test_a_value_that_is_no_decimal_number_is_a_reason(odd: object) -> None:
    assert isinstance(renal.WEIGHT.check(odd), Reason)


def test_a_whole_number_is_a_decimal_number() -> None:
    assert renal.WEIGHT.check(80) == Decimal(80)
