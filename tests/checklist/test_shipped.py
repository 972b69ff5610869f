"""What ships: every checklist is sound, speaks plainly, and says where its numbers come from."""

from __future__ import annotations

import itertools
import re
from collections import defaultdict
from decimal import Decimal
from pathlib import Path

import pytest

from labcheck.checklist import finding
from labcheck.checklist.checking import warnings
from labcheck.checklist.explaining import example_plan, explain
from labcheck.checklist.model import Bailout, Checklist, Stage
from labcheck.checklist.reading import read_checklist
from labcheck.checklist.unfolding import unfold
from labcheck.reference import radiation
from labcheck.reference.figures import Reason
from labcheck.reference.named_limits import NAMED_LIMITS

FOLDER = Path(__file__).parents[2] / "checklists"
SHIPPED = {path.stem: path for path in sorted(FOLDER.glob("*.toml"))}
CHECKLISTS = {name: read_checklist(path.read_bytes(), path.name) for name, path in SHIPPED.items()}
LACERATING = ("electrosurgical", "fused_leaflet", "anterior_mitral")

every = pytest.mark.parametrize("checklist", CHECKLISTS.values(), ids=CHECKLISTS.keys())


def holders(checklist: Checklist) -> list[Stage | Bailout]:
    return [*checklist.stage, *checklist.bailout]


def test_the_five_techniques_ship() -> None:
    assert set(CHECKLISTS) == {
        "electrosurgical", "mechanical_splitter", "coronary_protection", "anterior_mitral", "fused_leaflet",
    }  # fmt: skip


@every
def test_nothing_shipped_is_warned_about(checklist: Checklist) -> None:
    assert [str(warning) for warning in warnings(checklist)] == []


@pytest.mark.parametrize("name", SHIPPED)
def test_a_shipped_file_is_called_as_its_id_and_says_that_it_is_a_starting_point(name: str) -> None:
    text = SHIPPED[name].read_text(encoding="utf-8")
    assert CHECKLISTS[name].id == CHECKLISTS[name].technique == name
    assert "THIS IS A STARTING POINT, NOT A PROTOCOL" in text
    assert "Verify locally" in text.split("format = 1")[0]
    assert CHECKLISTS[name].verify.startswith("Verify locally")


@every
def test_every_number_names_a_source_that_says_how_well_it_was_checked(checklist: Checklist) -> None:
    numbers = [
        *(reading.source for reading in checklist.reading if reading.low is not None),
        *(drug.source for drug in checklist.drug if drug.usual),
        *(notice.source for tally in checklist.tally for notice in tally.notice),
        *(one.attempts.source for one in checklist.stage if one.attempts),
        *(one.attempts.energy.source for one in checklist.stage if one.attempts and one.attempts.energy),
        *(watch.source for watch in checklist.watch if watch.due_min is not None),
    ]
    assert numbers
    assert all(source is not None and finding.source(checklist, source) for source in numbers)


@every
def test_numbers_from_memory_are_marked_so(checklist: Checklist) -> None:
    # Watts and the multiple of 3.7 were in no text that could be read; nobody may take them for published.
    marks = {source.id: source.mark for source in checklist.source}
    assert marks["laskey"] == "memory"
    for one in checklist.stage:
        if one.attempts and one.attempts.energy and one.attempts.energy.source:
            assert marks[one.attempts.energy.source] == "memory"


@every
def test_no_stage_or_card_is_longer_than_people_can_hold(checklist: Checklist) -> None:
    assert all(len(card.step) <= 9 for card in checklist.bailout)
    assert all(len(step.say) <= 66 for one in holders(checklist) for step in one.step)
    assert all(len(one.call.split()) <= 5 for one in checklist.stage)


@every
def test_calls_leave_the_cusp_to_the_console_and_differ(checklist: Checklist) -> None:
    calls = [one.call.lower() for one in checklist.stage]
    assert len(set(calls)) == len(calls)
    said = " ".join(calls)
    assert not re.search(r"\b(left|right|non-coronary|fused)\b", said)


@every
def test_every_step_has_an_owner(checklist: Checklist) -> None:
    owners = {step.owner for one in holders(checklist) for step in one.step}
    assert owners <= {"nurse", "operator", "assistant", "anaesthesia", "echo", "all"}


@every
def test_crossing_cutting_and_deploying_are_quiet(checklist: Checklist) -> None:
    quiet = {one.id for one in checklist.stage if one.quiet}
    assert quiet >= {"traverse", "lacerate", "split", "deploy", "septum"} & {
        one.id for one in checklist.stage
    }


