"""The case drawn to scale."""

from __future__ import annotations

from decimal import Decimal

from labcheck.caselog.events import KINDS
from labcheck.caselog.folding import begin
from labcheck.caselog.intents import Claim
from labcheck.caselog.trace import LETTERS, Bar, Trace, TraceMark, trace
from tests.caselog.driving import Driver, small

MIN = 60_000_000


def drawn(driver: Driver) -> Trace:
    return trace(driver.case, driver.stamp())


def bars(driver: Driver, lane: str) -> tuple[Bar, ...]:
    return next(row.bars for row in drawn(driver).rows if row.id == lane)


def marks(driver: Driver, lane: str) -> tuple[TraceMark, ...]:
    return next(row.marks for row in drawn(driver).rows if row.id == lane)


def crossing() -> Driver:
    driver = Driver("right", "left")
    driver.at(2).do("stage.open")
    driver.at(10).do("stage.open", stage="cross", cusp="right", reason="haemodynamic")
    return driver


def test_there_is_a_lane_for_the_case_for_every_target_cusp_in_planned_order_and_for_the_rest() -> None:
    assert [row.id for row in drawn(crossing()).rows] == ["case", "right", "left", "other"]


def test_stages_are_bars_in_microseconds_from_the_opening_of_the_case_and_the_last_is_open() -> None:
    access, cross = bars(crossing().at(12), "case")
    assert (access.from_us, access.to_us, access.open, access.how) == (2 * MIN, 10 * MIN, False, "done")
    assert (cross.from_us, cross.to_us, cross.open, cross.label) == (10 * MIN, 12 * MIN, True, "cross R")


def test_the_axis_knows_where_access_began() -> None:
    assert drawn(crossing()).access_us == 2 * MIN
    assert drawn(Driver()).access_us is None


def test_attempts_are_bars_on_the_lane_of_their_cusp_with_number_and_result() -> None:
    driver = crossing()
    driver.at(11).do("energy.on")
    driver.at(11.5).do("energy.off")
    driver.at(12).do("attempt.close", outcome="failed")
    driver.at(14).do("attempt.open")
    first, second = bars(driver.at(15), "right")
    assert (first.label, first.from_us, first.to_us) == ("1 failed", 11 * MIN, 12 * MIN)
    assert (second.label, second.open) == ("2", True)
    assert bars(driver, "left") == ()
    assert [mark.letter for mark in marks(driver, "right") if mark.letter == "E"] == ["E"]


def test_readings_and_doses_are_letters_at_their_time_on_the_other_lane() -> None:
    driver = crossing()
    driver.at(12).do("reading.take", reading="act", value=Decimal(274))
    driver.at(13).do("dose.give", drug="heparin")
    shown = [(m.letter, m.at_us, m.words) for m in marks(driver, "other")]
    assert ("R", 12 * MIN, "ACT 274 s") in shown
    assert ("D", 13 * MIN, "Heparin given, amount not recorded") in shown


def test_a_late_entry_stands_where_it_happened_and_is_marked_late() -> None:
    driver = crossing()
    driver.at(20).do("note.write", text="late", claim=Claim(ago_us=5 * MIN))
    mark = marks(driver, "right")[-1]
    assert (mark.at_us, mark.late, mark.corrected) == (15 * MIN, True, False)


def test_a_voided_entry_leaves_its_void_where_it_stood() -> None:
    driver = crossing()
    driver.at(12).do("reading.take", reading="act", value=Decimal(274))
    reading = driver.case.readings[-1].seq
    driver.at(14).do("undo")
    assert reading not in [m.seq for m in marks(driver, "other")]
    (void,) = [m for m in marks(driver, "other") if m.letter == "x"]
    assert (void.at_us, void.corrected) == (12 * MIN, True)


def test_a_mistaken_stage_leaves_its_void_on_the_case_lane_and_the_bar_before_it_whole() -> None:
    driver = crossing()
    driver.at(12).do("stage.open", stage="deploy", reason="haemodynamic")
    driver.at(12.1).do("undo")
    assert [bar.label for bar in bars(driver, "case")] == ["access", "cross R"]
    assert bars(driver, "case")[-1].open
    assert [m.letter for m in marks(driver, "case")] == ["x"]


