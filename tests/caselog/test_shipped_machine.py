"""Random presses with the words of the shipped checklists, against the rules of the small one's machine.

Beside senseless presses, stages are worked through and rescues run, so that cases get as far as the seal.
"""

from __future__ import annotations

import os
from functools import cache
from typing import Any

from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import initialize, invariant, rule

from labcheck.caselog.deciding import HANDLERS, Decided, Refused, decide
from labcheck.caselog.endpoints import endpoints
from labcheck.caselog.figures import big_watch
from labcheck.caselog.folding import fold_all
from labcheck.caselog.holds import choices
from labcheck.caselog.intents import Intent
from labcheck.caselog.progress import call_words
from labcheck.caselog.prompts import likely_missing
from labcheck.caselog.signout import signout_items
from labcheck.caselog.steps import bailout_lines, step_lines
from labcheck.checklist import finding
from labcheck.checklist.unfolding import Slot, steps_for
from tests.caselog.driving import Driver
from tests.caselog.shipped_vocabulary import Fields, good_answer, vocabulary
from tests.caselog.test_machine import CLAIM, SOON, Presses
from tests.checklist.test_shipped import CHECKLISTS

KINDS = sorted(set(HANDLERS) - {"case.open"})


@cache
def words_of(name: str) -> dict[str, Fields]:
    return vocabulary(CHECKLISTS[name])


def test_the_vocabulary_has_every_kind_of_intent() -> None:
    for name in CHECKLISTS:
        assert sorted(words_of(name)) == KINDS


