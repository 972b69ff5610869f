"""Times that are typed or chosen for a late entry and in an amendment: over a change of summer time, the day after."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labcheck.caselog.clockwords import SECOND, clock_words, date_words, offset_words
from labcheck.caselog.events import Event
from labcheck.caselog.folding import effective_payload
from labcheck.caselog.stamps import Moment, Stamp
from labcheck.caselog.telling import tell
from labcheck.console.panels.zone_rules import offset_of
from tests.console.desk import TestDesk
from tests.console.test_panels import crossing, last

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


def stands(desk: TestDesk, event: Event) -> Moment:
    found = effective_payload(desk.case, event.seq)
    assert found is not None
    return found[1]


def sealed(desk: TestDesk) -> TestDesk:
    desk.press("enter")
    desk.wait(20 * MIN)
    desk.press("o")
    while desk.case.seal is None:
        desk.press(*(("down", "enter") if "close the case" in desk.text() else ("1", "1")))
    desk.press("escape")
    return desk


def to_time(desk: TestDesk, event: Event) -> None:
    """To the line that takes another time for an entry, emptied."""
    desk.press("e")
    desk.panel.at = event.seq  # type: ignore[union-attr]
    desk.press("enter", "2", *["backspace"] * 8)


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


# --- an amended time ----------------------------------------------------------------------------------------------


def reading_of(desk: TestDesk) -> Event:
    desk.press("enter", "r", "1", *"274", "enter")
    return next(event for event in desk.case.log if event.kind == "reading.taken")


def test_a_time_amended_the_day_after_stays_on_its_day() -> None:
    desk = TestDesk()
    entry = reading_of(desk)
    desk.wait(26 * HOUR)
    to_time(desk, entry)
    assert f"it stands at {clock_words(entry.happened)} on {date_words(entry.happened)}" in desk.text()
    desk.press(*"00:07:47", "enter", "1", "1")
    assert whole(stands(desk, entry)) == f"{date_words(entry.happened)} 00:07:47 {offset_words(entry.happened)}"


def test_an_entry_on_the_wrong_day_can_be_brought_to_the_right_one() -> None:
    desk = TestDesk()
    desk.press("enter")
    desk.wait(25 * HOUR)
    desk.press("l", "0", *"00:20:00", "enter", "1", "n", *"wire", "enter")
    entry = last(desk)
    to_time(desk, entry)
    desk.press(*"00:20:00", "enter")
    assert f"00:20:00 {date_words(desk.case.opened)}" in desk.text()  # type: ignore[arg-type]
    desk.press("1", "1")
    assert date_words(stands(desk, entry)) == date_words(desk.case.opened)  # type: ignore[arg-type]
    now, before = date_words(stands(desk, entry)), date_words(entry.happened)
    assert f"time {now} 00:20:00 instead of {before} 00:20:00" in tell(desk.case, last(desk))


@pytest.mark.parametrize(("make", "entry_at", "typed"), [(spring, "01:35", "01:40:00"), (autumn, "02:35", "02:40:00")])
def test_a_time_amended_over_the_change_is_read_and_told_in_the_entrys_own_offset(
    make: object, entry_at: str, typed: str
) -> None:
    desk: NightDesk = make(25)  # type: ignore[operator]
    entry = reading_of(desk)
    assert clock_words(entry.happened).startswith(entry_at)
    desk.wait(40 * MIN)
    to_time(desk, entry)
    desk.press(*typed, "enter", "1")
    assert clock_words(stands(desk, entry)) == typed
    assert stands(desk, entry).wall_us - entry.happened.wall_us < 6 * MIN * SECOND
    amended = next(e for e in reversed(desk.case.log) if e.kind == "event.amended" and e.target == entry.seq)
    assert f"time {typed} instead of {clock_words(entry.happened)}:" in tell(desk.case, amended)


def test_a_time_read_off_the_new_offset_is_said_as_the_entry_will_say_it() -> None:
    desk = spring(25)
    entry = reading_of(desk)
    desk.wait(40 * MIN)
    to_time(desk, entry)
    desk.press(*"03:05:00", "enter")
    assert "the entry keeps its own UTC+01:00 and will say 02:05:00 UTC+01:00" in desk.text()
    desk.press("1")
    assert whole(stands(desk, entry)) == "2031-03-30 02:05:00 UTC+01:00"


def test_enter_on_the_time_that_stands_amends_nothing_and_keeps_its_part_of_a_second() -> None:
    desk = TestDesk()
    desk.now_us += 737_000
    entry = reading_of(desk)
    desk.wait(300)
    before = desk.case.head_seq
    to_time(desk, entry)
    desk.press(*clock_words(entry.happened), "enter")
    assert "that is what it says already" in desk.text()
    assert clock_words(entry.happened) in desk.text()
    assert desk.case.head_seq == before


def test_the_part_of_a_second_goes_with_a_second_that_was_not_changed_and_else_its_loss_is_said() -> None:
    for typed, said, part in (("00:07:47", "is kept", 737_000), ("00:06:50", "does not go along", 0)):
        desk = TestDesk()
        desk.now_us += 737_000
        entry = reading_of(desk)
        assert clock_words(entry.happened) == "00:06:47"
        desk.wait(300)
        to_time(desk, entry)
        desk.press(*typed, "enter")
        assert f"(.737 s) {said}" in desk.text()
        desk.press("1")
        assert clock_words(stands(desk, entry)) == typed
        assert stands(desk, entry).wall_us % SECOND == part


def test_a_second_amendment_starts_from_the_first() -> None:
    desk = TestDesk()
    entry = reading_of(desk)
    desk.wait(300)
    to_time(desk, entry)
    desk.press(*"00:07:47", "enter", "1", "e")
    desk.panel.at = entry.seq  # type: ignore[union-attr]
    desk.press("enter")
    assert "amend its time    00:07:47" in desk.text()
    assert f"first written {clock_words(entry.happened)}" in desk.text()
    desk.press("2")
    assert "it happened at hh:mm:ss: 00:07:47" in desk.text()


def test_a_time_that_the_log_refuses_is_refused_while_it_stands_on_the_line() -> None:
    desk = crossing()
    desk.press("space", "space")
    stopped = last(desk)
    to_time(desk, stopped)
    desk.press(*"00:06:41", "enter")
    assert f"cannot amend #{stopped.seq}" in desk.text()
    assert "00:06:41" in desk.text()
    assert desk.kinds() == ["energy.stopped"]


def test_no_entry_is_amended_to_a_time_that_is_still_to_come_or_without_its_seconds() -> None:
    desk = TestDesk()
    entry = reading_of(desk)
    to_time(desk, entry)
    desk.press(*"00:59:00", "enter")
    assert "there was no 00:59:00 yet" in desk.text()
    desk.press(*["backspace"] * 3, "enter")
    assert "type the seconds too" in desk.text()
    assert desk.case.head_seq == entry.seq or desk.kinds() == ["step.answered"]


MOVES = st.integers(-1800, 1800).filter(bool)


@given(st.sampled_from((spring, autumn)), st.integers(0, 90), st.integers(10, 2000), MOVES)
@settings(max_examples=12, deadline=None)
def test_an_amended_time_is_the_one_that_was_typed_and_the_nearest(
    make: object, before_min: int, wait_min: int, move_s: int
) -> None:
    desk: NightDesk = make(before_min)  # type: ignore[operator]
    entry = reading_of(desk)
    desk.wait(wait_min * MIN)
    wanted = entry.happened.wall_us + move_s * SECOND
    typed = clock_words(entry.happened.model_copy(update={"wall_us": wanted}))
    before = desk.case.head_seq
    to_time(desk, entry)
    desk.press(*typed, "enter")
    if desk.panel is not None and "which" in desk.panel.title:
        own = offset_words(entry.happened)
        desk.press(next(desk.panel.digit_of(n) for n, i in enumerate(desk.panel.items) if own in i.text))  # type: ignore[attr-defined]
    if desk.panel is not None and desk.panel.id == "reason":
        desk.press("1")
    if desk.case.head_seq > before:
        now = stands(desk, entry)
        assert clock_words(now) == typed
        assert abs(now.wall_us - entry.happened.wall_us) <= 1800 * SECOND + SECOND
    else:
        assert wanted > desk.now().wall_us or wanted < desk.case.visits[0].start.wall_us


# --- zone data ------------------------------------------------------------------------------------------------------


def test_the_machines_zone_data_is_only_a_second_voice() -> None:
    assert offset_of("Europe/Zurich", SPRING * SECOND) == 7200
    assert offset_of("Europe/Zurich", SPRING * SECOND - 1) == 3600
    assert offset_of("Test/Zone", SPRING * SECOND) is None
    assert offset_of("../etc/passwd", SPRING * SECOND) is None
