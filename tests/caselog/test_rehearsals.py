"""The shipped rehearsals, played through ``decide`` to the seal as if they had been driven live."""

from __future__ import annotations

from pathlib import Path

import pytest

from labcheck.caselog.case import Case
from labcheck.caselog.deciding import Decided, decide
from labcheck.caselog.events import AddendumAdded, ClockNoticed, ReadingTaken
from labcheck.caselog.folding import begin, fold, refold
from labcheck.caselog.intervals import interval_table
from labcheck.caselog.playing import intents, play, stamp_at, transcribed
from labcheck.caselog.progress import slot_state
from labcheck.caselog.script import Script, read_script
from labcheck.checklist.model import Checklist
from labcheck.checklist.reading import digest, read_checklist
from labcheck.checklist.unfolding import Slot

CHECKLISTS = Path(__file__).parents[2] / "checklists"
KEY = "TEST-22"
LEFT = "left-cusp-surgical"
BOTH = "right-then-left-bailout"


def script_named(name: str) -> Script:
    path = CHECKLISTS / "rehearsals" / f"{name}.toml"
    return read_script(path.read_bytes(), path.name)


def checklist_for(script: Script) -> tuple[Checklist, str]:
    path = CHECKLISTS / f"{script.head.checklist}.toml"
    return read_checklist(path.read_bytes(), path.name), digest(path.read_bytes())


def played(name: str) -> Case:
    script = script_named(name)
    checklist, its_digest = checklist_for(script)
    case = play(script, checklist, KEY, its_digest)
    assert isinstance(case, Case), str(case)
    return case


@pytest.fixture(scope="module")
def left() -> Case:
    return played(LEFT)


@pytest.fixture(scope="module")
def both() -> Case:
    return played(BOTH)


@pytest.mark.parametrize("path", sorted((CHECKLISTS / "rehearsals").glob("*.toml")), ids=lambda p: p.stem)
def test_every_shipped_rehearsal_plays_to_its_seal(path: Path) -> None:
    case = played(path.stem)
    assert case.seal is not None
    assert case.rehearsal


@pytest.mark.parametrize("name", [LEFT, BOTH])
def test_folding_the_log_again_gives_the_same_case(name: str) -> None:
    case = played(name)
    assert refold(begin(KEY, case.checklist), case.log) == case


@pytest.mark.parametrize("name", [LEFT, BOTH])
def test_the_same_script_makes_the_same_press_ids(name: str) -> None:
    script = script_named(name)
    first = [intent.press for _, intent in intents(script, KEY, "0" * 64)]
    assert first == [intent.press for _, intent in intents(script, KEY, "0" * 64)]
    assert len(set(first)) == len(first)


def test_a_stage_opened_by_a_double_press_is_undone_without_losing_time(left: Case) -> None:
    filters = [v for v in left.visits if v.stage == "protection"]
    assert len(filters) == 1
    assert filters[0].end is not None
    assert filters[0].end.wall_us - filters[0].start.wall_us == 400_000_000
    assert sum(1 for e in left.log if e.kind == "event.voided") == 2


def test_a_second_press_within_the_bounce_guard_leaves_a_trace_and_no_stage(left: Case) -> None:
    assert [e.kind for e in left.log].count("press.bounced") == 1
    assert len([v for v in left.visits if v.stage == "position"]) == 2


def test_going_back_makes_a_second_visit_and_keeps_the_first(left: Case) -> None:
    assert [(v.stage, v.number, v.how) for v in left.visits if v.cusp == "left"][:5] == [
        ("position", 1, "done"),
        ("traverse", 1, "left"),
        ("position", 2, "done"),
        ("traverse", 2, "done"),
        ("secure", 1, "done"),
    ]


def test_the_late_crossing_keeps_both_times(left: Case) -> None:
    third = next(a for a in left.attempts if a.stage == "traverse" and a.number == 3)
    event = left.event(third.seq)
    assert event is not None
    assert (event.mode, event.lag_us, event.late_reason) == ("late", 180_000_000, "busy")
    assert third.outcome == "crossed"


def test_the_generator_fault_is_tied_to_the_first_attempt(left: Case) -> None:
    first = next(a for a in left.attempts if a.stage == "traverse" and a.number == 1)
    assert [f.what.attempt for f in left.faults] == [first.seq]
    assert first.outcome == "fault"


