"""Named points, the interval table, and the clocks it is measured with."""

from __future__ import annotations

from decimal import Decimal

from labcheck.caselog.figures import big_watch
from labcheck.caselog.intents import Claim
from labcheck.caselog.intervals import Row, interval_table
from labcheck.caselog.points import find_point, pick
from labcheck.checklist.conditions import Point
from labcheck.checklist.model import Interval
from tests.caselog.driving import Driver, small

MIN = 60_000_000
CUT = Point(event="attempt", stage="split", outcome=("cut",), which="last")


def rows(driver: Driver, *, running: bool = True) -> dict[str, Row]:
    return {row.id: row for row in interval_table(driver.case, driver.stamp() if running else None)}


def driven(*targets: str) -> Driver:
    """Access opened at minute 0, the split stage of the first cusp at minute 10."""
    driver = Driver(*targets)
    driver.at(0).do("stage.open")
    driver.at(10).do("stage.open", stage="split", cusp=(targets or ("left",))[0], reason="haemodynamic")
    return driver


def cut(driver: Driver, at: float, outcome: str = "cut") -> None:
    """A burst of six seconds that ends at the minute, its outcome pressed thirty seconds later."""
    driver.at(at - 0.1).do("energy.on")
    driver.at(at).do("energy.off")
    driver.at(at + 0.5).do("attempt.close", outcome=outcome)


def test_the_unstable_interval_runs_from_the_end_of_the_burst_to_the_closing_of_the_deployment() -> None:
    driver = driven()
    cut(driver, 12)
    driver.at(14).do("stage.open", stage="deploy")
    driver.at(15).do("stage.close")
    row = rows(driver)["unstable"]
    assert row.state == "done"
    assert row.span is not None
    assert (row.span.us, row.span.basis) == (3 * MIN, "boot")


def test_the_interval_names_the_entries_that_carry_its_times() -> None:
    driver = driven()
    cut(driver, 12)
    driver.at(14).do("stage.open", stage="deploy")
    driver.at(15).do("stage.close")
    row = rows(driver)["unstable"]
    kinds = [driver.case.log[(seq or 0) - 1].kind for seq in (row.start_seq, row.end_seq)]
    assert kinds == ["energy.stopped", "stage.closed"]


def test_of_two_cuts_the_last_one_counts() -> None:
    driver = driven("left", "right")
    cut(driver, 12)
    driver.at(13).do("stage.open", stage="split", cusp="right", reason="haemodynamic")
    cut(driver, 16)
    driver.at(20)
    row = rows(driver)["unstable"]
    assert (row.state, row.span and row.span.us) == ("running", 4 * MIN)


def test_a_cut_entered_late_does_not_become_the_last_one() -> None:
    driver = driven("left", "right")
    cut(driver, 12)
    driver.at(13).do("stage.open", stage="split", cusp="right", reason="haemodynamic")
    cut(driver, 16)
    driver.at(18).do("attempt.close", outcome="cut", claim=Claim(ago_us=4 * MIN))
    found = pick(find_point(driver.case, CUT), "last")
    assert found is not None
    assert found.at.boot_us == 600_000_000 + 16 * MIN


def test_an_attempt_that_did_not_cut_starts_nothing() -> None:
    driver = driven()
    cut(driver, 12, outcome="none")
    assert rows(driver)["unstable"].state == "missing"
    assert big_watch(driver.case, driver.stamp()) is None


def test_a_burst_without_outcome_counts_at_once_and_is_marked_provisional() -> None:
    driver = driven()
    driver.at(12).do("energy.on")
    assert big_watch(driver.case, driver.stamp()) is None
    driver.at(13).do("energy.off")
    clock = big_watch(driver.at(14).case, driver.stamp())
    assert clock is not None
    assert (clock.provisional, clock.span.us) == (True, MIN)
    assert rows(driver)["unstable"].provisional
    driver.do("attempt.close", outcome="cut")
    clock = big_watch(driver.at(15).case, driver.stamp())
    assert clock is not None
    assert (clock.provisional, clock.span.us) == (False, 2 * MIN)


