"""Tallies, their levels, watches, and the sentences they make."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from labcheck.caselog.figures import Figure, big_watch, figures
from labcheck.caselog.holds import met
from labcheck.caselog.intents import Claim
from labcheck.caselog.tallies import Total, number_words, total
from labcheck.checklist.conditions import Condition, Point
from labcheck.checklist.model import Checklist, Notice, Tally, Watch
from tests.caselog.driving import Driver, small

MIN = 60_000_000


def with_tallies(*tallies: Tally, **reading: Any) -> Checklist:
    """The small checklist with these tallies, and changes to its ACT reading."""
    checklist = small()
    readings = tuple(r.model_copy(update=reading) if r.id == "act" else r for r in checklist.reading)
    return checklist.model_copy(update={"tally": tallies, "reading": readings})


def tally(kind: str, **fields: Any) -> Tally:
    return Tally.model_validate({"id": "t", "title": "T", "kind": kind, **fields})


def shown(driver: Driver) -> dict[str, Figure]:
    return {figure.id: figure for figure in figures(driver.case, driver.stamp())}


def stands(driver: Driver) -> Total:
    return total(driver.case, driver.case.checklist.tally[0], driver.stamp().moment())


def accessed(checklist: Checklist, **plan: Any) -> Driver:
    driver = Driver("left", checklist=checklist, **plan)
    driver.at(0).do("stage.open")
    return driver


def test_a_sum_adds_doses_and_says_which_had_no_amount() -> None:
    driver = accessed(with_tallies(tally("sum", drug="heparin")))
    for amount in (5000, 2000, None):
        driver.do("dose.give", drug="heparin", amount=None if amount is None else Decimal(amount))
    assert shown(driver)["tally:t"].words == "T 7000 IU, 1 without amount"


def test_a_voided_dose_is_not_in_the_sum() -> None:
    driver = accessed(with_tallies(tally("sum", drug="heparin")))
    driver.do("dose.give", drug="heparin", amount=Decimal(5000))
    driver.do("dose.give", drug="heparin", amount=Decimal(9000))
    driver.do("undo")
    assert stands(driver).value == 5000


def test_an_amended_dose_counts_with_its_new_amount() -> None:
    driver = accessed(with_tallies(tally("sum", drug="heparin")))
    driver.do("dose.give", drug="heparin", amount=Decimal(5000))
    entry = driver.case.doses[-1].seq
    driver.do("event.amend", target=entry, field="amount", value="3000", reason="misread")
    assert stands(driver).value == 3000


def test_six_thousand_units_at_75_kg_are_80_units_per_kg() -> None:
    # Derived: 6000 / 75.
    driver = accessed(with_tallies(tally("sum", drug="heparin", per_kg=True)), weight_kg=Decimal(75))
    driver.do("dose.give", drug="heparin", amount=Decimal(6000))
    assert shown(driver)["tally:t"].words == "T 6000 IU, 80.0 IU/kg"


def test_without_a_weight_the_figure_per_kg_says_why_it_is_not_known() -> None:
    driver = accessed(with_tallies(tally("sum", drug="heparin", per_kg=True)))
    driver.do("dose.give", drug="heparin", amount=Decimal(6000))
    assert "per kg not known: weight is not recorded" in shown(driver)["tally:t"].words


def test_a_cumulative_reading_goes_on_over_a_stated_reset() -> None:
    driver = accessed(with_tallies(tally("cumulative", reading="kap")))
    driver.do("reading.take", reading="kap", value=Decimal(40))
    driver.do("reading.take", reading="kap", value=Decimal(55))
    driver.do("reading.take", reading="kap", value=Decimal(3), reset=True)
    driver.do("reading.take", reading="kap", value=Decimal(10))
    assert stands(driver).value == 65


def test_readings_in_another_unit_are_converted_before_they_are_tallied() -> None:
    # 1 Gy·cm2 = 100 uGy·m2, from the definitions of the units.
    driver = accessed(with_tallies(tally("cumulative", reading="kap")))
    driver.do("reading.take", reading="kap", value=Decimal(30_000), unit="uGy·m2")
    assert (stands(driver).value, stands(driver).unit) == (Decimal(300), "Gy·cm2")


@pytest.mark.parametrize(
    ("kap", "words", "level"),
    [
        (299, "T 299 Gy·cm2, next level 300 Gy·cm2", "plain"),
        (300, "T 300 Gy·cm2, first notice (300 Gy·cm2)", "notice"),
        (399, "T 399 Gy·cm2, first notice (300 Gy·cm2)", "notice"),
        (400, "T 400 Gy·cm2, first notice, repeated (400 Gy·cm2)", "notice"),
        (500, "T 500 Gy·cm2, substantial (500 Gy·cm2)", "notice"),
    ],
)
def test_kerma_area_product_passes_its_named_levels_at_equality(kap: int, words: str, level: str) -> None:
    # Levels: Stecker, J Vasc Interv Radiol 2009 and NCRP Report 168, 2010 (from memory).
    notices = (
        Notice(limit="radiation.kap", text="first notice"),
        Notice(limit="radiation.kap.substantial", text="substantial"),
    )
    driver = accessed(with_tallies(tally("cumulative", reading="kap", notice=notices)))
    driver.do("reading.take", reading="kap", value=Decimal(kap))
    figure = shown(driver)["tally:t"]
    assert (figure.words, figure.level) == (words, level)


def test_a_level_names_its_source_and_says_verify_locally() -> None:
    notices = (Notice(limit="radiation.kap", text="first notice"),)
    driver = accessed(with_tallies(tally("cumulative", reading="kap", notice=notices)))
    driver.do("reading.take", reading="kap", value=Decimal(310))
    source = shown(driver)["tally:t"].source
    assert "Stecker" in source
    assert source.endswith("verify locally")


def test_a_number_of_the_checklist_names_the_checklists_source() -> None:
    notices = (Notice(at=Decimal(4000), every=Decimal(1000), text="much", source="madeup"),)
    driver = accessed(with_tallies(tally("sum", drug="heparin", notice=notices)))
    driver.do("dose.give", drug="heparin", amount=Decimal(6500))
    figure = shown(driver)["tally:t"]
    assert figure.words == "T 6500 IU, much, repeated (6000 IU)"
    assert figure.source == "made up for tests (common practice, no source); verify locally"


def test_a_limit_that_cannot_be_computed_says_what_is_wanting_and_gives_no_number() -> None:
    notices = (Notice(limit="heparin.100_per_kg", text="100 IU/kg"),)
    driver = accessed(with_tallies(tally("sum", drug="heparin", notice=notices)))
    driver.do("dose.give", drug="heparin", amount=Decimal(9000))
    figure = shown(driver)["tally:t"]
    assert figure.words == "T 9000 IU, limit not known: weight is not recorded"
    assert (figure.level, figure.source) == ("plain", "")


def test_a_limit_from_the_plan_uses_age_and_creatinine_as_they_are_planned() -> None:
    # Cockcroft-Gault, 80 years, 60 kg, 1.2 mg/dL, female: 35.42 mL/min; x 2.0 = 70.8 mL (Gurm 2011).
    contrast = small().reading[1].model_copy(update={"id": "contrast", "unit": "mL", "units": ()})
    notices = (Notice(limit="contrast.2.0_x_clearance", text="2 x clearance"),)
    checklist = small().model_copy(
        update={"reading": (contrast,), "tally": (tally("cumulative", reading="contrast", notice=notices),)}
    )
    driver = accessed(
        checklist,
        weight_kg=Decimal(60),
        age_years=80,
        sex="female",
        creatinine=Decimal("1.2"),
        creatinine_unit="mg/dL",
    )
    driver.do("reading.take", reading="contrast", value=Decimal(71))
    assert shown(driver)["tally:t"].words == "T 71 mL, 2 x clearance (70.8 mL)"


def test_the_latest_reading_says_how_old_it_is_and_when_it_is_due() -> None:
    driver = accessed(with_tallies(tally("latest", reading="act"), recheck_min=Decimal(30)))
    driver.at(5).do("reading.take", reading="act", value=Decimal(274))
    assert shown(driver.at(17.5))["tally:t"].words == "T 274 s, 12 min ago, due in 17 min"
    assert shown(driver.at(34.9))["tally:t"].level == "plain"
    figure = shown(driver.at(35))["tally:t"]
    assert (figure.words, figure.level) == ("T 274 s, 30 min ago, due again now", "due")
    assert figure.source.endswith("verify locally")


def test_a_sample_on_its_way_takes_the_place_of_being_due() -> None:
    driver = accessed(with_tallies(tally("latest", reading="act"), recheck_min=Decimal(30)))
    driver.at(5).do("reading.take", reading="act", value=Decimal(274))
    driver.at(40).do("sample.send", reading="act")
    sample = driver.case.head_seq
    found = shown(driver.at(42))
    assert found[f"sample:{sample}"].words == "ACT sent 2:00 ago, no result yet"
    assert found["tally:t"].words == "T 274 s, 37 min ago"
    driver.do("reading.take", reading="act", value=Decimal(281))
    assert f"sample:{sample}" not in shown(driver)


def test_a_value_below_its_target_is_a_notice_that_names_the_target() -> None:
    driver = accessed(with_tallies(tally("latest", reading="act"), target_low=Decimal(250)))
    driver.do("reading.take", reading="act", value=Decimal(249))
    figure = shown(driver)["tally:t"]
    assert "below 250 s" in figure.words
    assert (figure.level, figure.source.endswith("verify locally")) == ("notice", True)
    driver.do("reading.take", reading="act", value=Decimal(250))
    assert shown(driver)["tally:t"].level == "plain"


def test_a_reading_entered_late_is_not_the_latest() -> None:
    driver = accessed(with_tallies(tally("latest", reading="act")))
    driver.at(10).do("reading.take", reading="act", value=Decimal(274))
    driver.at(12).do("reading.take", reading="act", value=Decimal(210), claim=Claim(ago_us=10 * MIN))
    assert stands(driver).value == 274


def test_seconds_of_a_run_go_on_while_it_is_on_and_are_split_by_cusp_for_energy() -> None:
    driver = accessed(with_tallies(tally("seconds", run="cpr")))
    driver.at(1).do("run.start", run="cpr")
    assert number_words(stands(driver.at(1.5)).value or Decimal(0)) == "30"
    assert shown(driver)["run:3"].words == "Compressions ON 0:30"
    driver.do("run.stop", run="cpr")
    assert stands(driver.at(9)).value == 30
    assert "run:3" not in shown(driver)


def test_bursts_are_counted_for_each_cusp() -> None:
    driver = Driver("left", "right", checklist=with_tallies(tally("count", energy=True, unit="bursts")))
    for cusp, bursts in (("left", 2), ("right", 1)):
        driver.do("stage.open", stage="cross", cusp=cusp, reason="haemodynamic")
        for _ in range(bursts):
            driver.do("energy.on")
            driver.do("energy.off")
        driver.do("attempt.close", outcome="crossed")
    assert shown(driver)["tally:t"].words == "T 3 bursts (left 2, right 1)"


def test_a_tally_of_which_nothing_was_recorded_takes_no_line() -> None:
    assert "tally:heparin_total" not in shown(accessed(small()))


def watched(**fields: Any) -> Driver:
    watch = Watch.model_validate(
        {
            "id": "w",
            "title": "Look again",
            "start": Point(event="stage.opened", stage="access"),
            "end": Point(event="stage.closed", stage="access"),
            **fields,
        }
    )
    return accessed(small().model_copy(update={"watch": (watch,)}))


def test_a_watch_counts_up_and_says_which_limit_it_has_passed() -> None:
    driver = watched(due_min=Decimal(5), overdue_min=Decimal(8))
    said = [(shown(driver.at(m))["watch:w"].words, shown(driver)["watch:w"].level) for m in (4.9, 5, 8)]
    assert said == [
        ("Look again 4:54", "plain"),
        ("Look again 5:00, past 5 min", "due"),
        ("Look again 8:00, past 8 min", "overdue"),
    ]


def test_a_watch_that_counts_down_says_when_it_is_due_and_then_since_when() -> None:
    driver = watched(counts="down", due_min=Decimal(5))
    assert shown(driver.at(2))["watch:w"].words == "Look again: due in 3 min"
    assert shown(driver.at(7.5))["watch:w"].words == "Look again: due since 2:30"


def test_a_watch_ends_with_its_end_and_with_the_seal() -> None:
    driver = watched()
    assert "watch:w" in shown(driver)
    driver.do("stage.close")
    assert "watch:w" not in shown(driver)


def test_a_watch_of_a_decision_not_taken_does_not_run() -> None:
    driver = watched(when={"decision": "protect", "is": ("used",)})
    assert "watch:w" not in shown(driver)
    driver.do("decision.make", decision="protect", choice="used")
    assert "watch:w" in shown(driver)


def test_only_a_big_watch_takes_the_large_clock() -> None:
    assert big_watch(watched().case, watched().stamp()) is None
    driver = watched(big=True)
    clock = big_watch(driver.at(1).case, driver.stamp())
    assert clock is not None
    assert (clock.seq, clock.span.us, clock.title) == (2, MIN, "Look again")


def test_an_open_rescue_shows_its_running_time_first() -> None:
    driver = accessed(small())
    driver.do("dose.give", drug="heparin", amount=Decimal(5000))
    driver.at(5).do("bailout.open", bailout="coronary", ostium="left")
    first = figures(driver.at(7).case, driver.stamp())[0]
    assert first.words == "BAILOUT Coronary obstruction, left coronary 2:00"


def test_after_the_seal_figures_stand_still() -> None:
    driver = accessed(with_tallies(tally("latest", reading="act")))
    driver.do("reading.take", reading="act", value=Decimal(274))
    driver.do("step.answer", step="pad")
    driver.at(3).do("stage.close")
    driver.do("signout.settle", item="signout:flow_seen", reason="haemodynamic")
    driver.at(4).do("case.seal")
    at_seal = shown(driver)
    assert at_seal
    assert shown(driver.at(900)) == at_seal


def test_a_hold_on_a_tally_is_judged_by_the_figure_that_is_shown() -> None:
    driver = accessed(with_tallies(tally("cumulative", reading="kap")))
    driver.do("reading.take", reading="kap", value=Decimal(55))
    driver.do("reading.take", reading="kap", value=Decimal(3), reset=True)
    now = driver.stamp().moment()
    assert not met(driver.case, Condition(tally="t", at_most=Decimal(57)), None, now)
    assert met(driver.case, Condition(tally="t", at_most=Decimal(58)), None, now)


def test_a_hold_on_a_reading_is_judged_by_the_one_taken_last_and_not_by_the_one_entered_last() -> None:
    driver = accessed(small())
    driver.at(10).do("reading.take", reading="act", value=Decimal(274))
    driver.at(12).do("reading.take", reading="act", value=Decimal(210), claim=Claim(ago_us=10 * MIN))
    assert met(driver.case, Condition(reading="act", at_least=Decimal(250)), None, driver.stamp().moment())
