"""Checking what refers to what in stages: steps, holds, attempts, lanes, and the points and conditions."""

from __future__ import annotations

from itertools import groupby

from labcheck.checklist.complaint import nearest
from labcheck.checklist.conditions import Condition, Point
from labcheck.checklist.faults import Faults, Where
from labcheck.checklist.finding import by_id, decision, reading, stage
from labcheck.checklist.model import Attempts, Stage, Step, When

_STEP_KEYS = {
    "options": ("choice",),
    "unit": ("number",),
    "low": ("number",),
    "high": ("number",),
    "reading": ("reading",),
    "drug": ("dose",),
    "decision": ("decision",),
}
"""Keys of a step that only some kinds may have; those kinds must have them."""

_POINT_NEEDS = {
    "stage.opened": ("stage",),
    "stage.closed": ("stage",),
    "attempt.opened": ("stage",),
    "attempt": ("stage",),
    "reading": ("reading",),
    "sample": ("reading",),
    "dose": ("drug",),
    "run.started": ("run",),
    "run.stopped": ("run",),
    "step": ("step",),
    "bailout.opened": (),
    "case.opened": (),
    "case.sealed": (),
}
_POINT_ALLOWS = {"attempt": ("outcome",), "reading": ("at_least",), "bailout.opened": ("bailout",)}
_POINT_KEYS = ("stage", "outcome", "reading", "at_least", "drug", "run", "step", "bailout")


def check_stages(faults: Faults) -> None:
    checklist = faults.checklist
    for one in checklist.stage:
        _check_stage(faults, one)
    _check_lanes(faults)
    if not stage(checklist, checklist.access_stage):
        close = nearest(checklist.access_stage, faults.ids("stage"))
        faults.add(("key access_stage",), f'there is no stage "{checklist.access_stage}"', close)


def _check_stage(faults: Faults, one: Stage) -> None:
    where: Where = (f"stage {one.id}",)
    faults.must_exist(where, "source", "source", one.source)
    faults.unique(where, "step", one.step)
    faults.unique(where, "hold", one.hold)
    for step in one.step:
        check_step(faults, (*where, f"step {step.id}"), step)
    for hold in one.hold:
        inside = (*where, f"hold {hold.id}")
        faults.must_exist(inside, "source", "source", hold.source)
        check_when(faults, inside, hold.when)
        for condition in hold.need:
            check_condition(faults, inside, condition)
    if one.lane and not one.per_cusp:
        faults.add((*where, "key lane"), "a lane belongs to a stage with per_cusp = true")
    if one.attempts:
        if not one.per_cusp:
            faults.add((*where, "key attempts"), "attempts name a cusp, so the stage needs per_cusp = true")
        _check_attempts(faults, (*where, "attempts"), one.attempts)


def _check_attempts(faults: Faults, where: Where, attempts: Attempts) -> None:
    faults.plain_options(where, attempts.outcomes)
    outcomes = [outcome.id for outcome in attempts.outcomes]
    faults.must_be_among(where, "success", attempts.success, outcomes, "outcomes")
    faults.must_be_among(where, "fault", attempts.fault, outcomes, "outcomes")
    for both in set(attempts.success) & set(attempts.fault):
        faults.add((*where, "key fault"), f'"{both}" cannot be a success and a fault')
    faults.must_exist(where, "source", "source", attempts.source)
    if attempts.energy:
        faults.must_exist((*where, "energy"), "source", "source", attempts.energy.source)


def _check_lanes(faults: Faults) -> None:
    seen: set[str] = set()
    for lane, members in groupby(faults.checklist.stage, lambda one: one.lane):
        first = next(members)
        if lane is not None and lane in seen:
            text = f'lane "{lane}" is interrupted; the stages of a lane must be neighbours'
            faults.add((f"stage {first.id}", "key lane"), text)
        seen.add(lane or "")


def check_step(faults: Faults, where: Where, step: Step) -> None:
    """One step of a stage or bailout has the keys its kind needs, no others, and they lead somewhere."""
    for key, kinds in _STEP_KEYS.items():
        given = getattr(step, key) not in (None, ())
        if given and step.kind not in kinds:
            faults.add((*where, f"key {key}"), f"belongs to a step of kind {kinds[0]}, not {step.kind}")
        elif not given and step.kind in kinds:
            faults.add((*where, f"key {key}"), f"must be given for a step of kind {step.kind}")
    if step.devices and step.kind != "device":
        faults.add((*where, "key devices"), f"belongs to a step of kind device, not {step.kind}")
    for device in step.devices:
        faults.must_exist(where, "devices", "device", device)
    if step.killer and step.owner is None:
        faults.add((*where, "key owner"), "must be given: a killer step needs somebody who answers for it")
    for key in ("reading", "drug", "decision", "source"):
        faults.must_exist(where, key, key, getattr(step, key))
    if step.ostium is not None:
        asked = reading(faults.checklist, step.reading or "")
        if asked is None or asked.per != "ostium":
            faults.add((*where, "key ostium"), 'belongs to a step whose reading has per = "ostium"')
    faults.in_order(where, step.low, step.high)
    faults.plain_options(where, step.options)
    check_when(faults, where, step.when)