def test_an_amended_entry_is_marked_and_stands_at_its_amended_time() -> None:
    driver = crossing()
    driver.at(12).do("reading.take", reading="act", value=Decimal(274))
    reading = driver.case.readings[-1].seq
    earlier = driver.case.readings[-1].at.wall_us - 2 * MIN
    driver.at(14).do("event.amend", target=reading, field="happened", value=str(earlier), reason="misread")
    mark = next(m for m in marks(driver, "other") if m.seq == reading)
    assert (mark.at_us, mark.corrected) == (10 * MIN, True)


def test_a_rescue_and_a_run_are_bars_on_the_other_lane() -> None:
    driver = crossing()
    driver.at(11).do("bailout.open", bailout="coronary", ostium="left")
    driver.at(12).do("run.start", run="cpr")
    driver.at(13).do("run.stop", run="cpr")
    driver.at(14).do("bailout.close", outcome="stented")
    assert [(b.label, b.from_us, b.to_us, b.how) for b in bars(driver, "other")] == [
        ("Coronary obstruction, left coronary", 11 * MIN, 14 * MIN, "stented"),
        ("Compressions", 12 * MIN, 13 * MIN, ""),
    ]


def test_an_hour_set_back_moves_nothing() -> None:
    driver = crossing()
    driver.wall_shift_us = -60 * MIN
    driver.at(12).do("reading.take", reading="act", value=Decimal(274))
    assert marks(driver, "other")[-1].at_us == 12 * MIN
    assert drawn(driver.at(13)).end_us == 13 * MIN


def test_a_bar_that_crosses_a_restart_says_that_it_is_placed_by_the_wall_clock() -> None:
    driver = crossing()
    driver.boot_id = "boot-b"
    driver.at(12).do("stage.open", stage="position", cusp="right")
    _, cross, position = bars(driver, "case")
    assert (cross.wall, position.wall) == (True, True)
    assert cross.to_us == 12 * MIN


def test_without_a_now_the_trace_ends_with_the_last_thing_that_happened() -> None:
    driver = crossing()
    driver.at(12).do("note.write", text="last")
    assert trace(driver.case).end_us == 12 * MIN


def test_after_the_seal_the_trace_no_longer_grows() -> None:
    driver = Driver()
    driver.do("signout.settle", item="signout:flow_seen", reason="haemodynamic")
    driver.at(5).do("case.seal")
    assert drawn(driver.at(60)).end_us == 5 * MIN


def test_letters_without_words_stand_where_the_worded_ones_do() -> None:
    driver = crossing()
    driver.at(12).do("reading.take", reading="act", value=Decimal(274))
    quick = trace(driver.case, driver.stamp(), worded=False)
    for row, worded in zip(quick.rows, drawn(driver).rows, strict=True):
        assert row.bars == worded.bars
        assert [(m.at_us, m.letter, m.seq) for m in row.marks] == [
            (m.at_us, m.letter, m.seq) for m in worded.marks
        ]
        assert all(not m.words for m in row.marks)
        assert all(m.words for m in worded.marks)


def test_every_letter_belongs_to_a_kind_of_entry_and_only_clocks_share_one() -> None:
    assert set(LETTERS) <= set(KINDS)
    others = [letter for kind, letter in LETTERS.items() if not kind.startswith("clock.")]
    assert len(set(others)) == len(others)


def test_a_case_of_which_nothing_is_known_draws_an_empty_trace() -> None:
    empty = trace(begin("K7Q2-M4", small()))
    assert (empty.end_us, [row.id for row in empty.rows]) == (0, ["case", "other"])


def test_the_trace_begins_with_what_was_entered_late_from_before_the_opening() -> None:
    driver = crossing().at(20)
    driver.do("dose.give", drug="heparin", claim=Claim(ago_us=25 * MIN, reason="busy"))
    assert [m.at_us for m in marks(driver, "other") if m.letter == "D"] == [0]
    access, _ = bars(driver, "case")
    assert access.from_us == 7 * MIN
    driver.do("event.void", target=driver.case.head_seq, reason="wrong_key")
    assert bars(driver, "case")[0].from_us == 2 * MIN


def test_the_trace_still_begins_with_the_opening_after_a_restart_that_set_the_clock_back() -> None:
    driver = crossing()
    driver.boot_id, driver.wall_shift_us = "boot-b", -60 * MIN
    driver.at(20).do("dose.give", drug="heparin", claim=Claim(ago_us=5 * MIN, reason="busy"))
    assert bars(driver, "case")[0].from_us == 2 * MIN
