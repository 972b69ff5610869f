"""How a moment is spelt."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labcheck.caselog.stamps import Moment
from labcheck.registry.times import EPOCH, offset, read_rfc3339, rfc3339


def moment(wall_us: int, off_s: int) -> Moment:
    return Moment(wall_us=wall_us, off_s=off_s, tz="")


def at(*parts: int) -> int:
    return int(datetime(*parts, tzinfo=UTC).timestamp()) * 1_000_000  # type: ignore[arg-type,misc]


def test_a_half_hour_offset_east_is_kept() -> None:
    there = moment(at(2031, 3, 4, 3, 44, 5) + 123_999, 19800)
    assert rfc3339(there) == "2031-03-04T09:14:05.123+05:30"
    assert offset(there) == "+05:30"


def test_a_half_hour_offset_west_is_kept_and_can_be_the_day_before() -> None:
    there = moment(at(2031, 3, 4, 2, 0, 0), -12600)
    assert rfc3339(there) == "2031-03-03T22:30:00.000-03:30"


def test_the_repeated_hour_of_a_clock_change_gives_two_different_spellings() -> None:
    # Both are 02:30 on the wall of a zone that leaves summer time.
    summer, winter = moment(at(2031, 10, 26, 0, 30), 7200), moment(at(2031, 10, 26, 1, 30), 3600)
    assert rfc3339(summer) == "2031-10-26T02:30:00.000+02:00"
    assert rfc3339(winter) == "2031-10-26T02:30:00.000+01:00"


def test_an_offset_with_seconds_leaves_in_utc_because_rfc_3339_cannot_say_it() -> None:
    there = moment(at(2031, 3, 4, 9, 0), 1172)
    assert rfc3339(there) == "2031-03-04T09:00:00.000+00:00"
    assert offset(there) == "+00:00"


@given(
    us=st.integers(min_value=0, max_value=at(2250, 1, 1)),
    minutes=st.integers(min_value=-18 * 60, max_value=18 * 60),
)
def test_every_spelling_reads_back_to_the_same_millisecond(us: int, minutes: int) -> None:
    found = read_rfc3339(rfc3339(moment(us, minutes * 60)))
    assert (found - EPOCH) // timedelta(milliseconds=1) == us // 1000
    assert found.utcoffset() == timedelta(minutes=minutes)


@pytest.mark.parametrize(
    "text",
    [
        "2031-03-04T09:14:05.123",
        "2031-03-04 09:14:05.123+01:00",
        "2031-03-04T09:14:05.123+0100",
        "2031-03-04T09:14:05+01:00",
        "2031-02-30T09:14:05.123+01:00",
        "2031-03-04T24:00:00.000+01:00",
        "2031-03-04T09:14:60.000+01:00",
        "2031-03-04T09:14:05.123-00:00",
        "2031-03-04T09:14:05.123Z",
        "",
    ],
)
def test_a_time_that_is_not_ours_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match=r".+"):
        read_rfc3339(text)
