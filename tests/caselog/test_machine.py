"""Random presses against the rules that must hold after every one of them.

A Hypothesis state machine plays intents of every kind, sensible and senseless, late and live, on one and two
cusps, with clock steps and restarts, through ``decide`` and ``fold``.
"""

from __future__ import annotations

import os
from collections import Counter
from dataclasses import replace
from decimal import Decimal
from typing import Any

from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule

from labcheck.caselog.case import Case
from labcheck.caselog.coherence import incoherence
from labcheck.caselog.deciding import HANDLERS, Decided, Refused, decide
from labcheck.caselog.deciding.together import FIXED, record_of, still_answers
from labcheck.caselog.deviations import deviations
from labcheck.caselog.events import (
    ClockNoticed,
    DoseGiven,
    NoteWritten,
    ReadingTaken,
    StepAnswered,
    from_json,
)
from labcheck.caselog.figures import figures
from labcheck.caselog.folding import begin, effective_payload, fold, fold_all, refold
from labcheck.caselog.handover import open_items
from labcheck.caselog.intents import INTENT_MODELS, Claim
from labcheck.caselog.intervals import interval_table
from labcheck.caselog.progress import next_slot, next_words, slot_state
from labcheck.caselog.prompts import prompt
from labcheck.caselog.signout import signout_items
from labcheck.caselog.steps import step_lines
from labcheck.caselog.telling import tell
from labcheck.caselog.trace import trace
from tests.caselog.driving import Driver

STAGES = ["access", "filters", "position", "cross", "ready", "split", "deploy", "flow", "nowhere"]
CUSPS = ["left", "right", "noncoronary"]
TEXT = st.text(max_size=20) | st.sampled_from(["[/]", "=1+1", "busy", "\x1b[2J"])
REASON = st.none() | st.sampled_from(["haemodynamics", "busy", "call"])
NUMBER = st.sampled_from(
    [Decimal(x) for x in ("-1", "0", "21", "210", "274", "300", "302.5", "2000", "99999")]
)
SEQ = st.integers(min_value=1, max_value=60)
SELDOM = st.one_of(st.none(), st.none(), st.none(), SEQ)
CLAIM = st.none() | st.builds(
    Claim,
    ago_us=st.none() | st.integers(min_value=0, max_value=20 * 60_000_000),
    wall_us=st.none() | st.integers(min_value=0, max_value=2**53 - 1),
    mark=st.none() | SEQ,
    reason=REASON,
    transcribed=st.booleans(),
)
SOON = st.none() | st.builds(Claim, ago_us=st.integers(min_value=0, max_value=5 * 60_000_000), reason=REASON)

