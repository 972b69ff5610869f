"""What a typed time of day can mean, over both changes of summer time, midnight and the day after."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labcheck.caselog.clockwords import SECOND, clock_words, date_words, offset_words
from labcheck.caselog.stamps import Moment, Stamp
from labcheck.caselog.typed_times import (
    dated,
    fitting,
    in_two_digits,
    moments,
    no_rules,
    of_day_us,
    placed,
    zone_at,
)
from tests.caselog.driving import Driver

HOUR = 3600 * SECOND
SPRING = round(datetime(2031, 3, 30, 1, tzinfo=UTC).timestamp()) * SECOND
AUTUMN = round(datetime(2031, 10, 26, 1, tzinfo=UTC).timestamp()) * SECOND
WINTER_S, SUMMER_S = 3600, 7200


class Night(Driver):
    """A case through a night on which the offset changes at ``change_us``; nothing of it is in any zone data."""

    def __init__(self, start_us: int, change_us: int, before_s: int, after_s: int) -> None:
        self.start_us, self.change_us, self.before_s, self.after_s = start_us, change_us, before_s, after_s
        super().__init__()

    def off_s(self, wall_us: int) -> int:
        return self.before_s if wall_us < self.change_us else self.after_s

    def stamp(self) -> Stamp:
        plain = super().stamp()
        wall_us = self.start_us + self.now_us
        return plain.model_copy(update={"wall_us": wall_us, "off_s": self.off_s(wall_us)})

    def shown(self, wall_us: int) -> str:
        """What the room's clock showed."""
        return clock_words(Moment(wall_us=wall_us, off_s=self.off_s(wall_us), tz="Test/Zone"))

    def rules(self, zone: str, wall_us: int) -> int | None:
        """The zone data of this night."""
        return self.off_s(wall_us) if zone == "Test/Zone" else None

    def typed(self, text: str, *, ruled: bool = False) -> tuple[Moment, ...]:
        of_day = of_day_us(text)
        assert of_day is not None
        return moments(self.case, of_day, self.stamp(), self.rules if ruled else no_rules)


def spring(start_h: float) -> Night:
    """Two o'clock becomes three. ``start_h``: hours from the change to the opening of the case."""
    return Night(SPRING + round(start_h * HOUR), SPRING, WINTER_S, SUMMER_S)


def autumn(start_h: float) -> Night:
    """Three o'clock becomes two."""
    return Night(AUTUMN + round(start_h * HOUR), AUTUMN, SUMMER_S, WINTER_S)


def said(night: Night, text: str, *, ruled: bool = False) -> list[str]:
    return [f"{date_words(at)} {clock_words(at)} {offset_words(at)}" for at in night.typed(text, ruled=ruled)]


# --- known nights -------------------------------------------------------------------------------------------------


def test_before_the_spring_change_the_earlier_offset_counts_though_nothing_was_entered_since() -> None:
    night = spring(-0.5).at(40)
    assert night.shown(night.stamp().wall_us) == "03:10:00"
    assert said(night, "01:50") == ["2031-03-30 01:50:00 UTC+01:00"]
    assert said(night, "03:05") == ["2031-03-30 03:05:00 UTC+02:00"]


def test_a_time_that_the_spring_night_left_out_is_none_where_the_zone_is_known() -> None:
    night = spring(-0.5).at(40)
    assert said(night, "02:30", ruled=True) == ["2031-03-29 02:30:00 UTC+01:00"]
    assert night.typed("02:30", ruled=True)[0].wall_us < night.start_us


def test_a_time_before_the_autumn_change_is_twenty_minutes_ago_and_not_yesterday() -> None:
    night = autumn(-0.5).at(40)
    assert night.shown(night.stamp().wall_us) == "02:10:00"
    assert said(night, "02:50") == ["2031-10-26 02:50:00 UTC+02:00"]