def test_a_burst_without_outcome_is_no_cut_in_a_table_made_after_the_case() -> None:
    driver = driven()
    driver.at(12).do("energy.on")
    driver.at(13).do("energy.off")
    assert rows(driver, running=False)["unstable"].state == "missing"


def test_a_known_cut_is_not_restarted_by_a_burst_whose_result_is_open() -> None:
    driver = driven()
    cut(driver, 12)
    driver.at(14).do("energy.on")
    driver.at(15).do("energy.off")
    clock = big_watch(driver.at(16).case, driver.stamp())
    assert clock is not None
    assert (clock.provisional, clock.span.us) == (False, 4 * MIN)


def test_a_deployment_stage_that_was_left_has_not_ended_the_interval() -> None:
    driver = driven()
    cut(driver, 12)
    driver.at(14).do("stage.open", stage="deploy")
    driver.at(15).do("stage.open", stage="split", cusp="left")
    assert driver.case.visits[-2].how == "left"
    assert rows(driver)["unstable"].state == "running"


def test_voiding_the_cut_takes_the_clock_away() -> None:
    driver = driven()
    cut(driver, 12)
    driver.do("undo")
    clock = big_watch(driver.case, driver.stamp())
    assert clock is not None
    assert clock.provisional
    driver.do("undo")
    assert big_watch(driver.case, driver.stamp()) is None


def test_an_hour_set_forward_or_back_leaves_every_duration_unchanged() -> None:
    plain, stepped = driven(), driven()
    for driver in (plain, stepped):
        cut(driver, 12)
    stepped.wall_shift_us = -60 * MIN
    for driver in (plain, stepped):
        driver.at(14).do("stage.open", stage="deploy")
        driver.at(15).do("stage.close")
    assert [r.span for r in rows(plain).values()] == [r.span for r in rows(stepped).values()]


def test_over_a_restart_of_the_machine_a_duration_is_by_the_wall_clock_and_says_so() -> None:
    driver = driven()
    cut(driver, 12)
    driver.boot_id = "boot-b"
    driver.at(14).do("stage.open", stage="deploy")
    driver.at(15).do("stage.close")
    row = rows(driver)["unstable"]
    assert row.span is not None
    assert (row.span.us, row.span.basis) == (3 * MIN, "wall")


