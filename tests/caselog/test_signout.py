"""The sign-out list and the lines that are read back at a handover."""

from __future__ import annotations

from decimal import Decimal

import pytest

from labcheck.caselog.handover import MOST, open_items
from labcheck.caselog.intents import Claim
from labcheck.caselog.signout import Item, signout_items
from tests.caselog.driving import Driver


def items(driver: Driver) -> dict[str, Item]:
    return {item.id: item for item in signout_items(driver.case, driver.stamp())}


def crossing() -> Driver:
    driver = Driver("left", "right")
    driver.at(0).do("stage.open")
    driver.do("stage.open", stage="cross", cusp="left", reason="haemodynamic")
    return driver


@pytest.mark.parametrize(
    ("begin", "finish", "kind"),
    [
        (
            [("sample.send", {"reading": "act"})],
            ("reading.take", {"reading": "act", "value": Decimal(274)}),
            "sample",
        ),
        ([("run.start", {"run": "cpr"})], ("run.stop", {"run": "cpr"}), "run"),
        (
            [("bailout.open", {"bailout": "coronary", "ostium": "left"})],
            ("bailout.close", {"outcome": "stented"}),
            "bailout",
        ),
        ([("attempt.open", {})], ("attempt.close", {"outcome": "failed"}), "attempt"),
        ([("energy.on", {})], ("energy.off", {}), "burst"),
        ([], ("stage.close", {}), "visit"),
        ([("step.answer", {"step": "pad", "stage": "access", "answer": "done"})], ("mark.set", {}), None),
    ],
)
def test_what_was_begun_is_on_the_list_until_it_is_ended(
    begin: list[tuple[str, dict[str, object]]], finish: tuple[str, dict[str, object]], kind: str | None
) -> None:
    driver = crossing()
    for do, fields in begin:
        driver.do(do, **fields)
    before = {item.partition(":")[0] for item in items(driver)}
    driver.do(finish[0], **finish[1])
    after = {item.partition(":")[0] for item in items(driver)}
    if kind is None:
        assert after - before == {"mark"}
    else:
        assert kind in before
        assert kind not in after


def test_a_mark_is_open_until_an_entry_describes_it() -> None:
    driver = Driver()
    driver.do("mark.set")
    mark = driver.case.head_seq
    assert f"mark:{mark}" in items(driver)
    driver.do("note.write", text="pressure fell", claim=Claim(mark=mark))
    assert f"mark:{mark}" not in items(driver)


def test_a_killer_step_of_a_stage_that_was_opened_must_be_answered() -> None:
    driver = Driver()
    assert "step:access.pad" not in items(driver)
    driver.do("stage.open")
    item = items(driver)["step:access.pad"]
    assert (item.killer, item.text) == (True, "no answer: Return pad on (Access)")
    driver.do("step.answer", step="pad", answer="not_done", reason="haemodynamic")
    assert "step:access.pad" not in items(driver)


def test_the_checklists_own_items_stay_until_their_need_is_met() -> None:
    driver = Driver()
    driver.do("stage.open", stage="flow", reason="haemodynamic")
    assert items(driver)["signout:flow_seen"].text == "both ostia looked at"
    for ostium in ("left", "right"):
        driver.do("reading.take", reading="flow", choice="normal", ostium=ostium, judged_by="angio")
    assert "signout:flow_seen" not in items(driver)


def test_an_item_settled_by_a_reason_stays_on_the_list_with_it() -> None:
    driver = Driver()
    driver.do("sample.send", reading="act")
    name = f"sample:{driver.case.head_seq}"
    driver.do("signout.settle", item=name, reason="haemodynamic")
    assert items(driver)[name].settled == "haemodynamic"


def test_a_voided_beginning_is_not_on_the_list() -> None:
    driver = Driver()
    driver.do("sample.send", reading="act")
    driver.do("undo")
    assert not [name for name in items(driver) if name.startswith("sample:")]


def test_an_abandoned_cusp_is_not_asked_for_its_killer_steps() -> None:
    driver = Driver("left", "right")
    checklist = driver.case.checklist
    stages = tuple(
        s.model_copy(
            update={"step": tuple(x.model_copy(update={"killer": True, "owner": "nurse"}) for x in s.step)}
        )
        for s in checklist.stage
    )
    driver = Driver("left", "right", checklist=checklist.model_copy(update={"stage": stages}))
    driver.do("stage.open", stage="position", cusp="left", reason="haemodynamic")
    assert "step:position.view:left" in items(driver)
    driver.do("cusp.abandon", cusp="left", reason="haemodynamic")
    assert "step:position.view:left" not in items(driver)