@pytest.mark.parametrize("ruled", [False, True])
def test_an_hour_that_comes_twice_gives_both_the_later_first(ruled: bool) -> None:
    night = autumn(-1).at(100)
    twice = ["2031-10-26 02:10:00 UTC+01:00", "2031-10-26 02:10:00 UTC+02:00"]
    assert said(night, "02:10", ruled=ruled) == twice


def test_the_day_after_gives_both_days() -> None:
    night = Night(AUTUMN - 60 * HOUR, AUTUMN, SUMMER_S, WINTER_S).at(25 * 60)
    opened, now = (night.shown(us) for us in (night.start_us, night.stamp().wall_us))
    assert (opened, now) == ("15:00:00", "16:00:00")
    assert [at[:10] for at in said(night, "15:30")] == ["2031-10-24", "2031-10-23"]
    assert [at[:10] for at in said(night, "17:30")] == ["2031-10-23"]


def test_a_time_that_is_in_no_part_of_the_case_is_the_last_one_before_it() -> None:
    night = autumn(5).at(30)
    assert said(night, "23:00") == ["2031-10-25 23:00:00 UTC+01:00"]


@pytest.mark.parametrize("rules_say", [0, WINTER_S, SUMMER_S])
def test_a_zone_whose_rules_the_log_contradicts_is_not_asked(rules_say: int) -> None:
    night = autumn(-1).at(100)
    assert len(moments(night.case, 2 * HOUR, night.stamp(), lambda _zone, _us: rules_say)) == 2


def test_a_zone_that_an_entry_shares_with_the_log_leaves_the_other_offset_open() -> None:
    night = autumn(-1).at(100)
    entry = night.case.log[0].happened
    upto = night.stamp().wall_us
    found = fitting(night.case, 2 * HOUR + 10 * 60 * SECOND, night.stamp(), since=0, upto=upto, zone=entry)
    assert [at.off_s for at in found[:2]] == [WINTER_S, SUMMER_S]


def test_only_the_stamps_next_to_a_moment_say_its_offset() -> None:
    night = autumn(-2)
    for minutes in (60, 119, 121, 150):
        night.at(minutes).do("mark.set")
    night.at(170)
    assert said(night, "02:20") == ["2031-10-26 02:20:00 UTC+01:00", "2031-10-26 02:20:00 UTC+02:00"]
    assert zone_at(night.case, AUTUMN - 30 * 60 * SECOND, night.stamp())[0] == SUMMER_S
    assert said(night, "01:30") == ["2031-10-26 01:30:00 UTC+02:00"]
    assert said(night, "02:59:30") == ["2031-10-26 02:59:30 UTC+02:00"]
    assert said(night, "02:50") == ["2031-10-26 02:50:00 UTC+01:00", "2031-10-26 02:50:00 UTC+02:00"]


def test_a_clock_that_was_set_back_leaves_the_offsets_in_the_order_of_the_clock() -> None:
    night = autumn(-2).at(150)
    night.do("mark.set")
    night.at(30).do("mark.set")
    assert said(night.at(160), "02:10") == ["2031-10-26 02:10:00 UTC+01:00", "2031-10-26 02:10:00 UTC+02:00"]
    assert said(night, "03:35") == ["2031-10-25 03:35:00 UTC+02:00"]


def test_both_ends_of_a_stretch_belong_to_it() -> None:
    night = spring(-5).at(60)
    at = night.typed("20:30")[0]
    assert fitting(night.case, of_day_us("20:30") or 0, night.stamp(), since=at.wall_us, upto=at.wall_us) == (at,)


# --- any night ----------------------------------------------------------------------------------------------------

NIGHTS = st.builds(
    lambda make, start_h, minutes: make(start_h).at(minutes),
    st.sampled_from((spring, autumn)),
    st.floats(-30, 3),
    st.integers(5, 2400),
)


def entered(night: Night, places: list[float]) -> Night:
    """With marks at some moments of the case, each a share of its length."""
    end = night.now_us
    for place in sorted(places):
        night.now_us = round(end * place)
        night.do("mark.set")
    night.now_us = end
    return night


