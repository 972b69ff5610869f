"""The case in the order in which it happened, with corrections beside what they correct."""

from __future__ import annotations

from decimal import Decimal

from labcheck.caselog.intents import Claim
from labcheck.debrief.timeline import Line, since_words, timeline
from tests.caselog.driving import Driver

MIN = 60_000_000


def lines(driver: Driver) -> dict[int, Line]:
    return {line.seq: line for line in timeline(driver.case)}


def order(driver: Driver) -> list[int]:
    return [line.seq for line in timeline(driver.case)]


def noted() -> Driver:
    driver = Driver("left")
    driver.at(5).do("stage.open")
    driver.at(10).do("note.write", text="ten")
    driver.at(20).do("note.write", text="twenty")
    return driver


def test_a_late_entry_stands_where_it_happened() -> None:
    driver = noted()
    driver.do("note.write", text="fifteen", claim=Claim(ago_us=5 * MIN))
    assert order(driver) == [1, 2, 3, 5, 4]
    assert lines(driver)[5].late.startswith("LATE +5:0")


def test_a_live_entry_keeps_its_place_although_the_wall_clock_was_set_back_over_a_restart() -> None:
    driver = noted()
    driver.boot_id, driver.wall_shift_us = "boot-b", -60 * MIN
    driver.at(30).do("note.write", text="thirty")
    assert order(driver) == [1, 2, 3, 4, 5]


def test_time_is_told_from_the_start_of_access_and_before_it_is_negative() -> None:
    driver = noted()
    assert [line.since for line in timeline(driver.case)] == ["-5:00", "+0:00", "+5:00", "+15:00"]
    assert [since_words(us) for us in (-1, 0, 3_729_000_000)] == ["+0:00", "+0:00", "+1:02:09"]


def test_without_access_no_time_since_access_is_made_up() -> None:
    assert [line.since for line in timeline(Driver("left").case)] == [""]


def test_a_voided_entry_stays_legible_with_its_void_beside_it() -> None:
    driver = noted()
    driver.do("undo")
    line = lines(driver)[4]
    assert (line.mark, line.words) == ("VOID", "note: twenty")
    assert len(line.notes) == 1
    assert line.notes[0].startswith("5 at ")
    assert line.notes[0].endswith("undone")
    assert 5 not in lines(driver)


def test_a_void_that_was_itself_voided_says_so_and_the_entry_counts() -> None:
    driver = noted()
    driver.do("event.void", target=4, reason="haemodynamic")
    driver.do("event.void", target=5, reason="haemodynamic")
    line = lines(driver)[4]
    assert line.mark == ""
    assert [note.partition(": ")[2] for note in line.notes] == [
        "voided: haemodynamics, itself voided",
        "voided: haemodynamics",
    ]


def test_an_amended_entry_keeps_its_first_words_and_the_change_stands_beside_it() -> None:
    driver = noted()
    driver.do("event.amend", target=4, field="text", value="twenty-one", reason="misread")
    line = lines(driver)[4]
    assert line.mark == "AMENDED"
    assert line.words.endswith("twenty")
    assert line.notes[0].endswith("text twenty-one instead of twenty: misread")


def test_an_entry_whose_time_was_amended_moves_to_where_it_happened() -> None:
    driver = noted()
    earlier = str(driver.case.log[3].happened.wall_us - 13 * MIN)
    driver.do("event.amend", target=4, field="happened", value=earlier, reason="misread")
    assert order(driver) == [1, 2, 4, 3]
    assert lines(driver)[4].since == "+2:00"


def test_the_step_that_a_reading_answered_stands_behind_the_reading() -> None:
    driver = noted()
    driver.do("reading.take", reading="act", value=Decimal(274))
    assert driver.case.log[-1].kind == "step.answered"
    assert lines(driver)[5].words == "ACT 274 s (answers Baseline ACT [6])"
    assert 6 not in lines(driver)


def test_every_entry_is_shown_or_stands_beside_or_behind_one_that_is() -> None:
    driver = noted()
    driver.do("reading.take", reading="act", value=Decimal(274))
    driver.do("undo")
    driver.do("event.amend", target=4, field="text", value="x", reason="misread")
    text = " ".join(f"{line.seq} {line.words} {' '.join(line.notes)}" for line in timeline(driver.case))
    for event in driver.case.log:
        assert str(event.seq) in text.replace("[", " ").replace("]", " ").split()


def test_what_came_after_the_seal_is_marked() -> None:
    driver = Driver("left")
    driver.do("signout.settle", item="signout:flow_seen", reason="haemodynamic")
    driver.do("case.seal")
    driver.do(
        "addendum.add",
        fact={"kind": "note.written", "text": "later"},
        reason="misread",
        claim=Claim(ago_us=1_000_000),
    )
    assert lines(driver)[driver.case.head_seq].mark == "AFTER SEAL"