def test_a_recorder_who_is_not_known_is_asked_for() -> None:
    driver = Driver()
    assert "recorder" not in items(driver)
    driver.do("handover.make", incoming="unknown")
    assert "recorder" in items(driver)
    driver.do("handover.make", incoming="N2")
    assert "recorder" not in items(driver)


def test_the_seal_is_refused_with_every_open_item_and_given_when_all_are_settled() -> None:
    driver = Driver()
    driver.do("stage.open")
    refused = driver.refused("case.seal")
    assert {u.hold for u in refused.unmet} == set(items(driver))
    driver.do("stage.close")
    for name in items(driver):
        driver.do("signout.settle", item=name, reason="haemodynamic")
    driver.do("case.seal")
    assert driver.case.seal is not None


def test_ids_do_not_change_when_something_else_happens() -> None:
    driver = crossing()
    driver.do("sample.send", reading="act")
    driver.do("mark.set")
    before = set(items(driver))
    driver.do("note.write", text="meanwhile")
    driver.do("dose.give", drug="heparin")
    assert set(items(driver)) == before


def test_every_id_fits_the_entry_that_settles_it() -> None:
    driver = crossing()
    stages = tuple(
        s.model_copy(
            update={"id": "a" * 40, "step": tuple(x.model_copy(update={"id": "b" * 40}) for x in s.step)}
        )
        if s.id == "access"
        else s
        for s in driver.case.checklist.stage
    )
    long = Driver(
        "left", checklist=driver.case.checklist.model_copy(update={"stage": stages, "access_stage": "a" * 40})
    )
    long.do("stage.open")
    names = [name for name in items(long) if name.startswith("step:")]
    assert names
    assert all(len(name) <= 80 for name in names)
    long.do("signout.settle", item=names[0], reason="haemodynamic")
    assert items(long)[names[0]].settled == "haemodynamic"


def lines(driver: Driver) -> tuple[str, ...]:
    return open_items(driver.case, driver.stamp())


def test_a_handover_says_where_the_case_is_and_which_call_comes_next() -> None:
    driver = crossing()
    driver.do("energy.on")
    said = lines(driver)
    assert said[0].startswith("now: Cross, left, since ")
    assert "left, attempt 1: energy ON" in said
    assert any(line.startswith("next call: ") for line in said)


def test_a_handover_says_what_is_on_what_is_in_and_what_is_awaited() -> None:
    driver = crossing()
    driver.do("sample.send", reading="act")
    driver.do("run.start", run="pacing")
    driver.do("device.use", device="snare", action="placed")
    driver.do("mark.set")
    said = "\n".join(lines(driver))
    assert "ACT sent" in said
    assert "Pacing ON" in said
    assert "in: snare, left" in said
    assert "is not described" in said
    driver.do("device.use", device="snare", action="removed")
    assert "in: snare" not in "\n".join(lines(driver))


def test_what_belongs_to_stages_still_to_come_is_not_read_back() -> None:
    driver = crossing()
    assert "both ostia looked at" not in lines(driver)
    driver.do("stage.open", stage="flow", reason="haemodynamic")
    assert "both ostia looked at" in lines(driver)


def test_a_handover_fits_one_screen_and_says_how_much_it_leaves_out() -> None:
    driver = crossing()
    for _ in range(40):
        driver.do("mark.set")
    said = lines(driver)
    assert len(said) == MOST
    assert said[-1].startswith("and ")
    assert all(len(line) <= 200 for line in said)


def test_a_killer_step_that_was_settled_is_asked_for_again_in_the_next_visit() -> None:
    driver = Driver("left")
    driver.at(0).do("stage.open")
    killer = next(item.id for item in items(driver).values() if item.killer)
    driver.do("signout.settle", item=killer, reason="seen_otherwise")
    assert items(driver)[killer].settled == "seen_otherwise"
    driver.do("stage.open", stage="cross", cusp="left", reason="haemodynamic")
    assert items(driver)[killer].settled == "seen_otherwise"
    driver.do("stage.open", stage="access", reason="haemodynamic")
    assert items(driver)[killer].settled is None
    driver.do("signout.settle", item=killer, reason="seen_otherwise")
    assert items(driver)[killer].settled == "seen_otherwise"
