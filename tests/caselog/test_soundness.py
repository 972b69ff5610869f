"""An amendment and a fact after the seal say only what could have been entered."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from labcheck.caselog.events import AttemptClosed, DoseGiven, ReadingTaken, StepAnswered
from labcheck.caselog.folding import refold
from labcheck.caselog.intents import Claim
from tests.caselog.driving import Driver, in_access
from tests.caselog.shipped import shipped

MIN = 60_000_000


def one_of_each() -> tuple[Driver, dict[str, int]]:
    """A shipped case with one entry of each kind that may be amended, and their seqs."""
    driver = Driver("left", checklist=shipped("electrosurgical")).at(1)
    driver.do("stage.open", stage="lacerate", reason="test")
    entries = {
        "dose": driver.do("dose.give", drug="heparin", amount=Decimal(7000)),
        "act": driver.do("reading.take", reading="act", value=Decimal(274)),
        "flow": driver.do("reading.take", reading="flow", choice="normal", ostium="left"),
        "device": driver.do("device.use", device="snare", action="placed"),
        "fault": driver.do("fault.note", fault="generator_alarm"),
        "pad": driver.do("step.answer", stage="briefing", step="pad"),
        "note": driver.do("note.write", text="seen"),
        "burst": driver.do("energy.on"),
    }
    driver.do("energy.off")
    entries["result"] = driver.do("attempt.close", outcome="cut")
    driver.do("bailout.open", bailout="traverse_fail")
    entries["rescue"] = driver.do("bailout.close", outcome="given_up")
    return driver, {name: events[0].seq for name, events in entries.items()}


@pytest.mark.parametrize(
    ("entry", "field", "value", "words"),
    [
        ("result", "outcome", "cutt", "'cutt' is no result of Laceration: use "),
        ("rescue", "outcome", "cut", "'cut' is no outcome of "),
        ("dose", "amount", "-5000", "an amount cannot be below zero"),
        ("dose", "drug", "protamine", "Protamine is recorded in mg, not IU: void the entry and enter the dose anew"),
        ("dose", "drug", "water", "no drug 'water'"),
        ("dose", "unit", "mg", "is recorded in IU, not mg"),
        ("act", "unit", "furlong", "unit 'furlong' is not known here: use "),
        ("act", "value", None, "say the value; where there was none, void the entry"),
        ("act", "choice", "normal", "is a number, not one of a list"),
        ("flow", "choice", None, "say one of normal"),
        ("flow", "choice", "bogus", "'bogus' is none of normal"),
        ("flow", "ostium", None, "say which ostium"),
        ("flow", "judged_by", "smell", "is not judged by 'smell'"),
        ("flow", "judge", "porter", "'porter' is no role here"),
        ("device", "device", "spoon", "no device 'spoon'"),
        ("fault", "fault", "boredom", "no fault 'boredom'"),
        ("pad", "value", "12", "answer done, not done or not applicable"),
        ("pad", "answer", "not_done", "give it its reason first"),
        ("note", "text", " ", "the note is empty"),
    ],
)
def test_what_entering_refuses_an_amendment_is_refused_too(
    entry: str, field: str, value: str | None, words: str
) -> None:
    driver, seqs = one_of_each()
    refused = driver.refused("event.amend", target=seqs[entry], field=field, value=value, reason="wrong_value")
    assert refused.reason.startswith(f"cannot amend #{seqs[entry]}: ")
    assert words in refused.reason


@pytest.mark.parametrize(
    ("entry", "field", "value"),
    [
        ("result", "outcome", "none"),
        ("dose", "amount", "6000"),
        ("dose", "amount", None),
        ("flow", "choice", "complete"),
        ("device", "action", "removed"),
        ("pad", "answer", "not_applicable"),
    ],
)
def test_what_could_have_been_entered_can_be_amended_to(entry: str, field: str, value: str | None) -> None:
    driver, seqs = one_of_each()
    driver.do("event.amend", target=seqs[entry], field=field, value=value, reason="wrong_value")


def test_a_step_that_was_done_after_all_keeps_no_value_and_one_with_a_value_is_no_longer_not_done() -> None:
    driver = in_access()
    skipped = driver.do("step.answer", step="heparin", answer="not_done", reason="call")[0]
    driver.do("event.amend", target=skipped.seq, field="value", value="5000", reason="wrong_key")
    what = driver.case.answers["access", None, "heparin"].what
    assert (what.answer, what.value) == ("value", "5000")
    driver.do("event.amend", target=skipped.seq, field="answer", value="done", reason="wrong_key")
    what = driver.case.answers["access", None, "heparin"].what
    assert (what.answer, what.value, what.unit) == ("done", None, None)


def test_another_field_of_an_entry_that_was_wrong_already_can_still_be_amended() -> None:
    driver = in_access()
    dose = driver.do("dose.give", drug="heparin", amount=Decimal(5000))[0]
    odd = dose.model_copy(update={"what": dose.what.model_copy(update={"amount": Decimal(-5)})})
    driver.case = refold(driver.case, [odd if e.seq == dose.seq else e for e in driver.case.log])
    driver.do("event.amend", target=dose.seq, field="note", value="slowly", reason="x")
    driver.do("event.amend", target=dose.seq, field="amount", value="5000", reason="x")
    assert driver.case.doses[0].what.amount == Decimal(5000)


def sealed() -> Driver:
    driver = Driver("left", checklist=shipped("electrosurgical")).at(1)
    driver.do("stage.open", stage="lacerate", reason="test")
    driver.do("energy.on")
    driver.do("energy.off")
    driver.do("sample.send", reading="act")
    driver.do("reading.take", reading="act", value=Decimal(274))
    for line in driver.refused("case.seal").unmet:
        driver.do("signout.settle", item=line.hold, reason="test")
    driver.do("case.seal")
    return driver


@pytest.mark.parametrize(
    ("fact", "words"),
    [
        (StepAnswered(stage="signout", step="leaves", answer="value", value="alve"), "'alve' is none of "),
        (StepAnswered(stage="position", cusp="right", step="snare", answer="done"), "right is not a planned cusp"),
        (StepAnswered(stage="briefing", cusp="left", step="pad", answer="done"), "leave the cusp out"),
        (StepAnswered(stage="access", step="neuroprotection", answer="value", value="maybe"), "'maybe' is none of "),
        (ReadingTaken(reading="flow", choice="bogus", ostium="left"), "'bogus' is none of normal"),
        (ReadingTaken(reading="kap", value=Decimal(500000), unit="furlong"), "unit 'furlong' is not known here"),
        (ReadingTaken(reading="act", value=Decimal(280), unit="s", sample=7), "leave the sample out"),
        (DoseGiven(drug="heparin", amount=Decimal(-5)), "an amount cannot be below zero"),
        (AttemptClosed(attempt=5, outcome="cutt"), "'cutt' is no result of Laceration"),
    ],
)
def test_a_fact_after_the_seal_is_held_to_what_could_have_been_entered(fact: Any, words: str) -> None:
    driver = sealed()
    if isinstance(fact, AttemptClosed):
        fact = fact.model_copy(update={"attempt": driver.case.attempts[0].seq})
    if isinstance(fact, ReadingTaken) and fact.sample:
        fact = fact.model_copy(update={"sample": driver.case.samples[0].seq})
    refused = driver.refused("addendum.add", fact=fact, reason="told_later", claim=Claim(ago_us=1))
    assert words in refused.reason


def test_a_result_added_after_the_seal_does_not_come_before_its_try() -> None:
    driver = sealed().at(10)
    fact = AttemptClosed(attempt=driver.case.attempts[0].seq, outcome="cut")
    early = Claim(ago_us=30 * MIN, reason="test")
    assert "before attempt 1 began" in driver.refused("addendum.add", fact=fact, reason="x", claim=early).reason
    driver.do("addendum.add", fact=fact, reason="told_later", claim=Claim(ago_us=MIN))
