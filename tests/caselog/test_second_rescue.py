"""Several rescues of one kind in one case: every one has its own card, its own answers and its own end."""

from __future__ import annotations

from decimal import Decimal

from labcheck.caselog.case import Bailout
from labcheck.caselog.intents import Claim
from labcheck.caselog.steps import bailout_lines
from labcheck.caselog.telling import tell
from tests.caselog.driving import Driver, late, opened

CARD = "bailout:coronary"
MIN = 60_000_000


def both_ostia() -> tuple[Driver, int, int]:
    """The rescues of the left and of the right coronary run at once: the case and their entries."""
    driver = opened("left", "right")
    left = driver.do("bailout.open", bailout="coronary", ostium="left")[0].seq
    right = driver.do("bailout.open", bailout="coronary", ostium="right")[0].seq
    return driver, left, right


def one_after_the_other() -> tuple[Driver, int, int]:
    """A rescue from minute 5 to 10 and another of the same kind from minute 20 on."""
    driver = opened()
    first = driver.do("bailout.open", bailout="coronary", ostium="left")[0].seq
    driver.at(6).do("step.answer", stage=CARD, step="wire")
    driver.at(7).do("reading.take", reading="act", value=Decimal(274))
    driver.at(10).do("bailout.close", outcome="stented")
    second = driver.at(20).do("bailout.open", bailout="coronary", ostium="left")[0].seq
    return driver, first, second


def states(driver: Driver, rescue: int) -> dict[str, str]:
    return {line.step.id: line.state for line in bailout_lines(driver.case, rescue)}


def ended(driver: Driver) -> list[str | None]:
    rescues: tuple[Bailout, ...] = driver.case.bailouts
    return [rescue.outcome for rescue in rescues]


# --- the card -----------------------------------------------------------------------------------------------


def test_a_second_rescue_of_a_kind_asks_every_step_anew_and_the_first_keeps_its_answers() -> None:
    driver, first, second = one_after_the_other()
    assert states(driver, first) == {"wire": "done", "act": "value"}
    assert states(driver, second) == {"wire": "open", "act": "open"}
    driver.do("step.answer", stage=CARD, step="wire", answer="not_applicable")
    driver.do("reading.take", reading="act", value=Decimal(301))
    assert states(driver, first) == {"wire": "done", "act": "value"}
    assert states(driver, second) == {"wire": "not_applicable", "act": "value"}
    kept = [(a.what.opened, a.what.step, a.what.value) for a in driver.case.answers.values()]
    assert {(first, "act", "274"), (second, "act", "301")} <= set(kept), "no answer of either is lost"


def test_a_line_of_a_card_carries_its_rescue_and_the_ostium_that_it_is_for() -> None:
    driver, left, right = both_ostia()
    assert {(line.rescue, line.ostium) for line in bailout_lines(driver.case, left)} == {(left, "left")}
    assert {(line.rescue, line.ostium) for line in bailout_lines(driver.case, right)} == {(right, "right")}


def test_a_void_of_an_answer_in_one_rescue_leaves_the_answer_of_the_other() -> None:
    driver, left, right = both_ostia()
    driver.do("step.answer", stage=CARD, step="wire", rescue=left)
    slip = driver.do("step.answer", stage=CARD, step="wire", rescue=right)[0]
    driver.do("event.void", target=slip.seq, reason="slip")
    assert states(driver, left)["wire"] == "done"
    assert states(driver, right)["wire"] == "open"


# --- whose step it is ---------------------------------------------------------------------------------------


def test_a_step_is_answered_in_the_rescue_that_is_named_and_in_no_other() -> None:
    driver, left, right = both_ostia()
    event = driver.do("step.answer", stage=CARD, step="wire", rescue=left)[0]
    assert event.what.opened == left
    assert (states(driver, left)["wire"], states(driver, right)["wire"]) == ("done", "open")


def test_a_rescue_that_is_not_there_or_of_another_kind_is_refused() -> None:
    driver, left, _ = both_ostia()
    refused = driver.refused("step.answer", stage=CARD, step="wire", rescue=1)
    assert "#1 opened no rescue" in refused.reason
    refused = driver.refused("step.answer", stage="bailout:collapse", step="wire", rescue=left)
    assert f"the rescue of #{left} is not collapse" in refused.reason


def test_a_step_that_names_no_rescue_goes_to_the_one_that_runs_and_not_to_a_later_one_that_has_ended() -> None:
    driver, left, right = both_ostia()
    driver.do("bailout.close", rescue=right, outcome="stented")
    assert driver.do("step.answer", stage=CARD, step="wire")[0].what.opened == left


def test_of_two_that_run_the_ostium_or_the_cusp_says_which_and_else_it_is_the_last() -> None:
    driver, left, right = both_ostia()
    assert driver.do("step.answer", stage=CARD, step="wire", ostium="left")[0].what.opened == left
    assert driver.do("step.answer", stage=CARD, step="wire")[0].what.opened == right
    driver.do("bailout.close", rescue=left, outcome="stented")
    driver.do("bailout.close", rescue=right, outcome="stented")
    assert driver.do("step.answer", stage=CARD, step="act", answer="not_applicable")[0].what.opened == right
    one = opened("left", "right")
    one.do("bailout.open", bailout="coronary", ostium="left")
    refused = one.refused("step.answer", stage=CARD, step="wire", ostium="right")
    assert "was not opened there: right" in refused.reason


