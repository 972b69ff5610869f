"""Every shipped checklist is driven to its seal, in every branch: nothing in it is out of reach."""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Iterator, Sequence
from functools import cache
from typing import Any, TypeVar

import pytest

from labcheck.caselog.deciding import Decided
from labcheck.caselog.holds import choices, unmet
from labcheck.caselog.intervals import interval_rows
from labcheck.caselog.signout import signout_items
from labcheck.caselog.watches import running_watches
from labcheck.checklist import finding
from labcheck.checklist.model import Bailout, Checklist, Stage, Step
from labcheck.checklist.unfolding import Slot, steps_for
from tests.caselog.driving import Driver
from tests.checklist.test_shipped import CHECKLISTS

Seen = set[tuple[str, ...]]
T = TypeVar("T")


class Walk:
    """One case from first call to seal, everything answered. ``asked`` turns through options over many cases."""

    def __init__(
        self,
        checklist: Checklist,
        cusps: int,
        substrate: str,
        protected: bool,
        taken: dict[str, str],
        asked: Counter[str],
    ) -> None:
        self.seen: Seen = set()
        self.asked = asked
        self.taken = taken
        targets = checklist.cusps[:cusps]
        plan: dict[str, Any] = {"protection_planned": ("left",)} if protected else {}
        self.driver = Driver(*targets, checklist=checklist, substrate=substrate, **plan)

    def to_the_seal(self) -> Seen:
        self.to_the_last_call()
        self.driver.do("case.seal")
        return self.seen

    def to_the_last_call(self) -> None:
        driver = self.driver
        while True:
            before = len(driver.case.visits)
            result = driver.press("stage.open")
            driver.now_us += 30_000_000
            visit = driver.case.visit
            if visit is None or len(driver.case.visits) == before:
                assert isinstance(result, Decided), result
                break
            stage = finding.stage(driver.checklist, visit.stage)
            assert stage is not None
            self.seen.add(("stage", stage.id))
            self._try(stage)
            self._answer(stage, stage.id)
        left = [item.text for item in signout_items(driver.case, driver.stamp()) if item.settled is None]
        assert left == []

    def _answer(self, holder: Stage | Bailout, stage_id: str) -> None:
        answered: set[str] = set()
        while waiting := [s for s in self._wanted(holder) if s.id not in answered]:
            step = waiting[0]
            answered.add(step.id)
            self.seen.add(("step", stage_id, step.id))
            self._say(step, stage_id)

    def _wanted(self, holder: Stage | Bailout) -> tuple[Step, ...]:
        case = self.driver.case
        assert case.plan is not None
        return steps_for(holder, case.plan, choices(case))

    def _say(self, step: Step, stage_id: str) -> None:
        checklist, driver = self.driver.checklist, self.driver
        in_rescue = {"stage": stage_id} if stage_id.startswith(finding.BAILOUT_PREFIX) else {}
        if step.kind == "done":
            driver.do("step.answer", step=step.id, **in_rescue)
            return
        if step.kind == "decision":
            chosen = self.taken[step.decision or ""]
            reason = {"reason": "operator's call"}
            driver.do("decision.make", decision=step.decision, choice=chosen, **reason)
            self.seen.add(("decision", step.decision or "", chosen))
            return
        if step.kind == "choice":
            value = self._turn(f"{stage_id}.{step.id}", step.options).id
            self.seen.add(("choice", stage_id, step.id, value))
        elif step.kind == "reading":
            value = self._measured(step)
        elif step.kind == "dose":
            drug = finding.drug(checklist, step.drug or "")
            assert drug is not None
            value = f"{drug.usual[0]:f}"
        else:
            value = {
                "time": "09:14", "text": "said", "device": checklist.device[0].id, "projection": "-20 15",
            }[step.kind]  # fmt: skip
        driver.do("step.answer", step=step.id, answer="value", value=value, **in_rescue)

    def _turn(self, name: str, options: Sequence[T]) -> T:
        """The next of some options, each time that they are asked for."""
        self.asked[name] += 1
        return options[self.asked[name] % len(options)]

    def _measured(self, step: Step) -> str:
        reading = finding.reading(self.driver.checklist, step.reading or "")
        assert reading is not None
        if reading.options:
            return self._turn(reading.id, reading.options).id
        # 50 Gy·cm2 over 500 mGy is a field of 100 cm2; a field that cannot be would be asked about.
        return {"act": "300", "air_kerma": "500"}.get(reading.id, "50")

    def _try(self, stage: Stage) -> None:
        """Every outcome that is no success, then one that is."""
        if stage.attempts is None:
            return
        poor = [o.id for o in stage.attempts.outcomes if o.id not in stage.attempts.success]
        good = self._turn(stage.id, stage.attempts.success)
        for outcome in (*poor, good):
            if stage.attempts.energy:
                self.driver.do("energy.on", mode=stage.attempts.energy.mode)
                self.driver.do("energy.off")
            self.driver.do("attempt.close", outcome=outcome)
            self.seen.add(("attempt", stage.id, outcome))


