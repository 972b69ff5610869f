"""Times in an amendment, over a change of summer time, the day after, and below the second."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labcheck.caselog.clockwords import SECOND, clock_words, date_words, offset_words
from labcheck.caselog.events import Event
from labcheck.caselog.folding import effective_payload
from labcheck.caselog.intents import Claim
from labcheck.caselog.stamps import Moment
from labcheck.caselog.telling import tell
from tests.console.desk import TestDesk
from tests.console.test_late_times import HOUR, MIN, NightDesk, autumn, sealed, spring, whole
from tests.console.test_panels import crossing, last


def stands(desk: TestDesk, event: Event) -> Moment:
    found = effective_payload(desk.case, event.seq)
    assert found is not None
    return found[1]


def to_time(desk: TestDesk, event: Event) -> None:
    """To the line that takes another time for an entry, emptied."""
    desk.press("e")
    desk.panel.at = event.seq  # type: ignore[union-attr]
    desk.press("enter", "2", *["backspace"] * 8)


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


def test_the_day_after_the_seal_an_entry_before_it_is_amended_without_asking_for_the_day() -> None:
    desk = TestDesk()
    entry = reading_of(desk)
    sealed(desk)
    desk.wait(26 * HOUR)
    to_time(desk, entry)
    desk.press(*"00:07:47", "enter")
    assert desk.panel is not None
    assert desk.panel.id == "reason"
    assert f"time 00:07:47 on {date_words(entry.happened)} instead of" in desk.text()


def test_a_paper_entry_from_another_zone_is_amended_in_its_own() -> None:
    desk = TestDesk()
    desk.press("enter")
    desk.wait(600)
    claim = Claim(wall_us=desk.now().wall_us - 300 * SECOND, off_s=-18_000, tz="", transcribed=True)
    desk.do("note.write", text="wire", claim=claim)
    entry = last(desk)
    later = clock_words(entry.happened.model_copy(update={"wall_us": entry.happened.wall_us + 60 * SECOND}))
    to_time(desk, entry)
    desk.press(*later, "enter", "1")
    assert stands(desk, entry).wall_us == entry.happened.wall_us + 60 * SECOND
    assert f"time {later} instead of {clock_words(entry.happened)}" in tell(desk.case, last(desk))


def test_an_amendment_below_the_second_is_told_with_what_it_changed() -> None:
    desk = TestDesk()
    desk.now_us += 737_000
    entry = reading_of(desk)
    cut = entry.happened.wall_us - entry.happened.wall_us % SECOND
    desk.do("event.amend", target=entry.seq, field="happened", value=str(cut), reason="test")
    amended = next(e for e in reversed(desk.case.log) if e.kind == "event.amended" and e.target == entry.seq)
    assert "time 00:06:47.000000 instead of 00:06:47.737000" in tell(desk.case, amended)


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
