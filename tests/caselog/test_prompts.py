"""The one reminder, its silencing, the silence count, and what may be missing."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from labcheck.caselog.intents import INTENT
from labcheck.caselog.prompts import likely_missing, prompt, silent_words
from labcheck.checklist.conditions import Point
from labcheck.checklist.model import Checklist, Notice, Watch
from tests.caselog.driving import Driver, small


def watch(**fields: Any) -> Watch:
    return Watch.model_validate(
        {
            "id": "again",
            "title": "Next ACT",
            "counts": "down",
            "due_min": Decimal(30),
            "start": Point(event="reading", reading="act", which="last"),
            "end": Point(event="sample", reading="act"),
            "text": "ACT is due",
            "source": "madeup",
            **fields,
        }
    )


def checklist(*watches: Watch, silent_after_min: int = 500, **changes: Any) -> Checklist:
    return small().model_copy(
        update={"watch": watches, "silent_after_min": Decimal(silent_after_min), **changes}
    )


def accessed(of: Checklist) -> Driver:
    driver = Driver("left", checklist=of)
    driver.at(0).do("stage.open")
    driver.at(1).do("reading.take", reading="act", value=Decimal(274))
    return driver


def words(driver: Driver) -> str | None:
    found = prompt(driver.case, driver.stamp())
    return found.words if found is not None else None


def test_a_prompt_appears_when_a_watch_is_due_and_not_before() -> None:
    driver = accessed(checklist(watch()))
    assert words(driver.at(30.9)) is None
    assert words(driver.at(32)) == "ACT is due, since 1:00"


def test_a_prompt_with_a_clinical_level_names_its_source_and_says_verify_locally() -> None:
    driver = accessed(checklist(watch()))
    found = prompt(driver.at(40).case, driver.stamp())
    assert found is not None
    assert found.source == "made up for tests (common practice, no source); verify locally"


def test_the_prompt_goes_when_what_it_asks_for_is_done() -> None:
    driver = accessed(checklist(watch()))
    driver.at(40).do("sample.send", reading="act")
    assert words(driver) is None


def test_a_silenced_prompt_does_not_come_back_in_this_case() -> None:
    driver = accessed(checklist(watch()))
    found = prompt(driver.at(40).case, driver.stamp())
    assert found is not None
    driver.do("prompt.silence", prompt=found.id)
    driver.at(50).do("reading.take", reading="act", value=Decimal(260))
    assert words(driver.at(100)) is None


def test_there_is_no_prompt_in_a_quiet_stage() -> None:
    driver = accessed(checklist(watch()))
    driver.at(2).do("stage.open", stage="cross", cusp="left", reason="haemodynamic")
    assert words(driver.at(40)) is None
    driver.do("stage.close")
    assert words(driver) is not None


def test_of_two_prompts_the_overdue_one_is_shown_and_silencing_it_shows_the_other() -> None:
    over = watch(id="worse", title="Worse", text="worse is due", due_min=Decimal(10), overdue_min=Decimal(20))
    driver = accessed(checklist(watch(), over))
    driver.at(40)
    assert words(driver) == "worse is due, since 29:00"
    driver.do("prompt.silence", prompt="watch:worse")
    assert words(driver.at(40)) == "ACT is due, since 9:00"


def test_a_reading_that_a_watch_already_counts_is_not_prompted_twice() -> None:
    readings = tuple(
        r.model_copy(update={"recheck_min": Decimal(30)}) if r.id == "act" else r for r in small().reading
    )
    driver = accessed(checklist(watch(), reading=readings))
    driver.at(40).do("prompt.silence", prompt="watch:again")
    assert words(driver) is None
    unwatched = accessed(checklist(reading=readings))
    assert words(unwatched.at(40)) == "ACT due again since 9 min"


def test_a_tallys_notice_is_a_prompt_for_five_minutes_and_each_level_has_its_own() -> None:
    level = Notice(at=Decimal(5000), every=Decimal(1000), text="much", source="madeup")
    tally = small().tally[0].model_copy(update={"notice": (level,)})
    driver = accessed(checklist(tally=(tally,)))
    driver.at(2).do("dose.give", drug="heparin", amount=Decimal(5000))
    found = prompt(driver.at(6.9).case, driver.stamp())
    assert found is not None
    assert found.id == "tally:heparin_total:5000"
    assert words(driver.at(7.1)) is None
    driver.at(8).do("prompt.silence", prompt=found.id)
    driver.at(9).do("dose.give", drug="heparin", amount=Decimal(1200))
    assert words(driver) == "heparin 6200 IU: much, repeated"


def test_the_number_of_tries_is_told_from_the_number_the_checklist_names() -> None:
    stages = tuple(
        s.model_copy(update={"quiet": False, "attempts": s.attempts.model_copy(update={"notice_after": 2})})
        if s.id == "cross" and s.attempts
        else s
        for s in small().stage
    )
    driver = accessed(checklist(stage=stages))
    driver.do("stage.open", stage="cross", cusp="left", reason="haemodynamic")
    driver.do("attempt.open")
    driver.do("attempt.close", outcome="failed")
    assert words(driver) is None
    driver.do("attempt.open")
    assert words(driver) == "Cross left: 2 attempts"


def test_silence_is_counted_from_the_last_press_and_becomes_a_prompt() -> None:
    driver = accessed(checklist(silent_after_min=5))
    assert silent_words(driver.at(3).case, driver.stamp()) == "last press 2:00"
    assert words(driver) is None
    assert words(driver.at(6)) == "last press 5:00 ago: something not recorded?"


def test_what_the_program_notices_by_itself_does_not_break_the_silence() -> None:
    driver = accessed(checklist(silent_after_min=5))
    driver.at(5).do(
        "clock.notice",
        found={"kind": "clock.noticed", "notice": "resumed", "amount_us": 41_000_000, "basis": "boot"},
    )
    assert silent_words(driver.at(6).case, driver.stamp()) == "last press 5:00"


def test_what_may_be_missing_begins_with_what_was_begun_and_not_ended() -> None:
    driver = accessed(checklist())
    driver.do("stage.open", stage="cross", cusp="left", reason="haemodynamic")
    driver.do("energy.on")
    said = [s.words for s in likely_missing(driver.case, driver.stamp())]
    assert said[:4] == [
        "energy off, left, attempt 1",
        "left, attempt 1: crossed",
        "left, attempt 1: failed",
        "left, attempt 1: fault",
    ]


def test_everything_that_may_be_missing_can_be_recorded_as_it_is_suggested() -> None:
    driver = accessed(checklist())
    driver.do("sample.send", reading="act")
    driver.do("run.start", run="cpr")
    driver.do("stage.open", stage="cross", cusp="left", reason="haemodynamic")
    driver.do("energy.on")
    suggestions = likely_missing(driver.case, driver.stamp())
    assert {s.do for s in suggestions} == {
        "energy.off",
        "attempt.close",
        "stage.open",
        "reading.take",
        "run.stop",
    }
    for suggestion in suggestions:
        assert INTENT.validate_python({"do": suggestion.do, "press": "0" * 32, **suggestion.fields})


def test_nothing_is_prompted_after_the_seal() -> None:
    driver = accessed(checklist(watch()))
    driver.do("step.answer", step="pad")
    driver.do("stage.close")
    driver.do("signout.settle", item="signout:flow_seen", reason="haemodynamic")
    driver.do("case.seal")
    assert words(driver.at(100)) is None
    assert silent_words(driver.case, driver.stamp()) is None