SHARES = st.floats(0, 1)


@given(NIGHTS, st.lists(SHARES, max_size=3), SHARES, st.booleans())
@settings(max_examples=25, deadline=None)
def test_the_moment_that_was_read_off_the_rooms_clock_is_among_those_it_can_mean(
    night: Night, places: list[float], share: float, ruled: bool
) -> None:
    night = entered(night, places)
    true = night.start_us + round(night.now_us * share)
    true = max(true - true % SECOND, -(-night.start_us // SECOND) * SECOND)
    found = night.typed(night.shown(true), ruled=ruled)
    assert true in [at.wall_us for at in found if at.off_s == night.off_s(true)]
    assert {clock_words(at) for at in found} == {night.shown(true)}
    assert [at.wall_us for at in found] == sorted({at.wall_us for at in found}, reverse=True)
    assert all(night.start_us <= at.wall_us <= night.stamp().wall_us for at in found)
    if ruled:
        assert all(night.shown(at.wall_us) == night.shown(true) for at in found)


@given(NIGHTS, st.lists(SHARES, max_size=3), st.integers(0, 86_399))
@settings(max_examples=15, deadline=None)
def test_whatever_is_typed_no_moment_is_in_the_future_or_shows_another_time(
    night: Night, places: list[float], second: int
) -> None:
    night = entered(night, places)
    text = f"{second // 3600:02d}:{second // 60 % 60:02d}:{second % 60:02d}"
    found = night.typed(text)
    assert {clock_words(at) for at in found} == {text}
    assert all(at.wall_us <= night.stamp().wall_us for at in found)


# --- parts --------------------------------------------------------------------------------------------------------


def test_a_paper_entry_in_a_zone_the_log_never_had_is_read_in_its_own() -> None:
    night = spring(-5).at(60)
    paper = Moment(wall_us=night.start_us, off_s=-18_000, tz="")
    upto = night.stamp().wall_us
    found = fitting(night.case, 15 * HOUR, night.stamp(), since=upto - 24 * HOUR, upto=upto, zone=paper)
    assert [(at.off_s, clock_words(at)) for at in found] == [(-18_000, "15:00:00")]


def test_minutes_ago_are_shown_by_the_offset_of_the_nearer_stamp() -> None:
    night = spring(-0.5).at(40)
    now = night.stamp()
    assert zone_at(night.case, now.wall_us - 60 * SECOND, now)[0] == SUMMER_S
    assert zone_at(night.case, night.start_us + 60 * SECOND, now)[0] == WINTER_S
    assert zone_at(night.case, SPRING - SECOND, now, night.rules)[0] == WINTER_S


@pytest.mark.parametrize(
    ("text", "written"),
    [
        ("9:05", "09:05"),
        ("09:05", "09:05"),
        ("9:05:07", "09:05:07"),
        ("23:59:59", "23:59:59"),
        ("24:00", None),
        ("9:60", None),
        ("9:05:60", None),
        ("9.05", None),
        ("", None),
    ],
)
def test_a_time_of_day_is_written_with_two_digits(text: str, written: str | None) -> None:
    assert in_two_digits(text) == written


def test_a_date_or_an_offset_is_said_where_it_is_not_the_same() -> None:
    night = autumn(-1).at(100)
    first, second = night.typed("02:10")[::-1]
    assert dated(second, night.stamp()) == "02:10:00"
    assert dated(first, night.stamp()) == "02:10:00 UTC+02:00"
    assert placed(night.case, first, night.stamp()) == "today, UTC+02:00, 1 h 30 min ago"
    day_before = first.model_copy(update={"wall_us": first.wall_us - 24 * HOUR})
    assert dated(day_before, night.stamp()) == "02:10:00 on 2031-10-25 UTC+02:00"
    assert placed(night.case, day_before, night.stamp()).endswith("before the case was opened")
