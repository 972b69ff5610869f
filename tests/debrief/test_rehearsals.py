"""What the shipped rehearsals come to when they are looked back on."""

from __future__ import annotations

import hashlib
from functools import cache
from pathlib import Path

from labcheck.caselog.case import Case
from labcheck.caselog.deviations import deviations
from labcheck.caselog.intervals import Row, interval_table
from labcheck.caselog.playing import play
from labcheck.caselog.script import Script, read_script
from labcheck.caselog.telling import span_words
from labcheck.checklist.reading import read_checklist
from labcheck.debrief.lines import WIDTH
from labcheck.debrief.sheet import sheet

SHIPPED = Path(__file__).parents[2] / "checklists"


@cache
def played(name: str) -> Case:
    script = read_script((SHIPPED / "rehearsals" / f"{name}.toml").read_bytes(), name)
    assert isinstance(script, Script)
    text = (SHIPPED / f"{script.head.checklist}.toml").read_bytes()
    checklist = read_checklist(text, script.head.checklist)
    case = play(script, checklist, "K7Q2-M4", hashlib.sha256(text).hexdigest())
    assert isinstance(case, Case), str(case)
    return case


def rows(name: str) -> dict[str, Row]:
    return {row.id: row for row in interval_table(played(name), None)}


def lasted(row: Row) -> str:
    assert row.span is not None
    assert row.span.basis == "boot"
    return span_words(row.span.us)


def words(name: str, kind: str) -> str:
    return "\n".join(d.words for d in deviations(played(name)) if d.kind == kind)


ONE = "left-cusp-surgical"
TWO = "right-then-left-bailout"


def test_one_cusp_the_valve_followed_the_cut_by_two_minutes_and_forty_six_seconds() -> None:
    assert lasted(rows(ONE)["unstable"]) == "2:46"


def test_one_cusp_crossed_at_the_third_attempt_which_was_entered_late() -> None:
    tries = [a for a in played(ONE).attempts if a.stage == "traverse"]
    assert [a.outcome for a in tries] == ["fault", "failed", "crossed"]
    assert "LATE +3:00: left, attempt 3: crossed" in words(ONE, "late_entry")


def test_one_cusp_going_back_is_rework_and_the_first_visit_stays_as_it_was() -> None:
    assert "Guide and snare in place, left: 2 visits" in words(ONE, "rework")
    assert lasted(rows(ONE)["visit:position:left:1"]) == "18:00"


def test_one_cusp_the_return_pad_was_answered_after_the_time_out_had_ended() -> None:
    assert "Return pad on" in words(ONE, "late_step")
    assert "Return pad on" not in words(ONE, "missing")


def test_two_cusps_the_rescue_lasted_six_minutes_and_the_compressions_forty_seconds() -> None:
    case = played(TWO)
    (rescue,) = case.bailouts
    assert lasted(rows(TWO)[f"bailout:coronary:{rescue.seq}"]) == "6:00"
    text = "\n".join(sheet(case, "f" * 64, len(case.log)))
    assert "Compressions in all 40.0 s" in text


def test_two_cusps_the_unstable_interval_counts_from_the_cusp_that_was_cut() -> None:
    case = played(TWO)
    cut = next(a for a in case.attempts if a.stage == "lacerate" and a.outcome == "cut")
    row = rows(TWO)["unstable"]
    assert cut.cusp == "right"
    assert row.start == cut.effect


def test_two_cusps_what_was_abandoned_or_declined_is_not_missing() -> None:
    assert "left cusp abandoned" in words(TWO, "skipped")
    assert "Cerebral protection: skipped by decision" in words(TWO, "skipped")
    assert "Laceration" not in words(TWO, "missing")
    assert "Cerebral protection" not in words(TWO, "missing")


def test_two_cusps_the_wrong_cusp_is_a_correction_and_the_attempt_is_on_the_right_one() -> None:
    assert "moved to left cusp" in words(TWO, "correction")
    right = [a for a in played(TWO).attempts if a.stage == "traverse" and a.cusp == "right"]
    assert [a.outcome for a in right] == ["crossed"]


def test_two_cusps_what_became_known_after_the_seal_is_marked() -> None:
    text = "\n".join(sheet(played(TWO), "f" * 64, len(played(TWO).log)))
    assert "AFTER SEAL  LATE +18:59:00" in text


def test_every_rehearsal_has_a_sheet_that_says_it_is_not_real() -> None:
    for path in sorted((SHIPPED / "rehearsals").glob("*.toml")):
        case = played(path.stem)
        lines = sheet(case, "f" * 64, len(case.log))
        assert "REHEARSAL, NOT A REAL CASE" in lines[0]
        assert max(map(len, lines)) <= WIDTH