FIELDS: dict[str, dict[str, st.SearchStrategy[Any]]] = {
    "stage.open": {
        "stage": st.none() | st.sampled_from(STAGES), "cusp": st.none() | st.sampled_from(CUSPS), "reason": REASON,
    },
    "stage.close": {},
    "stage.skip": {
        "stage": st.sampled_from(STAGES), "cusp": st.none() | st.sampled_from(CUSPS), "reason": st.just("call"),
    },
    "step.answer": {
        "step": st.sampled_from(["act", "pad", "heparin", "ask", "view", "loaded", "left_flow", "wire", "none"]),
        "stage": st.none() | st.sampled_from([*STAGES, *["bailout:coronary"] * 3, "bailout:none"]),
        "cusp": st.none() | st.sampled_from(CUSPS),
        "rescue": SELDOM,
        "ostium": st.none() | st.sampled_from(["left", "right"]),
        "answer": st.sampled_from(["done", "not_done", "not_applicable", "value"]),
        "value": st.none() | st.sampled_from(["274", "21", "1e5", "normal", "used", "declined", "-20 15", "x"]),
        "reason": REASON,
        "accept": st.booleans(),
    },
    "decision.make": {
        "decision": st.sampled_from(["protect", "none"]),
        "choice": st.sampled_from(["used", "declined", "none"]),
        "reason": REASON,
    },
    "attempt.open": {},
    "attempt.close": {
        "outcome": st.sampled_from(["crossed", "failed", "fault", "cut", "none", "abandoned"]),
        "stage": st.none() | st.sampled_from(["cross", "split", "access"]),
        "cusp": st.none() | st.sampled_from(CUSPS),
        "attempt": SELDOM,
    },
    "energy.on": {"watts": st.none() | st.integers(min_value=0, max_value=100)},
    "energy.off": {},
    "run.start": {"run": st.sampled_from(["cpr", "pacing", "none"]), "rate": st.none() | NUMBER},
    "run.stop": {"run": st.sampled_from(["cpr", "pacing", "none"])},
    "sample.send": {"reading": st.sampled_from(["act", "kap", "none"])},
    "reading.take": {
        "reading": st.sampled_from(["act", "kap", "flow", "none"]),
        "value": st.none() | NUMBER,
        "unit": st.none() | st.sampled_from(["s", "Gy·cm2", "uGy·m2", "furlong"]),
        "choice": st.none() | st.sampled_from(["normal", "slow", "odd"]),
        "ostium": st.none() | st.sampled_from(["left", "right"]),
        "reset": st.booleans(),
        "accept": st.booleans(),
    },
    "dose.give": {"drug": st.sampled_from(["heparin", "none"]), "amount": st.none() | NUMBER, "accept": st.booleans()},
    "device.use": {"device": st.sampled_from(["snare", "none"]), "action": st.sampled_from(["placed", "failed"])},
    "fault.note": {"fault": st.sampled_from(["generator", "none"])},
    "note.write": {"text": TEXT},
    "mark.set": {},
    "bailout.open": {
        "bailout": st.sampled_from(["coronary", "collapse", "none"]),
        "cusp": st.none() | st.sampled_from(CUSPS),
        "ostium": st.none() | st.sampled_from(["left", "right"]),
    },
    "bailout.close": {
        "bailout": st.none() | st.sampled_from(["coronary", "collapse"]),
        "rescue": SELDOM,
        "ostium": st.none() | st.sampled_from(["left", "right"]),
        "outcome": st.sampled_from(["stented", "steady", "not"]),
        "lead": st.sampled_from(["carry_on", "abandon_cusp", "jump", "convert"]),
    },
    "cusp.abandon": {"cusp": st.sampled_from(CUSPS), "reason": st.just("call")},
    "order.change": {
        "targets": st.lists(st.sampled_from(CUSPS), max_size=3).map(tuple),
        "reason": REASON,
    },
    "cusp.move": {"cusp": st.sampled_from(CUSPS), "target": st.none() | SEQ},
    "prompt.silence": {"prompt": st.sampled_from(["silent", "act_recheck"])},
    "handover.make": {"incoming": st.sampled_from(["N1", "N2"])},
    "clock.compare": {"reading_us": st.integers(min_value=0, max_value=2**53 - 1)},
    "clock.notice": {"found": st.just(ClockNoticed(notice="step", amount_us=-3_600_000_000, basis="wall"))},
    "event.void": {"target": SEQ, "reason": st.just("slip")},
    "event.amend": {
        "target": SEQ,
        "field": st.sampled_from(
            ["value", "amount", "text", "outcome", "happened", "cusp", "watts", "choice", "ostium", "unit", "answer"]
        ),
        "value": st.none()
        | st.sampled_from(["247", "x", "1930000060000000", "1930000000000000", "crossed", "slow", "left", "done"]),
        "reason": st.just("misheard"),
    },
    "signout.settle": {"item": st.sampled_from(["flow_seen", "nothing"]), "reason": st.just("call")},
    "case.seal": {},
    "seal.attest": {"head": st.just("ABCD")},
    "addendum.add": {
        "fact": st.sampled_from(
            [
                ReadingTaken(reading="act", value=Decimal(302), unit="s"),
                ReadingTaken(reading="none", value=Decimal(1)),
                DoseGiven(drug="heparin"),
                NoteWritten(text="x"),
            ]
        ),
        "reason": st.just("lab called"),
    },
    "lease.take": {"console": st.just("other"), "reason": st.just("first died")},
    "undo": {},
}  # fmt: skip


def test_the_machine_plays_every_kind_of_intent() -> None:
    assert {"case.open", *FIELDS} == set(HANDLERS) == set(INTENT_MODELS)


def meaning(case: Case) -> Case:
    """What still counts, without the log and its account of corrections."""
    return replace(case, log=(), voided={}, amended={}, epoch=1)


