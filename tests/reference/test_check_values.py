"""Every published or derived check value, each with its source and mark."""

from decimal import Decimal

import pytest

from labcheck.reference.figures import Reason
from tests.reference.check import Check
from tests.reference.values_of_complications import COMPLICATIONS
from tests.reference.values_of_figures import FIGURES
from tests.reference.values_of_grades import GRADES
from tests.reference.values_of_radiation import PACING, RADIATION, UNITS

TABLE = (*FIGURES, *RADIATION, *UNITS, *PACING, *GRADES, *COMPLICATIONS)


@pytest.mark.parametrize("check", TABLE, ids=lambda check: check.fact)
def test_a_check_value_is_met(check: Check) -> None:
    got = check.value()
    where = f"{check.source.text} ({check.source.mark.value})"
    assert not isinstance(got, Reason), f"{got} instead of {check.expected}; {where}"
    if check.within is None:
        assert got == check.expected, where
    else:
        assert isinstance(got, Decimal), where
        assert isinstance(check.expected, Decimal), where
        assert abs(got - check.expected) <= check.within, f"{got} instead of {check.expected}; {where}"


def test_the_table_holds_at_least_sixty_different_facts_each_with_a_source() -> None:
    assert len({check.fact for check in TABLE}) == len(TABLE) >= 60
    assert all(check.source.text for check in TABLE)
