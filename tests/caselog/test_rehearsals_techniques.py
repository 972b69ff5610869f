"""The rehearsals of the other techniques: what goes wrong in each is put right, and the log can tell."""

from __future__ import annotations

from decimal import Decimal

import pytest

from labcheck.caselog.case import Case
from labcheck.caselog.deviations import deviations
from labcheck.caselog.events import ClockNoticed, DoseGiven
from labcheck.caselog.folding import begin, effective_payload, refold
from labcheck.caselog.intervals import interval_table
from labcheck.caselog.progress import slot_state
from labcheck.checklist.reading import read_checklist
from labcheck.checklist.unfolding import Slot
from tests.caselog.test_rehearsals import CHECKLISTS, KEY, played, script_named

ONE = "splitter-one-cusp"
TWO = "splitter-two-cusps"
CORONARY = "coronary-protection"
MITRAL = "anterior-mitral"
FUSED = "fused-leaflet"


@pytest.fixture(scope="module")
def cases() -> dict[str, Case]:
    return {name: played(name) for name in (ONE, TWO, CORONARY, MITRAL, FUSED)}


def seconds(case: Case, interval: str) -> float:
    row = next(r for r in interval_table(case, None) if r.id == interval)
    assert row.span is not None
    return row.span.us / 1_000_000


def outcomes(case: Case, stage: str) -> list[tuple[str, int, str | None]]:
    return [(a.cusp, a.number, a.outcome) for a in case.attempts if a.stage == stage]


def rescues(case: Case) -> list[tuple[str, str | None, str | None]]:
    return [(b.what.bailout, b.outcome, b.lead) for b in case.bailouts]


def test_every_shipped_checklist_can_be_rehearsed() -> None:
    told = {script_named(path.stem).head.checklist for path in (CHECKLISTS / "rehearsals").glob("*.toml")}
    assert told == {read_checklist(p.read_bytes(), p.name).id for p in CHECKLISTS.glob("*.toml")}


@pytest.mark.parametrize("name", [ONE, TWO, CORONARY, MITRAL, FUSED])
def test_folding_its_log_again_gives_the_same_case(cases: dict[str, Case], name: str) -> None:
    assert refold(begin(KEY, cases[name].checklist), cases[name].log) == cases[name]


def test_a_second_splitter_splits_what_the_first_could_not(cases: dict[str, Case]) -> None:
    case = cases[ONE]
    assert outcomes(case, "split") == [("left", 1, "fault"), ("left", 2, "split")]
    assert rescues(case) == [("fault", "replaced", "carry_on")]
    assert [v.number for v in case.visits if v.stage == "insert"] == [1, 2]
    # From the first splitter going in (09:01:00) to the second one out (09:29:50).
    assert seconds(case, "device_time") == 28 * 60 + 50


def test_the_dose_that_counts_is_the_amended_one_and_the_first_stays_legible(cases: dict[str, Case]) -> None:
    case = cases[ONE]
    given = next(e for e in case.log if isinstance(e.what, DoseGiven) and e.what.drug == "heparin")
    assert isinstance(given.what, DoseGiven)
    assert given.what.amount == Decimal(600)
    counted = effective_payload(case, given.seq)
    assert counted is not None
    assert counted[0].amount == Decimal(6000)


def test_a_sleeping_computer_is_in_the_log(cases: dict[str, Case]) -> None:
    found = [e.what for e in cases[ONE].log if isinstance(e.what, ClockNoticed)]
    assert [(notice.notice, notice.amount_us) for notice in found] == [("suspend", 240_000_000)]


def test_the_order_of_the_cusps_is_the_one_that_was_changed_to(cases: dict[str, Case]) -> None:
    case = cases[TWO]
    assert case.plan is not None
    assert case.plan.targets == ("left", "right")
    assert case.order == ("right", "left")
    assert outcomes(case, "split") == [("right", 1, "split"), ("left", 1, "partial")]


def test_a_collapse_between_two_splits_leaves_both_cusps_split_and_its_own_clock(
    cases: dict[str, Case],
) -> None:
    case = cases[TWO]
    assert rescues(case) == [("position_fail", "placed", "carry_on"), ("collapse", "valve", "carry_on")]
    collapse = case.bailouts[1]
    assert collapse.end is not None
    assert collapse.end.wall_us - collapse.start.wall_us == 300_000_000
    # The last split ended at 10:50:58, the valve was in at 10:53:02.
    assert seconds(case, "unstable") == 124


def test_what_the_sign_out_asked_for_is_late_and_says_so(cases: dict[str, Case]) -> None:
    late = [d.words for d in deviations(cases[TWO]) if d.kind == "late_entry"]
    assert len(late) == 1
    assert "Splitter looked at" in late[0]
    assert "more than 20 min" in late[0]


def test_a_coronary_that_cannot_be_wired_is_given_up_and_the_other_settled(cases: dict[str, Case]) -> None:
    case = cases[CORONARY]
    assert set(case.abandoned) == {"right"}
    assert slot_state(case, Slot("settle", "right")) == "abandoned"
    assert slot_state(case, Slot("settle", "left")) == "done"
    assert outcomes(case, "wire") == [
        ("left", 1, "wired"),
        ("right", 1, "failed"),
        ("right", 2, "failed"),
        ("right", 3, "failed"),
    ]
    assert rescues(case) == [("protect_fail", "given_up", "abandon_cusp"), ("jailed", "deployed", "carry_on")]


def test_a_flow_on_the_wrong_side_does_not_count(cases: dict[str, Case]) -> None:
    flows = [(r.what.ostium, r.what.choice) for r in cases[CORONARY].readings if r.what.reading == "flow"]
    assert flows == [
        ("left", "normal"), ("left", "partial"), ("left", "normal"), ("left", "normal"), ("right", "normal"),
        ("left", "normal"),
    ]  # fmt: skip


def test_a_wire_in_the_chords_is_freed_before_anything_is_cut(cases: dict[str, Case]) -> None:
    case = cases[MITRAL]
    caught = case.bailouts[0]
    assert (caught.what.bailout, caught.outcome) == ("mitral_caught", "freed")
    assert caught.end is not None
    bursts = [b.start for a in case.attempts if a.stage == "lacerate" for b in a.bursts]
    assert bursts
    assert all(start.wall_us > caught.end.wall_us for start in bursts)
    assert outcomes(case, "traverse") == [
        ("anterior_mitral", 1, "crossed"),
        ("anterior_mitral", 2, "crossed"),
    ]


def test_the_outflow_gradient_is_kept_before_at_worst_and_after(cases: dict[str, Case]) -> None:
    gradients = [r.what.value for r in cases[MITRAL].readings if r.what.reading == "lvot_gradient"]
    assert gradients == [6, 44, 18]
    assert cases[MITRAL].bailouts[1].outcome == "medical"


def test_a_wire_beside_the_ring_is_withdrawn_and_the_leaflet_crossed_again(cases: dict[str, Case]) -> None:
    case = cases[FUSED]
    assert [name for name, _, _ in rescues(case)] == [
        "wire_astray", "lacerate_fail", "conduction", "vascular",
    ]  # fmt: skip
    assert outcomes(case, "lacerate") == [("fused", 1, "none"), ("fused", 2, "cut")]
    assert [v.number for v in case.visits if v.stage == "secure"] == [1, 2]