def check_when(faults: Faults, where: Where, when: When | None) -> None:
    if when is None:
        return
    if when.is_ and when.decision is None:
        faults.add((*where, "key when"), "'is' belongs to a decision")
    if faults.must_exist(where, "when.decision", "decision", when.decision) and when.decision:
        _check_choices(faults, where, "when.is", when.decision, when.is_)


def _check_choices(faults: Faults, where: Where, key: str, id_: str, choices: tuple[str, ...]) -> None:
    if found := decision(faults.checklist, id_):
        right = [option.id for option in found.options]
        faults.must_be_among(where, key, choices, right, f"options of decision {id_}")


def check_condition(faults: Faults, where: Where, need: Condition) -> None:
    """One condition of a hold or a sign-out item leads to something that can be true."""
    if need.step:
        _check_step_name(faults, where, need.step, need.is_)
    faults.must_exist(where, "need.stage", "stage", need.stage)
    faults.must_exist(where, "need.tally", "tally", need.tally)
    if faults.must_exist(where, "need.each_cusp", "stage", need.each_cusp) and need.each_cusp:
        found = stage(faults.checklist, need.each_cusp)
        if found and not found.per_cusp:
            faults.add((*where, "key need.each_cusp"), f'stage "{found.id}" is not per cusp')
    if faults.must_exist(where, "need.reading", "reading", need.reading) and need.reading:
        measured = reading(faults.checklist, need.reading)
        limited = need.at_least is not None or need.at_most is not None
        if measured and measured.options and limited:
            text = f'reading "{measured.id}" is coded, so at_least and at_most cannot be judged'
            faults.add((*where, "key need.reading"), text)
    if faults.must_exist(where, "need.decision", "decision", need.decision) and need.decision:
        _check_choices(faults, where, "need.is", need.decision, need.is_)
    if need.tally and need.at_least is None and need.at_most is None:
        faults.add((*where, "key need.tally"), "needs at_least or at_most")


def _check_step_name(faults: Faults, where: Where, name: str, answers: tuple[str, ...]) -> None:
    stage_id, step_id = name.split(".")
    known = {f"{one.id}.{step.id}": step for one in faults.checklist.stage for step in one.step}
    step = known.get(name)
    if step is None:
        home = stage(faults.checklist, stage_id)
        text = (
            f'there is no step "{step_id}" in stage "{stage_id}"'
            if home
            else f'there is no stage "{stage_id}"'
        )
        faults.add((*where, "key step"), text, nearest(name, known))
        return
    if not answers:
        return
    options = step.options
    if step.kind == "decision" and (asked := by_id(faults.checklist.decision, step.decision or "")):
        options = asked.options
    if step.kind == "reading" and (measured := reading(faults.checklist, step.reading or "")):
        options = measured.options
    if not options:
        faults.add((*where, "key is"), f'step "{name}" has no options to choose from')
    else:
        faults.must_be_among(where, "is", answers, [option.id for option in options], f"options of {name}")


def check_point(faults: Faults, where: Where, point: Point) -> None:
    """A named moment has the keys its event needs, no others, and they lead somewhere."""
    needs = _POINT_NEEDS[point.event]
    allowed = (*needs, *_POINT_ALLOWS.get(point.event, ()))
    for key in _POINT_KEYS:
        given = getattr(point, key) not in (None, ())
        if given and key not in allowed:
            faults.add((*where, f"key {key}"), f"does not belong to the event {point.event}")
        elif not given and key in needs:
            faults.add((*where, f"key {key}"), f"must be given for the event {point.event}")
    for key in ("stage", "reading", "drug", "run", "bailout"):
        faults.must_exist(where, key, key, getattr(point, key))
    if point.step:
        _check_step_name(faults, where, point.step, ())
    if point.event == "attempt" and (found := stage(faults.checklist, point.stage or "")):
        if found.attempts is None:
            faults.add((*where, "key stage"), f'stage "{found.id}" has no attempts')
        else:
            outcomes = [outcome.id for outcome in found.attempts.outcomes]
            faults.must_be_among(where, "outcome", point.outcome, outcomes, f"outcomes of {found.id}")
    if (
        point.event == "sample"
        and (asked := reading(faults.checklist, point.reading or ""))
        and not asked.sample
    ):
        faults.add((*where, "key reading"), f'reading "{asked.id}" is not a sample that is sent')