@every
def test_nothing_can_be_cut_or_deployed_without_a_hold_on_what_it_needs(checklist: Checklist) -> None:
    for one in checklist.stage:
        if one.id in ("traverse", "lacerate", "split", "wire", "insert"):
            assert "act" in [hold.id for hold in one.hold], one.id
        if one.id in ("lacerate", "split"):
            assert {"valve", "pacing", "vasopressor"} <= {hold.id for hold in one.hold}


@every
def test_the_sign_out_settles_what_a_registry_will_ask_for(checklist: Checklist) -> None:
    settled = {item.id for item in checklist.signout}
    assert settled >= {
        "neuroprotection", "filters_out", "debris", "protamine", "counts", "leaves", "valves", "contrast",
        "radiation", "rhythm", "late_watch", "deployed",
    }  # fmt: skip
    assert {"flow", "outflow"} & settled


@every
def test_filters_declined_skip_their_stage_and_want_a_reason(checklist: Checklist) -> None:
    decision = finding.decision(checklist, "neuroprotection")
    assert decision is not None
    for option in decision.options:
        refused = option.id in ("declined", "not_feasible")
        assert ("protection" in option.skips) is refused
        assert option.needs_reason is refused


@every
def test_the_rescues_cover_what_goes_wrong(checklist: Checklist) -> None:
    cards = {card.id for card in checklist.bailout}
    assert cards >= {
        "coronary", "collapse", "arrest", "tamponade", "support", "dissection", "stroke", "vascular",
        "conduction", "second_valve", "conversion",
    }  # fmt: skip
    if checklist.id in LACERATING:
        assert cards >= {"traverse_fail", "lacerate_fail", "wire_astray", "mitral_caught", "fault"}


@every
def test_the_most_urgent_rescues_stand_on_the_first_keys(checklist: Checklist) -> None:
    # The console puts the first eight on the keys 1 to 8; a nurse who changes technique finds the same there.
    first = [card.id for card in checklist.bailout][:8]
    assert first[:4] == ["coronary", "collapse", "arrest", "tamponade"]
    assert first[6:] == ["dissection", "vascular"]
    own = {
        "electrosurgical": ["wire_astray", "lacerate_fail"],
        "fused_leaflet": ["wire_astray", "lacerate_fail"],
        "mechanical_splitter": ["stuck", "split_fail"],
        "coronary_protection": ["jailed", "protect_fail"],
        "anterior_mitral": ["outflow_blocked", "aortic_valve"],
    }
    assert first[4:6] == own[checklist.id]


@every
def test_a_rescue_card_names_no_dose_and_no_limit(checklist: Checklist) -> None:
    for card in checklist.bailout:
        assert card.source is not None
        words = [card.title, *(step.say for step in card.step), *(option.text for option in card.outcomes)]
        words += [option.text for step in card.step for option in step.options]
        assert not re.search(r"\d|%|\b(give|must|should|never|always)\b", " ".join(words).lower()), card.id


@every
def test_either_or_in_a_rescue_is_a_choice_so_that_the_log_knows_which(checklist: Checklist) -> None:
    for card in checklist.bailout:
        for step in card.step:
            assert step.kind != "done" or not re.search(r"\bor not\b|yes or no", step.say), step.id


@every
def test_only_cards_that_treat_something_touch_an_endpoint(checklist: Checklist) -> None:
    endpoints = {card.id: card.endpoint for card in checklist.bailout}
    assert endpoints["coronary"] == "coronary_obstruction"
    assert endpoints["conversion"] == "conversion"
    for harmless in ("traverse_fail", "lacerate_fail", "wire_astray", "position_fail", "protect_fail"):
        assert endpoints.get(harmless, "none") == "none"


@every
def test_the_coronary_card_asks_whether_the_stent_was_planned(checklist: Checklist) -> None:
    # VARC-3: a bailout stent breaks technical success, a planned one does not (own reading, marked derived).
    planned = finding.step(checklist, "bailout:coronary", "planned")
    assert planned is not None
    assert [option.id for option in planned.options] == ["no", "yes"]


