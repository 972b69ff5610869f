"""A checklist that refers to something it does not have is refused; a doubtful one is warned about."""

from __future__ import annotations

import pytest

from labcheck.checklist.checking import complaints, most_steps, warnings
from labcheck.checklist.finding import stage
from labcheck.checklist.reading import read_checklist
from tests.checklist.faulty import DANGLING, UNSOURCED, WRONG
from tests.checklist.sound import NAME, SOUND, broken, complaint_lines, only_complaint, sound


@pytest.mark.parametrize(("old", "new", "said", "right"), DANGLING)
def test_a_name_that_leads_nowhere_is_told_with_the_nearest_one(
    old: str, new: str, said: str, right: str
) -> None:
    line = only_complaint(broken(old, new))
    assert line.startswith(f"{NAME}: ")
    assert said in line
    assert line.endswith(f'; the nearest right spelling is "{right}"')


@pytest.mark.parametrize(("old", "new", "said"), WRONG)
def test_a_part_that_contradicts_itself_is_refused(old: str, new: str, said: str) -> None:
    assert said in "\n".join(complaint_lines(broken(old, new)))


def test_a_lane_may_not_be_interrupted() -> None:
    between = """
[[stage]]
id = "between"
title = "Between"
big = "BETWEEN"
call = "Between"
per_cusp = true

[[stage]]
id = "traverse"
"""
    line = only_complaint(broken('\n[[stage]]\nid = "traverse"\n', between))
    assert 'stage traverse, key lane: lane "prepare" is interrupted' in line


def test_a_sound_checklist_has_neither_complaints_nor_warnings() -> None:
    assert complaints(sound()) == ()
    assert warnings(sound()) == ()


def warning_lines(text: str) -> list[str]:
    return [str(warning) for warning in warnings(read_checklist(text, NAME), NAME)]


@pytest.mark.parametrize(
    ("old", "new", "place"),
    UNSOURCED,
)
def test_a_clinical_number_without_a_source_is_warned_about(old: str, new: str, place: str) -> None:
    assert warning_lines(broken(old, new)) == [
        f"{NAME}: {place}, key source: a clinical number without a source"
    ]


def test_a_source_that_nothing_names_is_warned_about() -> None:
    text = SOUND + '\n[[source]]\nid = "spare"\ntext = "Spare"\nmark = "memory"\n'
    assert warning_lines(text) == [f"{NAME}: source spare: nothing in this checklist names it"]


def test_a_decision_that_no_step_asks_for_is_warned_about() -> None:
    text = broken(
        '{ id = "filters", say = "Filters", kind = "decision", decision = "filters" }',
        '{ id = "f", say = "F" }',
    )
    assert warning_lines(text) == [f"{NAME}: decision filters: no step asks for it"]


def _with_steps(more: int, when: str = "") -> str:
    steps = "".join(f'  {{ id = "more{n}", say = "More"{when} }},\n' for n in range(more))
    return broken("step = [\n", f"step = [\n{steps}")


@pytest.mark.parametrize(("more", "warned"), [(3, False), (4, True)])
def test_nine_steps_at_a_pause_point_are_fine_and_ten_are_not(more: int, warned: bool) -> None:
    # The sound checklist asks for six steps in its first stage, five of them of a native valve.
    lines = warning_lines(_with_steps(more))
    expected = f"{NAME}: stage access: asks for 10 steps at one pause point; more than 9 are not read out"
    assert lines == ([expected] if warned else [])


def test_steps_that_exclude_each_other_are_not_counted_together() -> None:
    text = _with_steps(4, ', when = { substrate = ["native"] }')
    one = stage(read_checklist(text, NAME), "access")
    assert one is not None
    assert len(one.step) == 10
    assert most_steps(read_checklist(text, NAME), one) == 9
    assert warning_lines(text) == []


def test_steps_of_different_answers_to_a_decision_are_not_counted_together() -> None:
    text = _with_steps(2, ', when = { decision = "filters", is = ["used"] }')
    text = text.replace(
        'say = "Pad on"', 'say = "Pad on", when = { decision = "filters", is = ["declined"] }', 1
    )
    one = stage(read_checklist(text, NAME), "access")
    assert one is not None
    assert most_steps(read_checklist(text, NAME), one) == 7


def test_more_picks_than_the_digit_keys_reach_are_warned_about() -> None:
    options = ", ".join(f'{{ id = "o{n}", text = "o" }}' for n in range(10))
    text = broken('[{ id = "normal", text = "normal" }, { id = "none", text = "none" }]', f"[{options}]")
    assert warning_lines(text) == [f"{NAME}: reading flow: has 10 options; the keys 1 to 9 reach 9"]


def test_more_reasons_than_the_digit_keys_reach_are_warned_about() -> None:
    text = SOUND + "".join(f'\n[[reason]]\nid = "r{n}"\ntext = "r"\nuses = ["late"]\n' for n in range(9))
    assert warning_lines(text) == [
        f'{NAME}: key reason: 10 reasons have the use "late"; the keys 1 to 9 reach 9'
    ]
