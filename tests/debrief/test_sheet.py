"""The debrief as plain text."""

from __future__ import annotations

from decimal import Decimal

import pytest

from labcheck.caselog.folding import begin, fold
from labcheck.caselog.intents import Claim
from labcheck.debrief.lines import WIDTH, bullets, inert, table
from labcheck.debrief.sheet import sheet
from tests.caselog.driving import Driver

HEAD = "0123456789abcdef" * 4
MIN = 60_000_000


def worked() -> Driver:
    """A case with a bit of everything."""
    driver = Driver("left", "right", study_number="R-1")
    driver.at(0).do("stage.open")
    driver.do("step.answer", step="pad", answer="not_done", reason="haemodynamic")
    driver.do("dose.give", drug="heparin", amount=Decimal(5000))
    driver.do("reading.take", reading="act", value=Decimal(230))
    driver.do("decision.make", decision="protect", choice="declined", reason="haemodynamic")
    driver.at(5).do("stage.open", stage="cross", cusp="left", reason="haemodynamic")
    driver.at(6).do("energy.on")
    driver.do("energy.off")
    driver.do("attempt.close", outcome="failed")
    driver.at(8).do("note.write", text="wrong")
    driver.do("undo")
    driver.at(12).do("attempt.close", outcome="crossed", claim=Claim(ago_us=3 * MIN, reason="haemodynamic"))
    driver.at(14).do("bailout.open", bailout="coronary", ostium="left")
    driver.at(20).do("bailout.close", outcome="stented")
    driver.at(21).do("handover.make", incoming="N2")
    return driver


def text(driver: Driver) -> str:
    return "\n".join(sheet(driver.case, HEAD, len(driver.case.log)))


def part(driver: Driver, title: str) -> str:
    """The lines under one heading."""
    lines = sheet(driver.case, HEAD, len(driver.case.log))
    start = next(n for n, line in enumerate(lines) if line.startswith(title))
    body = lines[start + 2 :]
    end = next((n for n, line in enumerate(body) if not line), len(body))
    return "\n".join(body[:end])


def test_no_line_is_wider_than_a_remote_shell() -> None:
    assert max(len(line) for line in sheet(worked().case, HEAD, 1)) <= WIDTH


def test_the_same_log_gives_the_same_lines() -> None:
    driver = worked()
    again = begin(driver.case.key, driver.checklist)
    for event in driver.case.log:
        again = fold(again, event)
    assert sheet(again, HEAD, 20) == sheet(driver.case, HEAD, 20)


def test_it_says_which_case_checklist_and_day_it_is_about() -> None:
    said = text(worked())
    assert "DEBRIEF  K7Q2-M4" in said
    assert "checklist small, revision t1" in said
    assert "cusps: left then right; native valve; study number R-1" in said
    assert "opened 2031-02-28 00:06:40 UTC+01:00" in said


@pytest.mark.parametrize("rehearsal", [True, False])
def test_a_rehearsal_says_that_it_is_not_a_real_case(rehearsal: bool) -> None:
    driver = Driver("left")
    event = driver.case.log[0]
    what = event.what.model_copy(update={"rehearsal": rehearsal})
    case = fold(begin("K7Q2-M4", driver.checklist), event.model_copy(update={"what": what}))
    assert ("REHEARSAL, NOT A REAL CASE" in sheet(case, HEAD, 1)[0]) is rehearsal


def test_an_open_case_says_that_it_is_not_sealed() -> None:
    driver = worked()
    assert "NOT SEALED" in text(driver)


def test_it_holds_the_intervals_the_attempts_and_the_rescues() -> None:
    driver = worked()
    assert "Last split to valve deployed (never began)" in part(driver, "Intervals")
    attempts = part(driver, "Attempts")
    assert "left 1" in attempts
    assert "1.0 s" in attempts
    assert "Cross: failed" in attempts
    assert "left 2" in attempts
    assert "6:00  Coronary obstruction, left coronary: stent in, flow normal;" in " ".join(
        part(driver, "Bailouts").replace("\n" + " " * 28, " ").splitlines()
    )


def test_it_keeps_apart_what_was_decided_and_what_is_missing() -> None:
    driver = worked()
    assert "Filters: skipped by decision" in part(driver, "Left out on purpose")
    assert "Return pad on (Access): not done: haemodynamics" in part(driver, "Left out on purpose")
    assert "Filters" not in part(driver, "Missing")


def test_holds_late_entries_and_corrections_stand_with_their_reasons_and_entry_numbers() -> None:
    driver = worked()
    passed = part(driver, "Holds passed").replace("\n    ", " ")
    assert "ACT at least 250" in passed
    assert "haemodynamics" in passed
    late = part(driver, "Late entries").replace("\n    ", " ")
    assert "LATE +3:00: left, attempt 2: crossed: haemodynamics" in late
    corrected = part(driver, "Corrections")
    undo = next(e.seq for e in driver.case.log if e.kind == "event.voided")
    assert f"[{undo}]" in corrected


def test_tallies_at_the_end_name_their_sources() -> None:
    driver = worked()
    assert "heparin 5000 IU" in part(driver, "Tallies at the end")


def test_settled_sign_out_items_stand_with_their_reason() -> None:
    driver = Driver("left")
    driver.do("signout.settle", item="signout:flow_seen", reason="haemodynamic")
    assert "both ostia looked at: haemodynamics" in part(driver, "Sign-out items")


def test_the_record_says_how_it_was_made_and_by_how_many() -> None:
    said = part(worked(), "The record itself").replace("\n    ", " ")
    assert "late 2" in said
    assert "voided 1" in said
    assert "handover N1 to N2" in said


def test_there_is_room_to_write_and_nobody_is_named_or_ranked() -> None:
    said = text(worked())
    for words in (
        "What went well (plus)",
        "What to change (delta)",
        "Actions: what, owner's role, by which date",
    ):
        assert words in said
    assert said.count("_" * 70) == 9


def test_head_and_count_stand_at_the_end_and_a_count_that_differs_is_a_caution() -> None:
    driver = worked()
    count = len(driver.case.log)
    assert HEAD in text(driver)
    assert f"entries in the ledger: {count}" in text(driver)
    assert "CAUTION" not in text(driver)
    assert any("CAUTION" in line for line in sheet(driver.case, HEAD, count + 1))


def test_it_says_that_it_advises_nothing_and_that_local_protocol_decides() -> None:
    said = " ".join(text(worked()).split())
    assert "No advice" in said
    assert "local protocol and the licensed physician decide" in said


def test_text_from_a_file_or_a_key_cannot_steer_the_terminal() -> None:
    driver = worked()
    driver.do("note.write", text="\x1b[2J\x07 wiped \u202e")
    hostile = driver.case.checklist.model_copy(update={"title": "A\x1b]0;title\x07B"})
    case = begin("K7Q2-M4", hostile)
    for event in driver.case.log:
        case = fold(case, event)
    assert all(line.isprintable() or not line for line in sheet(case, HEAD, 1))


def test_an_empty_case_has_a_sheet() -> None:
    assert "none" in "\n".join(sheet(begin("K7Q2-M4", Driver("left").checklist), HEAD, 0))


def test_a_table_keeps_its_columns_when_the_last_one_wraps() -> None:
    lines = table(("a", "b"), [("1", "word " * 40)])
    assert all(line.startswith("     ") for line in lines[2:])
    assert table(("a", "b"), []) == ["  none"]
    assert bullets([]) == ["  none"]


def test_inert_keeps_blanks_and_takes_what_cannot_be_printed() -> None:
    assert inert("  a\tb\x1bc ") == "  a b c"