class ShippedPresses(Presses):
    """One case with a shipped checklist under random presses."""

    @initialize(data=st.data(), name=st.sampled_from(sorted(CHECKLISTS)), protected=st.booleans())
    def open_case(self, data: st.DataObject, name: str, protected: bool) -> None:
        self.checklist = CHECKLISTS[name]
        many = data.draw(st.integers(min_value=1, max_value=self.checklist.max_cusps))
        targets = data.draw(st.permutations(self.checklist.cusps))[:many]
        substrate = data.draw(st.sampled_from(self.checklist.substrates))
        plan: dict[str, Any] = {"protection_planned": ("left",)} if protected else {}
        self.driver = Driver(*targets, checklist=self.checklist, substrate=substrate, **plan)
        self.prefix = self.driver.case.log
        for _ in range(data.draw(st.integers(min_value=0, max_value=len(self.driver.case.slots)))):
            self.the_case_goes_on(None)
            self.the_stage_is_worked_through(data, 12)
            self.an_attempt_is_made(data)

    @rule(stage=st.none())
    def the_case_goes_on(self, stage: str | None) -> None:
        """The next call, whatever is missing before it."""
        self.driver.now_us += 2_000_000
        self.driver.press("stage.open", stage=stage, reason="operator_call")

    @rule(data=st.data(), most=st.sampled_from([1, 3, 12]))
    def the_stage_is_worked_through(self, data: st.DataObject, most: int) -> None:
        """The open steps of the present stage, in order, as they ask."""
        visit = self.driver.case.visit
        if visit is None:
            return
        lines = step_lines(self.driver.case, Slot(visit.stage, visit.cusp))
        for line in [line for line in lines if line.state == "open"][:most]:
            self.driver.now_us += 5_000_000
            self.driver.press("step.answer", **good_answer(self.checklist, line.step, data.draw))

    @rule(data=st.data())
    def an_attempt_is_made(self, data: st.DataObject) -> None:
        """A try in the present stage, with energy where it uses any."""
        visit = self.driver.case.visit
        stage = finding.stage(self.checklist, visit.stage) if visit else None
        if stage is None or stage.attempts is None:
            return
        outcomes = [o.id for o in stage.attempts.outcomes] + list(stage.attempts.success) * 6
        outcome = data.draw(st.sampled_from(outcomes))
        for do in ("energy.on", "energy.off") if stage.attempts.energy else ("attempt.open",):
            self.driver.press(do)
        self.driver.press("attempt.close", outcome=outcome)

    @rule(data=st.data())
    def a_rescue_runs(self, data: st.DataObject) -> None:
        """A card is opened, read through in part, and ends in one of its ways or stays open."""
        card = data.draw(st.sampled_from(self.checklist.bailout))
        place: dict[str, Any] = {}
        if card.per is not None:
            options = self.driver.case.order if card.per == "cusp" else ("left", "right")
            place = {card.per: data.draw(st.sampled_from(options))}
        self.driver.press("bailout.open", bailout=card.id, **place)
        assert self.driver.case.plan is not None
        wanted = steps_for(card, self.driver.case.plan, choices(self.driver.case))
        for step in wanted[: data.draw(st.integers(min_value=0, max_value=len(wanted)))]:
            fields = good_answer(self.checklist, step, data.draw)
            stage = f"{finding.BAILOUT_PREFIX}{card.id}"
            self.driver.press("step.answer", stage=stage, cusp=place.get("cusp"), **fields)
        if data.draw(st.booleans()):
            outcome = data.draw(st.sampled_from([option.id for option in card.outcomes]))
            lead = data.draw(st.sampled_from(card.leads))
            self.driver.press("bailout.close", bailout=card.id, outcome=outcome, lead=lead)

    @rule(chance=st.integers(min_value=0, max_value=5))
    def everything_is_settled(self, chance: int) -> None:
        """Whatever the sign-out still asks for gets a reason; then the case can be sealed."""
        driver = self.driver
        if driver.case.seal is not None or chance:
            return
        for _ in range(3):  # what is settled can bring up what hung on it
            for item in signout_items(driver.case, driver.stamp()):
                if item.settled is None:
                    driver.press("signout.settle", item=item.id, reason="operator_call")
        left = [item.text for item in signout_items(driver.case, driver.stamp()) if item.settled is None]
        result = driver.press("case.seal")
        assert isinstance(result, Decided) == (not left), (left, result)

    @rule(
        data=st.data(),
        do=st.sampled_from([*KINDS, *["stage.open"] * 3, *["undo", "step.answer", "reading.take"] * 2]),
    )
    def somebody_presses(self, data: st.DataObject, do: str) -> None:
        fields = {
            name: data.draw(strategy, label=name)
            for name, strategy in words_of(self.checklist.id)[do].items()
        }
        fields["claim"] = data.draw(SOON | CLAIM if data.draw(st.booleans()) else st.none(), label="claim")
        self.decided(self.driver.intent(do, **fields), do)

    def decided(self, intent: Intent, do: str) -> None:
        before = self.driver.case
        result = decide(before, intent, self.driver.stamp())
        assert self.driver.case is before
        if isinstance(result, Refused):
            assert result.reason
            assert "\n" not in result.reason
            return
        assert [e.seq for e in result.events] == list(
            range(before.head_seq + 1, before.head_seq + 1 + len(result.events))
        )
        self.driver.case = fold_all(before, result.events)
        if do not in ("undo", "event.void", "event.amend", "cusp.move", "case.seal") and before.seal is None:
            self.undo_restores(before, result)

    @invariant()
    def more_views_have_something_to_show(self) -> None:
        case, now = self.driver.case, self.driver.stamp()
        for rescue in case.bailouts:
            assert bailout_lines(case, rescue.seq)
        for slot in case.slots:
            assert call_words(case, slot)
            step_lines(case, slot)
        big_watch(case, now)
        likely_missing(case, now)
        assert endpoints(case)


ShippedPresses.TestCase.settings = settings(
    max_examples=int(os.environ.get("LABCHECK_MACHINE_EXAMPLES", "8")),
    stateful_step_count=40,
    deadline=None,
    suppress_health_check=list(HealthCheck),
    # Shrinking a long history takes minutes; the failing one is printed as it is.
    phases=[Phase.explicit, Phase.reuse, Phase.generate],
)
TestShippedPresses = ShippedPresses.TestCase
