"""The published series against the percentages that their papers print."""

import pytest

from labcheck.reference.published import COUNTS, TIMES, PublishedCount, Spread
from labcheck.reference.sources import Mark


def the(what: str, n: int) -> PublishedCount:
    return next(one for one in COUNTS if (one.what, one.n) == (what, n))


@pytest.mark.parametrize(
    ("what", "n", "printed", "within"),
    [
        ("traversed and lacerated", 37, 95, 0.5),  # Khan, JACC Cardiovasc Interv 2019 (seen)
        ("traversed", 214, 94.9, 0.05),  # Khan, JACC Cardiovasc Interv 2021 (seen)
        ("lacerated", 214, 94.4, 0.05),  # Khan, JACC Cardiovasc Interv 2021 (seen)
        ("coronary obstruction", 214, 4.7, 0.05),  # Khan, JACC Cardiovasc Interv 2021 (seen)
        ("lacerated", 85, 97.7, 0.06),  # Abdel-Wahab, EuroIntervention 2023 (seen); 97.65
        ("technical success", 1624, 88.4, 0.05),  # Tomii, JACC Cardiovasc Interv 2022 (secondary)
        ("coronary obstruction", 1612, 2.3, 0.05),  # Ribeiro, Eur Heart J 2018 (seen)
        ("delayed coronary obstruction", 17092, 0.22, 0.005),  # Jabbour, J Am Coll Cardiol 2018 (seen)
    ],
)
def test_a_count_gives_the_percentage_its_paper_prints(
    what: str, n: int, printed: float, within: float
) -> None:
    one = the(what, n)
    assert 100 * one.count / one.n == pytest.approx(printed, abs=within)


def test_no_series_is_quoted_from_memory() -> None:
    marks = {one.source.mark for one in COUNTS} | {one.source.mark for one in TIMES}
    assert marks <= {Mark.SEEN, Mark.SECONDARY, Mark.DERIVED}


def test_a_count_is_said_with_its_denominator_and_without_a_percentage() -> None:
    assert the("traversed and lacerated", 37).text() == "35 of 37 leaflets: traversed and lacerated"
    assert not any("%" in one.text() for one in COUNTS)


def test_the_ends_of_a_time_lie_on_both_sides_of_it_and_are_named() -> None:
    for one in TIMES:
        if one.spread is Spread.NONE:
            assert (one.low, one.high) == (None, None)
        else:
            assert one.low is not None
            assert one.high is not None
            assert one.low < one.minutes < one.high
