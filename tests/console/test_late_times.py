"""Times typed or chosen for a late entry: over a change of summer time, the day after, while the list is open."""

from __future__ import annotations

from datetime import UTC, datetime

from labcheck.caselog.clockwords import SECOND, clock_words, date_words, offset_words
from labcheck.caselog.stamps import Moment, Stamp
from labcheck.console.panels.zone_rules import offset_of
from tests.console.desk import TestDesk
from tests.console.test_panels import last

MIN, HOUR = 60, 3600
SPRING = round(datetime(2031, 3, 30, 1, tzinfo=UTC).timestamp())
AUTUMN = round(datetime(2031, 10, 26, 1, tzinfo=UTC).timestamp())


class NightDesk(TestDesk):
    """A desk in a night on which the offset changes; the zone is in nobody's data."""

    def __init__(self, start_s: int, change_s: int, before_s: int, after_s: int) -> None:
        self.night = start_s * SECOND, change_s * SECOND, before_s, after_s
        super().__init__()

    def now(self) -> Stamp:
        start_us, change_us, before_s, after_s = self.night
        wall_us = start_us + self.now_us
        return super().now().model_copy(
            update={"wall_us": wall_us, "off_s": before_s if wall_us < change_us else after_s}
        )


def spring(before_min: float) -> NightDesk:
    """The case is opened so many minutes before two o'clock becomes three."""
    return NightDesk(SPRING - round(before_min * MIN), SPRING, HOUR, 2 * HOUR)


def autumn(before_min: float) -> NightDesk:
    """The case is opened so many minutes before three o'clock becomes two."""
    return NightDesk(AUTUMN - round(before_min * MIN), AUTUMN, 2 * HOUR, HOUR)


def whole(at: Moment) -> str:
    return f"{date_words(at)} {clock_words(at)} {offset_words(at)}"


def sealed(desk: TestDesk) -> TestDesk:
    desk.press("enter")
    desk.wait(20 * MIN)
    desk.press("o")
    while desk.case.seal is None:
        desk.press(*(("down", "enter") if "close the case" in desk.text() else ("1", "1")))
    desk.press("escape")
    return desk


# --- a late entry ---------------------------------------------------------------------------------------------------


def test_over_the_spring_change_a_typed_time_keeps_its_hour() -> None:
    desk = spring(30)
    desk.press("enter")
    desk.wait(40 * MIN)
    desk.press("l", "0", *"01:50", "enter")
    assert desk.text().startswith("LATE ENTRY  at 01:50:00 UTC+01:00, 20 min ago: what")
    desk.press("n", *"wire", "enter")
    assert whole(last(desk).happened) == "2031-03-30 01:50:00 UTC+01:00"
    assert last(desk).lag_us // SECOND // MIN == 20


def test_over_the_autumn_change_twenty_minutes_ago_is_not_yesterday() -> None:
    desk = autumn(30)
    desk.press("enter")
    desk.wait(40 * MIN)
    desk.press("l", "0", *"02:50", "enter", "n", *"wire", "enter")
    assert whole(last(desk).happened) == "2031-10-26 02:50:00 UTC+02:00"
    assert last(desk).late_reason is None


def test_an_hour_that_comes_twice_is_asked_before_anything_is_recorded() -> None:
    for digit, offset in (("1", "UTC+01:00"), ("2", "UTC+02:00")):
        desk = autumn(60)
        desk.press("enter")
        desk.wait(100 * MIN)
        desk.press("l", "0", *"02:10", "enter")
        assert "02:10 today, UTC+02:00, 1 h 30 min ago" in desk.text()
        assert "02:10 today, UTC+01:00, 30 min ago" in desk.text()
        desk.press("enter")
        assert last(desk).kind == "stage.opened"
        desk.press(digit, "n", *"wire", "enter")
        assert whole(last(desk).happened) == f"2031-10-26 02:10:00 {offset}"


