"""A checklist unfolded in plain lines for the person who writes it."""

from __future__ import annotations

from labcheck.checklist.explaining import example_plan, explain
from labcheck.checklist.plan import Plan
from labcheck.checklist.reading import read_checklist
from tests.checklist.sound import NAME, broken, sound


def test_the_example_plan_takes_as_many_cusps_as_the_checklist_can() -> None:
    assert example_plan(sound()).targets == ("left", "right")
    assert example_plan(sound(), 1).targets == ("left",)
    assert example_plan(sound(), 9).targets == ("left", "right")


def test_stages_come_in_their_order_with_the_call_and_the_cusp() -> None:
    heads = [line for line in explain(sound(), example_plan(sound())) if "Opens at" in line]
    assert [head.split(". ")[1].strip() for head in heads] == [
        'Opens at "Sheath in"',
        'Opens at "Filters" (optional)',
        'Opens at "Guide in, left"',
        'Opens at "In position, left" (quiet)',
        'Opens at "Guide in, right"',
        'Opens at "In position, right" (quiet)',
        'Opens at "Valve going"',
    ]


def test_only_what_the_plan_asks_for_is_shown() -> None:
    surgical = Plan(technique="sound", substrate="surgical", targets=("left",))
    assert any("Old frame" in line for line in explain(sound(), surgical))
    assert not any("Old frame" in line for line in explain(sound(), example_plan(sound())))


def test_decisions_sources_killers_and_rescues_are_told() -> None:
    text = "\n".join(explain(sound(), example_plan(sound())))
    assert 'skipped when filters is "declined"' in text
    assert "Open (if filters is used)" in text
    assert "needs   ACT  <- Common practice (common practice)" in text
    assert "KILLER  Pad on [nurse]" in text
    assert "Filters: used / declined" in text
    assert "COLLAPSE: Collapse; may end in: carry on, go to deploy" in text
    assert "Verify locally." in text


def test_a_step_that_waits_for_any_answer_says_so() -> None:
    text = broken('when = { decision = "filters", is = ["used"] }', 'when = { decision = "filters" }')
    checklist = read_checklist(text, NAME)
    assert any("Open (once filters is made)" in line for line in explain(checklist, example_plan(checklist)))
