"""What entries, times and durations say."""

from __future__ import annotations

from decimal import Decimal

import pytest

from labcheck.caselog.entry_words import plain
from labcheck.caselog.events import PAYLOAD
from labcheck.caselog.intents import Claim
from labcheck.caselog.stamps import Moment, Span
from labcheck.caselog.telling import (
    clock_words,
    date_words,
    lag_flagged,
    late_words,
    minutes_words,
    offset_words,
    seconds_words,
    span_with_basis,
    span_words,
    tell,
    tell_now,
)
from tests.caselog.driving import Driver

MIN = 60_000_000
MIDNIGHT_US = 1_767_225_600_000_000
"""2026-01-01 00:00:00 UTC."""


def moment(us: int, off_s: int = 0) -> Moment:
    return Moment(wall_us=MIDNIGHT_US + us, off_s=off_s, tz="Test/Zone")


def last(driver: Driver) -> str:
    return tell(driver.case, driver.case.log[-1])


def told(driver: Driver) -> list[str]:
    return [tell(driver.case, event) for event in driver.case.log]


def crossing() -> Driver:
    driver = Driver("right")
    driver.do("stage.open")
    driver.do("stage.open", stage="cross", cusp="right", reason="haemodynamic")
    return driver


@pytest.mark.parametrize(
    ("us", "off_s", "words"),
    [
        (0, 0, "00:00:00"),
        (0, 3600, "01:00:00"),
        (0, -3600, "23:00:00"),
        (59_999_999, 0, "00:00:59"),
        (0, 19_800, "05:30:00"),
    ],
)
def test_a_time_of_day_is_the_recorded_utc_time_plus_the_recorded_offset(
    us: int, off_s: int, words: str
) -> None:
    assert clock_words(moment(us, off_s)) == words
    assert clock_words(moment(us, off_s), seconds=False) == words[:5]


def test_the_date_and_the_offset_are_those_of_the_place_and_not_of_utc() -> None:
    late_evening = moment(23 * 3600 * 1_000_000, off_s=7200)
    assert (date_words(late_evening), offset_words(late_evening)) == ("2026-01-02", "UTC+02:00")
    assert offset_words(moment(0, -12_600)) == "UTC-03:30"


@pytest.mark.parametrize(
    ("us", "words"),
    [
        (0, "0:00"),
        (166_999_999, "2:46"),
        (3_729_000_000, "1:02:09"),
        (-30_000_000, "-0:30"),
        (-999_999, "0:00"),
        (86_400_000_000, "24:00:00"),
    ],
)
def test_a_duration_is_cut_to_whole_seconds_and_never_rounded_up(us: int, words: str) -> None:
    assert span_words(us) == words


def test_a_duration_over_two_boots_says_that_it_is_by_the_wall_clock_only() -> None:
    assert span_with_basis(Span(us=60_000_000, basis="wall")) == "1:00 wall only"
    assert span_with_basis(Span(us=60_000_000, basis="boot")) == "1:00"


def test_short_and_long_durations_have_words_for_a_glance() -> None:
    assert (seconds_words(949_999), seconds_words(950_000), seconds_words(73_400_000)) == (
        "0.9 s",
        "1.0 s",
        "73.4 s",
    )
    assert [minutes_words(m * MIN) for m in (0, 1, 59, 65)] == [
        "under 1 min",
        "1 min",
        "59 min",
        "1 h 05 min",
    ]


def test_energy_names_its_cusp_its_attempt_and_how_long_it_was_on() -> None:
    driver = crossing()
    driver.do("energy.on", mode="cut", watts=30)
    driver.now_us += 1_500_000
    driver.do("energy.off")
    driver.do("attempt.close", outcome="crossed")
    assert told(driver)[-4:] == [
        "attempt 1 begins, right, Cross",
        "energy on, right, attempt 1, cut, 30 W",
        "energy off, right, attempt 1, 2.5 s",
        "right, attempt 1: crossed",
    ]


def test_a_stage_says_its_cusp_its_visit_and_how_it_ended() -> None:
    driver = crossing()
    driver.at(5).do("stage.open", stage="position", cusp="right")
    assert told(driver)[-2:] == [
        "Cross, right: left unfinished after 4:58",
        "Position, right: begins",
    ]
    driver.do("stage.open", stage="cross", cusp="right", reason="haemodynamic")
    assert last(driver) == "Cross, right, visit 2: begins"


def test_a_dose_without_amount_says_that_the_amount_was_not_recorded() -> None:
    driver = Driver()
    driver.do("dose.give", drug="heparin")
    assert last(driver) == "Heparin given, amount not recorded"
    driver.do("dose.give", drug="heparin", amount=Decimal(5000))
    assert last(driver) == "Heparin 5000 IU"


def test_a_value_outside_its_range_says_so() -> None:
    driver = Driver()
    driver.do("reading.take", reading="act", value=Decimal(21), accept=True)
    assert last(driver) == "ACT 21 s, outside the usual range, accepted"


def test_a_finding_says_whose_it_is_and_who_judged_it() -> None:
    driver = Driver()
    driver.do("reading.take", reading="flow", choice="slow", ostium="left", judged_by="angio")
    assert last(driver) == "Coronary flow slow, left coronary, judged by angiography"


def test_a_reason_is_said_in_the_checklists_words() -> None:
    driver = Driver("left", "right")
    driver.do("cusp.abandon", cusp="left", reason="haemodynamic")
    assert last(driver) == "left abandoned: haemodynamics"