def test_an_answer_that_says_when_goes_to_the_rescue_that_ran_then() -> None:
    driver, first, second = one_after_the_other()
    driver.at(22)
    assert driver.do("step.answer", stage=CARD, step="wire", claim=late(13))[0].what.opened == first
    assert driver.do("step.answer", stage=CARD, step="wire", claim=late(1))[0].what.opened == second
    between = driver.do("step.answer", stage=CARD, step="wire", claim=late(7))[0]
    assert between.what.opened == second, "none ran then: the one that is running"


def test_a_reading_at_one_ostium_does_not_answer_the_rescue_of_the_other() -> None:
    driver = opened("left", "right")
    card = driver.checklist.bailout[0]
    flow = card.step[1].model_copy(update={"id": "flow", "reading": "flow"})
    checklist = driver.checklist.model_copy(
        update={"bailout": (card.model_copy(update={"step": (flow,)}), *driver.checklist.bailout[1:])}
    )
    driver = Driver("left", "right", checklist=checklist)
    left = driver.do("bailout.open", bailout="coronary", ostium="left")[0].seq
    right = driver.do("bailout.open", bailout="coronary", ostium="right")[0].seq
    driver.do("reading.take", reading="flow", ostium="right", choice="slow")
    assert (states(driver, left), states(driver, right)) == ({"flow": "open"}, {"flow": "value"})


def test_a_reading_taken_again_for_one_rescue_changes_no_answer_of_the_other() -> None:
    driver, left, right = both_ostia()
    driver.do("reading.take", reading="act", value=Decimal(274))
    again = driver.do("reading.take", reading="act", value=Decimal(301), step="act", rescue=left)
    assert [e.what.opened for e in again if e.kind == "step.answered"] == [left]
    words = {line.rescue: line.words for n in (left, right) for line in bailout_lines(driver.case, n)[1:]}
    assert words == {left: "301 s", right: "274 s"}


def test_the_log_says_in_which_of_several_rescues_a_step_was_answered() -> None:
    driver, left, right = both_ostia()
    for rescue, words in ((left, "left coronary"), (right, "right coronary")):
        event = driver.do("step.answer", stage=CARD, step="wire", rescue=rescue)[0]
        assert tell(driver.case, event) == f"Wire in the artery, {words}: done"
    again, _, _ = one_after_the_other()
    event = again.do("step.answer", stage=CARD, step="wire")[0]
    assert tell(again.case, event) == "Wire in the artery, left coronary, rescue 2: done"
    alone = opened()
    alone.do("bailout.open", bailout="coronary", ostium="left")
    event = alone.do("step.answer", stage=CARD, step="wire")[0]
    assert tell(alone.case, event) == "Wire in the artery: done"


# --- its end ------------------------------------------------------------------------------------------------


def test_the_rescue_that_is_named_ends_and_the_other_goes_on() -> None:
    driver, left, right = both_ostia()
    driver.do("bailout.close", rescue=left, outcome="stented")
    assert ended(driver) == ["stented", None]
    refused = driver.refused("bailout.close", rescue=left, outcome="lost")
    assert "Coronary obstruction, left coronary has ended already" in refused.reason
    assert "opened no rescue" in driver.refused("bailout.close", rescue=1, outcome="lost").reason
    assert ended(driver) == ["stented", None], "an end that comes twice ends no other"
    driver.do("bailout.close", rescue=right, outcome="lost")
    assert ended(driver) == ["stented", "lost"]


def test_an_end_may_say_its_ostium_instead() -> None:
    driver, _, _ = both_ostia()
    driver.do("bailout.close", bailout="coronary", ostium="left", outcome="stented")
    assert ended(driver) == ["stented", None]


# --- facts after the seal ------------------------------------------------------------------------------------


def test_a_fact_after_the_seal_that_names_no_rescue_is_given_to_none_where_there_were_several() -> None:
    from labcheck.caselog.events import StepAnswered

    driver, first, second = one_after_the_other()
    driver.do("bailout.close", outcome="stented")
    driver.do("stage.close")
    for item in ("step:access.pad", "signout:flow_seen"):
        driver.press("signout.settle", item=item, reason="test")
    driver.do("case.seal")
    claim = Claim(ago_us=MIN, reason="found")
    for opened_by in (None, second):
        fact = StepAnswered(stage=CARD, step="wire", opened=opened_by, answer="not_applicable")
        driver.do("addendum.add", fact=fact, reason="found", claim=claim)
        told = states(driver, first)["wire"], states(driver, second)["wire"]
        assert told == (("done", "open") if opened_by is None else ("done", "not_applicable"))
    assert len([a for a in driver.case.answers.values() if a.what.step == "wire"]) == 3