def branches(checklist: Checklist) -> Iterator[Walk]:
    asked: Counter[str] = Counter()
    decided = itertools.product(*([(d.id, option.id) for option in d.options] for d in checklist.decision))
    planned = itertools.product(range(1, checklist.max_cusps + 1), checklist.substrates, (False, True))
    for number, (taken, (cusps, substrate, protected)) in enumerate(itertools.product(decided, planned)):
        if number % 2 == 0 or number < 12:  # half of the branches reach everything
            yield Walk(checklist, cusps, substrate, protected, dict(taken), asked)


@cache
def walked(name: str) -> frozenset[tuple[str, ...]]:
    return frozenset().union(*(walk.to_the_seal() for walk in branches(CHECKLISTS[name])))


@pytest.mark.parametrize("name", CHECKLISTS)
def test_every_stage_step_choice_decision_and_outcome_is_reached_by_some_sealed_case(name: str) -> None:
    checklist = CHECKLISTS[name]
    wanted: Seen = {("stage", one.id) for one in checklist.stage}
    for one in checklist.stage:
        wanted |= {("step", one.id, step.id) for step in one.step}
        wanted |= {("choice", one.id, s.id, o.id) for s in one.step for o in s.options}
        if one.attempts:
            wanted |= {("attempt", one.id, outcome.id) for outcome in one.attempts.outcomes}
    wanted |= {("decision", d.id, option.id) for d in checklist.decision for option in d.options}
    assert wanted - walked(name) == set()


@pytest.mark.parametrize("name", CHECKLISTS)
def test_every_rescue_opens_is_read_through_and_ends_in_every_way(name: str) -> None:
    checklist = CHECKLISTS[name]
    taken = {d.id: d.options[0].id for d in checklist.decision}
    asked: Counter[str] = Counter()
    for card in checklist.bailout:
        for outcome, lead in itertools.product(card.outcomes, card.leads):
            walk = Walk(checklist, checklist.max_cusps, checklist.substrates[0], True, taken, asked)
            driver = walk.driver
            driver.do("stage.open")
            ostium = {"ostium": "left"} if card.per == "ostium" else {}
            driver.do("bailout.open", bailout=card.id, **ostium)
            walk._answer(card, f"{finding.BAILOUT_PREFIX}{card.id}")
            driver.do("bailout.close", outcome=outcome.id, lead=lead)
            if lead == "jump":
                driver.do("stage.open")
                assert driver.case.visit is not None
                assert driver.case.visit.stage == card.jump_to


@pytest.mark.parametrize("name", CHECKLISTS)
def test_every_hold_holds_and_is_passed_with_a_reason(name: str) -> None:
    checklist = CHECKLISTS[name]
    for one in checklist.stage:
        driver = Driver(
            checklist.cusps[0],
            checklist=checklist,
            substrate=checklist.substrates[0],
            protection_planned=("left",),
        )
        cusp = {"cusp": checklist.cusps[0]} if one.per_cusp else {}
        held = {line.hold for line in unmet(driver.case, Slot(one.id, cusp.get("cusp")), driver.stamp())}
        assert held >= {hold.id for hold in one.hold}
        if one.hold:
            assert driver.refused("stage.open", stage=one.id, **cusp).needs == "reason"
            driver.do("stage.open", stage=one.id, reason="no time, patient unstable", **cusp)
            assert {p.what.hold for p in driver.case.holds_passed} == held - {"order"}


@pytest.mark.parametrize("name", ["electrosurgical", "mechanical_splitter"])
def test_one_cusp_given_up_lets_the_other_go_on_to_the_seal(name: str) -> None:
    checklist = CHECKLISTS[name]
    taken = {d.id: d.options[0].id for d in checklist.decision}
    walk = Walk(checklist, 2, "native", False, taken, Counter())
    walk.driver.do("cusp.abandon", cusp="left", reason="anatomy does not allow it")
    walk.to_the_seal()
    assert {a.cusp for a in walk.driver.case.attempts} == {"right"}


@pytest.mark.parametrize("name", CHECKLISTS)
def test_a_complete_case_has_every_interval_and_ends_every_watch(name: str) -> None:
    checklist = CHECKLISTS[name]
    taken = {d.id: d.options[0].id for d in checklist.decision}
    walk = Walk(checklist, checklist.max_cusps, checklist.substrates[0], True, taken, Counter())
    walk.to_the_last_call()
    rows = interval_rows(walk.driver.case, None)
    assert {row.id for row in rows} == {interval.id for interval in checklist.interval}
    assert {row.id: row.state for row in rows} == dict.fromkeys((row.id for row in rows), "done")
    assert all(row.span is not None and row.span.us > 0 for row in rows)
    moment = walk.driver.stamp().moment()
    running = {one.watch.id for one in running_watches(walk.driver.case, moment)}
    assert running == {"act_recheck"}, "only the next ACT is still to come when the patient has left"