def test_the_gap_of_a_restart_is_in_the_log(left: Case) -> None:
    gaps = [e.what for e in left.log if isinstance(e.what, ClockNoticed)]
    assert [(gap.notice, gap.amount_us) for gap in gaps] == [("resumed", 41_000_000)]


def test_the_unstable_interval_is_computed_from_the_presses(left: Case) -> None:
    row = next(r for r in interval_table(left, None) if r.id == "unstable")
    assert row.span is not None
    assert (row.span.us, row.span.basis) == (166_000_000, "boot")


def test_handover_changes_the_recorder_from_the_next_entry_on(left: Case) -> None:
    event = left.event(left.handovers[0].seq)
    assert event is not None
    assert (event.recorder, left.log[event.seq].recorder) == ("N1", "N2")


def test_a_stage_called_on_the_wrong_cusp_moves_to_the_right_one(both: Case) -> None:
    traverse = [(v.cusp, v.number) for v in both.visits if v.stage == "traverse"]
    assert traverse == [("right", 1), ("left", 1)]
    position = next(v for v in both.visits if (v.stage, v.cusp) == ("position", "left"))
    assert position.how == "done"


def test_attempts_are_numbered_for_each_cusp(both: Case) -> None:
    tries = [(a.cusp, a.number, a.outcome) for a in both.attempts if a.stage == "traverse"]
    assert tries == [
        ("right", 1, "crossed"),
        ("left", 1, "failed"),
        ("left", 2, "failed"),
        ("left", 3, "crossed"),
    ]


def test_one_cusp_is_cut_and_the_other_abandoned(both: Case) -> None:
    assert slot_state(both, Slot("lacerate", "right")) == "done"
    assert slot_state(both, Slot("lacerate", "left")) == "abandoned"
    assert set(both.abandoned) == {"left"}


def test_the_rescue_runs_six_minutes_on_its_own_clock(both: Case) -> None:
    rescue = both.bailouts[0]
    assert rescue.end is not None
    assert (rescue.what.bailout, rescue.outcome) == ("coronary", "stented")
    assert rescue.end.wall_us - rescue.start.wall_us == 360_000_000


def test_compressions_last_forty_seconds(both: Case) -> None:
    spell = next(s for s in both.spells if s.run == "cpr")
    assert spell.end is not None
    assert spell.end.wall_us - spell.start.wall_us == 40_000_000


def test_what_is_entered_after_the_silence_is_late_by_its_own_time(both: Case) -> None:
    late = [e for e in both.log if e.mode == "late" and e.kind != "addendum.added"]
    assert len({e.press for e in late}) == 7
    assert all(e.lag_us > 10 * 60_000_000 for e in late)


def test_a_fact_of_the_day_after_follows_the_seal_and_does_not_move_it(both: Case) -> None:
    last = both.log[-1]
    assert both.seal is not None
    assert isinstance(last.what, AddendumAdded)
    assert isinstance(last.what.fact, ReadingTaken)
    assert last.seq == both.seal.seq + 1
    assert last.happened.wall_us < both.seal.at.wall_us < last.entered.wall_us


@pytest.mark.parametrize("name", [LEFT, BOTH])
def test_a_transcribed_script_claims_wall_times_only(name: str) -> None:
    for intent in transcribed(script_named(name), KEY, "0" * 64):
        if intent.claim is not None:
            assert intent.claim.transcribed
            assert intent.claim.wall_us is not None
            assert intent.claim.off_s == 3600


def test_a_hold_is_judged_by_the_time_on_the_paper() -> None:
    script = script_named("paper-record")
    checklist, its_digest = checklist_for(script)
    case = begin(KEY, checklist)
    days_later = stamp_at(script, 9 * 86_400_000_000)
    for intent in transcribed(script, KEY, its_digest):
        outcome = decide(case, intent, days_later)
        assert isinstance(outcome, Decided), outcome
        for event in outcome.events:
            case = fold(case, event)
    assert case.seal is not None
    assert [h.what.hold for h in case.holds_passed] == ["act"]
    assert {e.mode for e in case.log} == {"transcribed"}
    assert all(e.happened.boot_us is None for e in case.log)