def test_every_entry_to_a_stage_has_its_own_row_and_the_stage_adds_them_up() -> None:
    driver = Driver()
    driver.at(0).do("stage.open", stage="position", cusp="left", reason="haemodynamic")
    driver.at(4).do("stage.open", stage="cross", cusp="left", reason="haemodynamic")
    driver.at(6).do("stage.open", stage="position", cusp="left")
    driver.at(9).do("stage.open", stage="cross", cusp="left", reason="haemodynamic")
    driver.at(10)
    table = rows(driver)
    spent = {name: row.span.us // MIN for name, row in table.items() if row.span is not None}
    assert spent["visit:position:left:1"] == 4
    assert spent["visit:position:left:2"] == 3
    assert spent["stage:position:left"] == 7
    assert table["visit:cross:left:1"].note == "left unfinished"
    assert (table["stage:cross:left"].state, spent["stage:cross:left"]) == ("running", 3)


def test_nothing_is_measured_to_an_end_when_nobody_says_what_time_it_is() -> None:
    driver = driven()
    row = rows(driver, running=False)["visit:split:left:1"]
    assert (row.state, row.span, row.end) == ("running", None, None)


def test_what_never_ended_is_missing_once_the_case_is_sealed() -> None:
    driver = driven()
    cut(driver, 12)
    driver.do("stage.close")
    for item in ("signout:flow_seen", "step:access.pad"):
        driver.do("signout.settle", item=item, reason="haemodynamic")
    driver.do("case.seal")
    row = rows(driver, running=False)["unstable"]
    assert (row.state, row.note) == ("missing", "never ended")


def test_an_end_before_the_start_is_told_and_never_a_negative_duration() -> None:
    checklist = small().model_copy(
        update={
            "interval": (
                Interval(
                    id="heparin_to_act",
                    title="Heparin to ACT",
                    start=Point(event="dose", drug="heparin"),
                    end=Point(event="reading", reading="act", at_least=Decimal(250)),
                ),
            )
        }
    )
    driver = Driver("left", checklist=checklist)
    driver.at(1).do("reading.take", reading="act", value=Decimal(260))
    baseline = driver.case.head_seq
    driver.at(2).do("dose.give", drug="heparin", amount=Decimal(5000))
    row = rows(driver.at(3))["heparin_to_act"]
    assert (row.state, row.note) == ("running", f"its end, entry {baseline}, is before its start")
    driver.at(4).do("reading.take", reading="act", value=Decimal(200))
    assert rows(driver)["heparin_to_act"].state == "running"
    driver.at(7).do("reading.take", reading="act", value=Decimal(250))
    row = rows(driver)["heparin_to_act"]
    assert (row.state, row.span and row.span.us, row.note) == ("done", 5 * MIN, "")


def test_attempts_and_rescues_have_rows_with_their_outcome() -> None:
    driver = driven()
    cut(driver, 12)
    driver.at(20).do("bailout.open", bailout="coronary", ostium="left")
    driver.at(26).do("bailout.close", outcome="stented")
    table = rows(driver)
    assert table["attempt:split:left:1"].note == "cut"
    rescue = next(row for row in table.values() if row.kind == "bailout")
    assert (rescue.title, rescue.span and rescue.span.us, rescue.note) == (
        "Coronary obstruction, left coronary",
        6 * MIN,
        "stented",
    )


def test_every_kind_of_point_finds_its_moment_and_only_its_own() -> None:
    driver = Driver("left", "right")
    driver.at(0).do("stage.open")
    driver.at(1).do("step.answer", step="pad")
    driver.at(2).do("sample.send", reading="act")
    driver.at(3).do("reading.take", reading="act", value=Decimal(274))
    driver.at(4).do("dose.give", drug="heparin")
    driver.at(5).do("run.start", run="cpr")
    driver.at(6).do("run.stop", run="cpr")
    driver.at(7).do("bailout.open", bailout="collapse", cusp="left")
    driver.at(8).do("stage.close")

    def minutes(**fields: object) -> list[int]:
        found = find_point(driver.case, Point.model_validate(fields))
        return [((f.at.boot_us or 0) - 600_000_000) // MIN for f in found]

    assert minutes(event="case.opened") == [0]
    assert minutes(event="stage.opened", stage="access") == [0]
    assert minutes(event="stage.closed", stage="access") == [8]
    assert minutes(event="step", step="access.pad") == [1]
    assert minutes(event="sample", reading="act") == [2]
    assert minutes(event="reading", reading="act") == [3]
    assert minutes(event="reading", reading="act", at_least=Decimal(275)) == []
    assert minutes(event="dose", drug="heparin") == [4]
    assert minutes(event="run.started", run="cpr") == [5]
    assert minutes(event="run.stopped", run="cpr") == [6]
    assert minutes(event="run.started", run="pacing") == []
    assert minutes(event="bailout.opened", bailout="collapse") == [7]
    assert minutes(event="bailout.opened", bailout="coronary") == []
    assert minutes(event="case.sealed") == []


def test_a_step_that_was_not_done_is_no_moment_of_its_being_done() -> None:
    driver = Driver()
    driver.do("stage.open")
    driver.do("step.answer", step="pad", answer="not_done", reason="haemodynamic")
    assert find_point(driver.case, Point(event="step", step="access.pad")) == []


def test_a_point_of_one_cusp_leaves_the_other_out() -> None:
    driver = driven("left", "right")
    cut(driver, 12)
    assert len(find_point(driver.case, CUT, "left")) == 1
    assert find_point(driver.case, CUT, "right") == []