def test_a_void_says_what_it_took_out() -> None:
    driver = Driver()
    driver.do("note.write", text="wrong")
    driver.do("undo")
    assert last(driver) == "undo of 2: note: wrong"
    driver.do("note.write", text="wrong again")
    driver.do("event.void", target=4, reason="haemodynamic")
    assert last(driver) == "4 voided: haemodynamics: note: wrong again"


def test_an_amendment_says_both_values_and_the_entry_as_it_stands_says_the_new_one() -> None:
    driver = Driver()
    driver.do("reading.take", reading="act", value=Decimal(274))
    entry = driver.case.head_seq
    driver.do("event.amend", target=entry, field="value", value="247", reason="misread")
    assert last(driver) == f"{entry} amended: value 247 instead of 274: misread"
    event = driver.case.event(entry)
    assert event is not None
    assert (tell(driver.case, event), tell_now(driver.case, event)) == ("ACT 274 s", "ACT 247 s")


def test_an_amended_time_is_said_as_a_time_of_day() -> None:
    driver = Driver()
    driver.at(10).do("note.write", text="here")
    entry = driver.case.log[-1]
    earlier = str(entry.happened.wall_us - 5 * MIN)
    driver.do("event.amend", target=entry.seq, field="happened", value=earlier, reason="misread")
    before, now = clock_words(entry.happened), clock_words(moment(int(earlier) - MIDNIGHT_US, 3600))
    assert last(driver) == f"{entry.seq} amended: time {now} instead of {before}: misread"


def test_a_late_entry_is_marked_with_its_lag_and_a_live_one_is_not() -> None:
    driver = Driver()
    driver.at(10).do("note.write", text="live")
    driver.do("note.write", text="late", claim=Claim(ago_us=150_000_000))
    live, late = driver.case.log[-2:]
    assert (late_words(live), late_words(late)) == ("", "LATE +2:30")


@pytest.mark.parametrize(("lag_s", "flagged"), [(1200, False), (1201, True)])
def test_a_lag_of_more_than_twenty_minutes_is_flagged_and_twenty_itself_is_not(
    lag_s: int, flagged: bool
) -> None:
    # Bradley, J Med Syst 2026: 38.4 % of times wrong when entered more than 20 min late.
    driver = Driver()
    driver.at(60).do("note.write", text="late", claim=Claim(ago_us=lag_s * 1_000_000))
    assert lag_flagged(driver.case.log[-1]) is flagged


def test_a_copied_entry_is_marked_as_transcribed() -> None:
    driver = Driver()
    driver.at(10).do("note.write", text="paper", claim=Claim(ago_us=MIN, transcribed=True))
    assert late_words(driver.case.log[-1]) == "TRANSCRIBED"


def test_free_text_cannot_steer_a_terminal() -> None:
    driver = Driver()
    driver.do("note.write", text="a\x1b[31mred\nline \u202eback")
    said = last(driver)
    assert said.isprintable()
    assert said == "note: a [31mred line back"
    assert plain("\x00\x07") == ""


def test_every_kind_of_entry_says_something_and_never_its_class_name() -> None:
    driver = crossing()
    for do, fields in [
        ("step.answer", {"step": "pad", "stage": "access", "answer": "not_done", "reason": "haemodynamic"}),
        ("decision.make", {"decision": "protect", "choice": "declined", "reason": "haemodynamic"}),
        ("sample.send", {"reading": "act"}),
        ("run.start", {"run": "pacing", "rate": Decimal(180)}),
        ("run.stop", {"run": "pacing"}),
        ("device.use", {"device": "snare", "action": "placed"}),
        ("energy.on", {}),
        ("energy.off", {}),
        ("fault.note", {"fault": "generator"}),
        ("mark.set", {}),
        ("bailout.open", {"bailout": "coronary", "ostium": "left"}),
        ("bailout.close", {"outcome": "stented"}),
        ("prompt.silence", {"prompt": "silence"}),
        ("handover.make", {"incoming": "N2"}),
        ("clock.compare", {"reading_us": 1_930_000_000_000_000}),
    ]:
        driver.do(do, **fields)
    lines = told(driver)
    assert all(line and line == line.strip() and "\n" not in line for line in lines)
    assert "Pacing on, 180 /min" in lines
    assert "Return pad on: not done: haemodynamics" in lines
    assert "snare: placed, right" in lines
    assert "fault: generator tripped, right, attempt 1" in lines
    assert "BAILOUT Coronary obstruction, left coronary: begins" in lines


def test_an_entry_that_leans_on_an_entry_that_is_not_there_is_still_told() -> None:
    driver = Driver()
    driver.do("note.write", text="x")
    for payload in (
        {"kind": "stage.closed", "opened": 999, "how": "done"},
        {"kind": "attempt.closed", "attempt": 999, "outcome": "crossed"},
        {"kind": "energy.started", "attempt": 999, "cusp": "left"},
        {"kind": "energy.stopped", "burst": 999},
        {"kind": "run.stopped", "run": 999},
        {"kind": "bailout.closed", "opened": 999, "outcome": "stented", "lead": "carry_on"},
        {"kind": "event.voided", "target": 999, "reason": "gone"},
    ):
        event = driver.case.log[-1].model_copy(update={"what": PAYLOAD.validate_python(payload)})
        assert "999" in tell(driver.case, event)
