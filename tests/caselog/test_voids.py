"""What goes out with an entry that is voided, and what a restored entry may not stand beside."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from labcheck.caselog.coherence import incoherence
from labcheck.caselog.endpoints import endpoints
from labcheck.caselog.folding import refold
from tests.caselog.driving import Driver, crossing
from tests.caselog.shipped import shipped


def given_up() -> tuple[Driver, dict[str, int]]:
    """A rescue that ended by abandoning the left cusp, and what its end wrote."""
    driver = Driver("left", "right", checklist=shipped("electrosurgical"))
    driver.do("stage.open", stage="traverse", cusp="left", reason="test")
    driver.do("bailout.open", bailout="traverse_fail")
    driver.do("energy.on")
    driver.do("energy.off")
    ended = driver.do("bailout.close", outcome="given_up", lead="abandon_cusp")
    return driver, {e.kind: e.seq for e in ended}


@pytest.mark.parametrize("kind", ["bailout.closed", "cusp.abandoned"])
def test_voiding_the_end_of_a_rescue_brings_back_the_cusp_that_it_abandoned(kind: str) -> None:
    driver, ended = given_up()
    assert list(driver.case.abandoned) == ["left"]
    driver.do("event.void", target=ended[kind], reason="wrong_key")
    assert driver.case.abandoned == {}
    assert (driver.case.bailouts[0].end, driver.case.attempts[0].outcome) == (None, None)
    driver.do("bailout.close", outcome="given_up", lead="carry_on")
    driver.do("attempt.close", outcome="crossed")


def test_voiding_an_abandonment_opens_the_try_that_it_ended_and_leaves_other_results() -> None:
    driver = crossing("left", "right")
    driver.do("attempt.open")
    driver.do("attempt.close", outcome="failed")
    driver.do("attempt.open")
    abandoned = driver.do("cusp.abandon", cusp="left", reason="call")[-1]
    driver.do("event.void", target=abandoned.seq, reason="wrong_key")
    assert [a.outcome for a in driver.case.attempts] == ["failed", None]


def test_voiding_only_the_result_of_an_abandoned_try_leaves_the_cusp_abandoned() -> None:
    driver, ended = given_up()
    driver.do("event.void", target=ended["attempt.closed"], reason="it was across")
    assert list(driver.case.abandoned) == ["left"]
    assert driver.case.attempts[0].outcome is None


def test_a_cusp_that_was_worked_on_is_not_taken_out_of_the_plan_by_a_void() -> None:
    driver = Driver("left", checklist=shipped("electrosurgical"))
    changed = driver.do("order.change", targets=("left", "right"), reason="test")[0]
    called = driver.do("stage.open", stage="lacerate", cusp="right", reason="test")[-1]
    refused = driver.refused("event.void", target=changed.seq, reason="wrong_key")
    assert f"#{called.seq} is on the right cusp, which would not be planned" in refused.reason
    assert f"void or move #{called.seq} first" in refused.reason
    assert "right" in {e.cusp for e in endpoints(driver.case) if e.name == "leaflet_modified"}
    driver.do("event.void", target=called.seq, reason="wrong_key")
    driver.do("event.void", target=changed.seq, reason="wrong_key")
    assert driver.case.order == ("left",)


PAIRS: list[tuple[str, dict[str, Any], str, dict[str, Any], str, dict[str, Any]]] = [
    ("attempt.open", {}, "attempt.close", {"outcome": "crossed"}, "attempt.close", {"outcome": "failed"}),
    ("run.start", {"run": "pacing"}, "run.stop", {"run": "pacing"}, "run.stop", {"run": "pacing"}),
    ("energy.on", {}, "energy.off", {}, "energy.off", {}),
    (
        "bailout.open", {"bailout": "coronary"},
        "bailout.close", {"outcome": "lost"},
        "bailout.close", {"outcome": "stented"},
    ),
    (
        "sample.send", {"reading": "act"},
        "reading.take", {"reading": "act", "value": Decimal(210)},
        "reading.take", {"reading": "act", "value": Decimal(280)},
    ),
]  # fmt: skip


@pytest.mark.parametrize(("begin", "at", "end", "first", "again", "second"), PAIRS)
def test_a_result_is_not_restored_beside_the_one_that_took_its_place(
    begin: str, at: dict[str, Any], end: str, first: dict[str, Any], again: str, second: dict[str, Any]
) -> None:
    driver = crossing()
    begun = driver.do(begin, **at)[-1].seq
    ended = driver.do(end, **first)[0].seq
    void = driver.do("event.void", target=ended, reason="slip")[-1].seq
    anew = driver.do(again, **second)[0].seq
    refused = driver.refused("event.void", target=void, reason="it was right")
    assert f"#{ended} and #{anew} would both be the end or result of #{begun}: void #{anew} first" in refused.reason
    driver.do("event.void", target=anew, reason="slip")
    driver.do("event.void", target=void, reason="it was right")
    assert driver.case.counts(ended)


def test_a_fault_that_an_old_log_holds_does_not_lock_it_against_other_corrections() -> None:
    driver = crossing()
    driver.do("attempt.open")
    first = driver.do("attempt.close", outcome="crossed")[0]
    void = driver.do("event.void", target=first.seq, reason="slip")[0]
    second = driver.do("attempt.close", outcome="failed")[0]
    note = driver.do("note.write", text="x")[0]
    restored = driver.do("event.void", target=note.seq, reason="slip")[0]
    twice = restored.model_copy(update={"what": restored.what.model_copy(update={"target": void.seq})})
    driver.case = refold(driver.case, [*driver.case.log[:-1], twice])
    assert incoherence(driver.case) is not None
    driver.do("event.amend", target=note.seq, field="text", value="y", reason="slip")
    driver.do("event.void", target=second.seq, reason="two results")
    assert incoherence(driver.case) is None
    assert driver.case.attempts[0].outcome == "crossed"