def test_the_unstable_interval_runs_from_the_last_cut_to_the_valve() -> None:
    for name, stage in [("electrosurgical", "lacerate"), ("mechanical_splitter", "split")]:
        unstable = finding.interval(CHECKLISTS[name], "unstable")
        watch = finding.watch(CHECKLISTS[name], "unstable")
        assert unstable is not None
        assert watch is not None
        assert watch.big
        assert (watch.start, watch.end) == (unstable.start, unstable.end)
        assert (unstable.start.stage, unstable.start.which) == (stage, "last")
        assert (unstable.end.event, unstable.end.stage) == ("stage.closed", "deploy")


@every
def test_access_to_exit_is_defined_alike_everywhere(checklist: Checklist) -> None:
    interval = finding.interval(checklist, "access_to_exit")
    assert interval is not None
    assert (interval.start.stage, interval.end.stage) == (checklist.access_stage, "signout")


def test_both_cusps_are_secured_before_the_first_is_cut() -> None:
    # Dalal, SCAI 2019 abstract: both leaflets were crossed and both rails made before either was cut.
    slots = [(slot.stage, slot.cusp) for slot in unfold(CHECKLISTS["electrosurgical"], ("right", "left"))]
    first_cut = min(slots.index(("lacerate", "left")), slots.index(("lacerate", "right")))
    assert slots.index(("secure", "left")) < first_cut
    assert slots.index(("secure", "right")) < first_cut
    assert slots[first_cut : first_cut + 3] == [("lacerate", "right"), ("lacerate", "left"), ("deploy", None)]


def test_the_splitter_turns_to_the_second_cusp_and_leaves_before_the_valve() -> None:
    slots = [slot.stage for slot in unfold(CHECKLISTS["mechanical_splitter"], ("left", "right"))]
    assert slots[3:13] == [
        "insert", "ready", "position", "split", "position", "split", "lock", "remove", "deploy", "coronary",
    ]  # fmt: skip
    steps = {step.id for one in CHECKLISTS["mechanical_splitter"].stage for step in one.step}
    assert not {"snare", "pad", "dextrose", "flying_v"} & steps


@every
def test_kerma_and_fluoroscopy_units_are_all_understood(checklist: Checklist) -> None:
    convert = {
        "kap": radiation.kap_gy_cm2,
        "air_kerma": radiation.air_kerma_mgy,
        "fluoroscopy": radiation.fluoroscopy_min,
    }
    for name, to_canonical in convert.items():
        reading = finding.reading(checklist, name)
        assert reading is not None
        assert reading.cumulative
        assert reading.unit is not None
        one = to_canonical(Decimal(1), reading.unit)
        assert not isinstance(one, Reason)
        assert one.value == 1, "the checklist's own unit is the canonical one"
        # A thousandth, since one Gy·m2 is more than any case gives.
        assert all(not isinstance(to_canonical(Decimal("0.001"), unit), Reason) for unit in reading.units)


@every
def test_a_named_limit_speaks_of_the_unit_of_its_tally(checklist: Checklist) -> None:
    for tally in checklist.tally:
        for notice in tally.notice:
            if notice.limit:
                assert NAMED_LIMITS[notice.limit].unit == tally.unit


@pytest.mark.parametrize("table", ["drug", "reading", "reason", "run", "source", "decision"])
def test_what_has_one_id_in_two_shipped_checklists_is_the_same_thing(table: str) -> None:
    """A hospital pools its cases: heparin in one technique must not be counted otherwise in another."""
    seen = defaultdict(set)
    for checklist in CHECKLISTS.values():
        for thing in getattr(checklist, table):
            seen[thing.id].add(thing.model_dump_json())
    assert [name for name, kinds in seen.items() if len(kinds) > 1] == []


@every
def test_every_plan_the_checklist_allows_unfolds_and_is_explained(checklist: Checklist) -> None:
    for many, substrate in itertools.product(range(1, checklist.max_cusps + 1), checklist.substrates):
        plan = example_plan(checklist, many).model_copy(update={"substrate": substrate})
        lines = explain(checklist, plan)
        assert len([line for line in lines if "Opens at" in line]) == len(unfold(checklist, plan.targets))
        assert all("\n" not in line for line in lines)


@every
def test_no_trade_name_or_acronym_of_a_technique_is_used(checklist: Checklist) -> None:
    text = SHIPPED[checklist.id].read_text(encoding="utf-8")
    shouted = set(re.findall(r"\b[A-Z]{5,}\b", text))
    big = {word for one in holders(checklist) for word in one.big.split()}
    assert shouted - big <= {"STARTING", "POINT", "PROTOCOL", "CLOSE"}
    assert "®" not in text
    assert "™" not in text