def test_the_day_after_the_day_is_asked_and_said() -> None:
    desk = TestDesk()
    desk.press("enter")
    desk.wait(25 * HOUR)
    desk.press("l", "0", *"00:20", "enter")
    assert "00:20 today" in desk.text()
    assert f"00:20 {date_words(desk.case.opened)}" in desk.text()  # type: ignore[arg-type]
    desk.press("2")
    assert f"at 00:20:00 on {date_words(desk.case.opened)}" in desk.text()  # type: ignore[arg-type]
    desk.press("n", *"wire", "enter")
    assert date_words(last(desk).happened) == date_words(desk.case.opened)  # type: ignore[arg-type]


def test_once_sealed_the_day_of_the_case_is_offered_first() -> None:
    desk = sealed(TestDesk())
    opened = date_words(desk.case.opened)  # type: ignore[arg-type]
    desk.wait(26 * HOUR)
    desk.press("l", "0", *"00:20", "enter", "1", "d", "1", *"5000", "enter")
    assert last(desk).kind == "addendum.added"
    assert date_words(last(desk).happened) == opened


def test_a_time_later_than_now_is_never_yesterdays_without_asking() -> None:
    desk = TestDesk()
    desk.press("enter")
    desk.wait(600)
    desk.press("l", "0", *"00:18", "enter")
    assert desk.panel is not None
    assert desk.panel.title == "LATE ENTRY  which 00:18"
    assert "before the case was opened" in desk.text()
    desk.press("2")
    assert "00:18" in desk.text()  # what was typed is still there
    assert desk.panel.title == "LATE ENTRY  when"


def test_after_midnight_a_time_of_the_evening_is_the_evenings_and_says_its_date() -> None:
    desk = TestDesk()
    desk.wait(23 * HOUR)
    before = desk.now()
    desk.wait(2 * HOUR)
    desk.press("l", "0", *clock_words(before), "enter")
    assert f"at {clock_words(before)} on {date_words(before)}, 2 h 00 min ago" in desk.text()


def test_the_times_beside_the_minutes_go_on_while_the_list_is_open() -> None:
    desk = TestDesk()
    desk.press("enter")
    desk.wait(900)
    desk.press("l")
    desk.wait(300)
    three = clock_words(desk.now().model_copy(update={"wall_us": desk.now().wall_us - 180 * SECOND}))
    assert f"3 min ago    {three}" in desk.text()
    desk.press("3", "n", *"wire", "enter")
    assert clock_words(last(desk).happened) == three


def test_a_line_that_comes_into_the_list_does_not_move_the_mark() -> None:
    desk = TestDesk()
    desk.wait(70)
    desk.press("l", "down", "down")
    assert desk.panel.items[desk.panel.at].digit == "0"  # type: ignore[union-attr]
    desk.wait(120)
    desk.text()
    assert desk.panel.items[desk.panel.at].digit == "0"  # type: ignore[union-attr]


def test_minutes_over_the_change_are_recorded_as_the_list_shows_them() -> None:
    desk = spring(30)
    desk.press("enter")
    desk.wait(40 * MIN)
    desk.press("l")
    shown = clock_words(desk.now().model_copy(update={"wall_us": desk.now().wall_us - 180 * SECOND}))
    assert f"3 min ago    {shown}\n" in "\n".join(line.rstrip() for line in desk.text().splitlines())
    desk.press("3", "n", *"wire", "enter")
    assert clock_words(last(desk).happened) == shown


# --- zone data ------------------------------------------------------------------------------------------------------


def test_the_machines_zone_data_is_only_a_second_voice() -> None:
    assert offset_of("Europe/Zurich", SPRING * SECOND) == 7200
    assert offset_of("Europe/Zurich", SPRING * SECOND - 1) == 3600
    assert offset_of("Test/Zone", SPRING * SECOND) is None
    assert offset_of("../etc/passwd", SPRING * SECOND) is None
