"""Sign-out, handover and the seal; what may still be said after it."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from labcheck.caselog.events import (
    AttemptClosed,
    DoseGiven,
    FaultNoted,
    NoteWritten,
    ReadingTaken,
    StepAnswered,
)
from labcheck.caselog.intents import Claim
from tests.caselog.driving import Driver, crossing, in_access

MIN = 60_000_000


def sealed() -> Driver:
    driver = crossing()
    driver.do("attempt.open")
    for line in driver.refused("case.seal").unmet:
        driver.do("signout.settle", item=line.hold, reason="test")
    driver.do("case.seal")
    return driver.at(60)


def test_a_prompt_is_silenced_and_an_item_settled_once() -> None:
    driver = in_access()
    driver.do("prompt.silence", prompt="silent")
    assert "silent is silent already" in driver.refused("prompt.silence", prompt="silent").reason
    assert "'run:9' is not open" in driver.refused("signout.settle", item="run:9", reason="x").reason
    driver.do("signout.settle", item="signout:flow_seen", reason="not seen")
    refused = driver.refused("signout.settle", item="signout:flow_seen", reason="x")
    assert "settled already: both ostia looked at" in refused.reason


def test_the_recorder_who_takes_over_is_another_one() -> None:
    driver = in_access()
    assert "N1 is the recorder already" in driver.refused("handover.make", incoming="N1").reason
    assert driver.do("handover.make", incoming="N2")[0].what.outgoing == "N1"


def test_the_seal_says_how_many_entries_it_closes_and_a_refusal_how_many_more_are_open() -> None:
    driver = Driver()
    assert driver.refused("case.seal").reason == "still open: both ostia looked at: do it, or settle it with a reason"
    driver.do("run.start", run="cpr")
    assert "(and 1 more)" in driver.refused("case.seal").reason
    driver = sealed()
    assert driver.case.seal is not None
    assert driver.case.seal.entries == driver.case.seal.seq - 1
    assert "sealed" in driver.refused("case.seal").reason


def test_late_facts_and_the_read_back_head_wait_for_the_seal() -> None:
    driver = in_access()
    fact = NoteWritten(text="x")
    assert "not sealed" in driver.refused("addendum.add", fact=fact, reason="x", claim=Claim(ago_us=MIN)).reason
    assert "not sealed" in driver.refused("seal.attest", head="0" * 64).reason
    done = sealed()
    done.do("seal.attest", head="0" * 64)
    done.do("lease.take", console="desk 2", reason="next day")
    assert done.case.seal is not None


@pytest.mark.parametrize(
    ("fact", "words"),
    [
        (ReadingTaken(reading="inr", value=Decimal(2)), "this checklist has no reading 'inr'"),
        (DoseGiven(drug="saline"), "this checklist has no drug 'saline'"),
        (StepAnswered(stage="access", step="none", answer="done"), "access has no step 'none'"),
        (StepAnswered(stage="access", step="pad", opened=99, answer="done"), "there is no entry #99"),
        (AttemptClosed(attempt=2, outcome="failed"), "#2 is no attempt"),
    ],
)
def test_a_late_fact_names_only_what_this_case_has(fact: Any, words: str) -> None:
    driver = sealed()
    refused = driver.refused("addendum.add", fact=fact, reason="x", claim=Claim(ago_us=MIN))
    assert words in refused.reason


def test_a_result_that_became_known_after_the_seal_ends_the_try_that_had_none() -> None:
    driver = sealed()
    fact = AttemptClosed(attempt=driver.case.attempts[0].seq, outcome="crossed")
    event = driver.do("addendum.add", fact=fact, reason="seen on the film", claim=Claim(ago_us=MIN))[0]
    assert (driver.case.attempts[0].outcome, driver.case.attempts[0].end) == ("crossed", event.happened)
    refused = driver.refused("addendum.add", fact=fact, reason="x", claim=Claim(ago_us=MIN))
    assert f"attempt 1 has its result already: void #{event.seq} first" in refused.reason


def test_a_late_fact_leans_on_no_entry_that_was_voided() -> None:
    driver = sealed()
    attempt = driver.case.attempts[0].seq
    driver.do("event.void", target=attempt, reason="never tried")
    fact = FaultNoted(fault="generator", attempt=attempt, cusp="left")
    refused = driver.refused("addendum.add", fact=fact, reason="x", claim=Claim(ago_us=MIN))
    assert f"there is no entry #{attempt} that counts" in refused.reason
    opening = StepAnswered(stage="access", step="pad", opened=1, answer="done")
    driver.do("addendum.add", fact=opening, reason="seen on the film", claim=Claim(ago_us=MIN))


def test_a_voided_entry_counts_no_more_and_the_first_entry_is_the_first_that_does() -> None:
    driver = in_access()
    driver.do("reading.take", reading="act", value=Decimal(200))
    wrong = driver.do("reading.take", reading="act", value=Decimal(300))[0]
    driver.do("event.void", target=wrong.seq, reason="another patient's")
    assert [r.what.value for r in driver.case.readings] == [Decimal(200)]
    assert not driver.case.counts(wrong.seq)
    assert driver.case.counts(1)
    assert not driver.case.counts(0)