class Presses(RuleBasedStateMachine):
    """One case under random presses."""

    @initialize(cusps=st.lists(st.sampled_from(CUSPS), min_size=1, max_size=2, unique=True))
    def open_case(self, cusps: list[str]) -> None:
        self.driver = Driver(*cusps)
        self.prefix = self.driver.case.log

    @rule(seconds=st.sampled_from([0, 1, 7, 60, 900, 3600]))
    def time_passes(self, seconds: int) -> None:
        self.driver.now_us += seconds * 1_000_000

    @rule(shift=st.sampled_from([-3_600_000_000, 0, 7_200_000_000]))
    def the_wall_clock_steps(self, shift: int) -> None:
        self.driver.wall_shift_us = shift

    @rule()
    def the_console_restarts(self) -> None:
        self.driver.boot_id = "boot-" + str(self.driver.now_us)

    @rule(stage=st.sampled_from([None, "cross", "split"]))
    def the_case_goes_on(self, stage: str | None) -> None:
        """The next call, or one for a stage with attempts, whatever is missing before it."""
        self.driver.now_us += 2_000_000
        self.driver.press("stage.open", stage=stage, reason="call")

    @rule(outcome=st.sampled_from(["crossed", "failed", "cut", "none"]))
    def an_attempt_is_made(self, outcome: str) -> None:
        for do, fields in (("energy.on", {}), ("energy.off", {}), ("attempt.close", {"outcome": outcome})):
            self.driver.press(do, **fields)

    @rule(ostium=st.sampled_from(["left", "right"]), ends=st.booleans())
    def a_rescue_is_worked_on(self, ostium: str, ends: bool) -> None:
        self.driver.press("bailout.open", bailout="coronary", ostium=ostium)
        self.driver.press("step.answer", stage="bailout:coronary", step="wire", ostium=ostium)
        if ends:
            self.driver.press("bailout.close", bailout="coronary", outcome="stented")

    @rule(
        data=st.data(),
        do=st.sampled_from([*FIELDS, *["stage.open"] * 6, *["undo", "energy.on", "energy.off"] * 2]),
    )
    def somebody_presses(self, data: st.DataObject, do: str) -> None:
        fields = {name: data.draw(strategy, label=name) for name, strategy in FIELDS[do].items()}
        fields["claim"] = data.draw(SOON | CLAIM if data.draw(st.booleans()) else st.none(), label="claim")
        before = self.driver.case
        intent = self.driver.intent(do, **fields)
        result = decide(before, intent, self.driver.stamp())
        assert self.driver.case is before
        if isinstance(result, Refused):
            assert result.reason
            assert "\n" not in result.reason
            return
        assert isinstance(result, Decided)
        assert [e.seq for e in result.events] == list(
            range(before.head_seq + 1, before.head_seq + 1 + len(result.events))
        )
        self.driver.case = fold_all(before, result.events)
        if do not in ("undo", "event.void", "event.amend", "cusp.move", "case.seal") and before.seal is None:
            self.undo_restores(before, result)

    def undo_restores(self, before: Case, result: Decided) -> None:
        """Undo right after any press gives back exactly what was there."""
        if any(e.kind in FIXED for e in result.events):
            return
        undone = decide(self.driver.case, INTENT_MODELS["undo"](press="f" * 32), self.driver.stamp())
        assert isinstance(undone, Decided), undone
        assert meaning(fold_all(self.driver.case, undone.events)) == meaning(before)

    @invariant()
    def nothing_is_ever_removed_or_changed(self) -> None:
        log = self.driver.case.log
        assert log[: len(self.prefix)] == self.prefix
        assert [e.seq for e in log] == list(range(1, len(log) + 1))
        assert len({e.id for e in log}) == len(log)
        self.prefix = log

    @invariant()
    def the_stored_events_fold_to_the_live_case(self) -> None:
        case = self.driver.case
        stored = [from_json(e.model_dump_json(by_alias=True)) for e in case.log]
        assert tuple(stored) == case.log
        assert refold(case, stored) == case
        one_by_one = begin(case.key, case.checklist)
        for event in stored:
            one_by_one = fold(one_by_one, event)
        assert one_by_one == case

    @invariant()
    def the_case_makes_sense(self) -> None:
        case = self.driver.case
        assert incoherence(case) is None
        starts = Counter(v.seq for v in case.visits)
        assert all(count == 1 for count in starts.values())
        ends = Counter(v.end_seq for v in case.visits if v.end_seq is not None)
        assert all(count == 1 for count in ends.values())
        assert all(b.cusp for a in case.attempts for b in a.bursts)
        assert all(b.cusp == a.cusp for a in case.attempts for b in a.bursts)

    @invariant()
    def no_answer_is_lost(self) -> None:
        """The last answer to a step stands for each stage and cusp, and for each rescue, whatever came after it."""
        case, last = self.driver.case, {}
        for event in case.log:
            stands = effective_payload(case, event.seq) if case.counts(event.seq) else None
            if stands is not None and isinstance(stands[0], StepAnswered):
                what = stands[0]
                whose = what.opened if what.stage.startswith("bailout:") else what.cusp
                last[what.stage, what.step, whose] = event.seq
        assert sorted(last.values()) == sorted(answer.seq for answer in case.answers.values())

    @invariant()
    def an_answer_says_what_the_reading_or_dose_behind_it_says(self) -> None:
        case = self.driver.case
        for answer in case.answers.values():
            event = case.event(answer.seq)
            record = record_of(case, event) if event is not None else None
            now = effective_payload(case, record.seq) if record is not None else None
            if now is None or answer.what.answer == "done":
                continue
            what, at = now
            told = (getattr(what, field, None) for field in ("choice", "amount", "value"))
            said = next((one for one in told if one is not None), None)
            assert answer.what.value == (f"{said:f}" if isinstance(said, Decimal) else said)
            assert answer.at == at
            assert still_answers(case, answer.what, what)

    @invariant()
    def every_view_has_something_to_show(self) -> None:
        case, now = self.driver.case, self.driver.stamp()
        next_words(case)
        slot = next_slot(case)
        if slot is not None:
            step_lines(case, slot)
        for place in case.slots:
            assert slot_state(case, place)
        for view in (figures, trace, signout_items, open_items, prompt, interval_table):
            view(case, now)
        deviations(case)
        assert all(tell(case, event) for event in case.log[-5:])


Presses.TestCase.settings = settings(
    max_examples=int(os.environ.get("LABCHECK_MACHINE_EXAMPLES", "60")),
    stateful_step_count=40,
    deadline=None,
    suppress_health_check=list(HealthCheck),
    # Shrinking a long history takes minutes; the failing one is printed as it is.
    phases=[Phase.explicit, Phase.reuse, Phase.generate],
)
TestPresses = Presses.TestCase
