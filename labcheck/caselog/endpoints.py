"""Endpoints as far as the log knows them at exit from the room: VARC-3 technical success and what goes with it.

The answers come from the steps, rescues and readings of the shipped checklists, found by their ids; a local
checklist that names them otherwise gets ``pending``. So does everything that a procedure log cannot know.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from labcheck.caselog.case import Bailout, Case, Visit
from labcheck.caselog.progress import PROTECTION, deciding_stage
from labcheck.caselog.tallies import in_time
from labcheck.checklist import finding
from labcheck.checklist.words import Cusp, Ostium
from labcheck.reference.endpoints import (
    PENDING_AT_EXIT,
    Intervention,
    RoomExit,
    Verdict,
    death_in_room,
    procedural_death,
    technical_success,
)

Answer = Literal["yes", "no", "pending"]
Definition = Literal["varc_3", "varc_3_planned_stent_is_no_failure", "log"]

INTERVENTION = frozenset({"coronary_obstruction", "conversion", "structural", "vascular", "second_valve"})
"""Rescues that mean surgery or an intervention for the device, the access or the heart's structure."""

NOTHING_DONE = frozenset(
    {
        "no_treatment", "small", "watched", "not_used", "not_needed", "not_offered", "no_harm", "freed",
        "held", "medical", "accepted",
    }
)  # fmt: skip
"""Outcomes of such a rescue after which no surgery or intervention was done."""

SURGERY = frozenset({"surgery", "bypass"})
"""Outcomes of a rescue that mean that the chest was opened, whatever the rescue was for."""

CONVERTED = "convert"
"""Where any rescue may lead; it is surgery, whatever the rescue was for."""

MITRAL = "anterior_mitral"
"""The technique whose valve is mitral: VARC-3 is a standard for aortic valves and says nothing of it."""

NOT_AORTIC = "VARC-3 is for aortic valves; this technique's own definition is the local registry's to apply"

OSTIA: tuple[Ostium, ...] = ("left", "right")


@dataclass(frozen=True, slots=True)
class Endpoint:
    """One endpoint. ``value`` is the finding behind the answer, by its id in the checklist.

    ``because``: the criteria that decided it, each "met: ...", "not met: ..." or "not recorded: ...", or why
    the log cannot know it. ``definition``: whose it is; ``log`` is what the log itself says.
    """

    name: str
    answer: Answer
    because: tuple[str, ...] = ()
    definition: Definition = "log"
    cusp: Cusp | None = None
    ostium: Ostium | None = None
    value: str | None = None


def endpoints(case: Case) -> tuple[Endpoint, ...]:
    """Every endpoint of the case, in the order in which screens and exports give them."""
    return tuple(_all(case))


def _all(case: Case) -> Iterator[Endpoint]:
    exit_ = room_exit(case)
    success = technical_success(exit_)
    aortic = case.checklist.technique != MITRAL
    if aortic:
        yield _verdict("technical_success", success, "varc_3_planned_stent_is_no_failure")
    else:
        yield Endpoint("technical_success", "pending", (NOT_AORTIC,), "log")
    yield _verdict("death_in_room", death_in_room(exit_.alive), "log")
    yield _verdict("procedural_death", procedural_death(exit_.alive), "varc_3" if aortic else "log")
    for name, why in PENDING_AT_EXIT.items():
        because = (why,) if aortic else (why, NOT_AORTIC)
        yield Endpoint(name.replace(" ", "_"), "pending", because, "varc_3" if aortic else "log")
    if case.checklist.technique != PROTECTION:
        for cusp in case.order:
            yield _modified(case, cusp)
    for ostium in OSTIA:
        yield from _coronary(case, ostium)
    yield Endpoint("conversion_to_surgery", _converted(case))
    yield Endpoint("second_valve", _happened(case, "second_valve"))
    stroke = _happened(case, "neurological")
    yield Endpoint("stroke_suspected_in_room", "yes" if stroke == "yes" else "pending")


def room_exit(case: Case) -> RoomExit:
    """What the log says at exit from the room."""
    left, valve, delivery = (_answer(case, "signout", step) for step in ("leaves", "valve", "delivery"))
    valves = {"one_right": 1, "one_wrong": 1, "more": 2, "none": 0}.get(valve or "")
    return RoomExit(
        alive=_among(left, yes="alive", no="died"),
        access_delivery_retrieval=_among(delivery, yes="good", no="failed"),
        valves_implanted=valves,
        correct_position=_among(valve, yes="one_right", no="one_wrong"),
        interventions=interventions(case),
    )


def interventions(case: Case) -> tuple[Intervention, ...] | None:
    """Surgery and interventions done, planned or not; None while the case or such a rescue is still open.

    An unplanned one that is already known decides, whatever else is still open.
    """
    rescues = [b for b in case.bailouts if _meaning(case, b) in INTERVENTION or _surgery(b)]
    done = tuple(
        Intervention(b.what.bailout, not _surgery(b) and _planned(case, b))
        for b in rescues
        if _surgery(b) or (b.outcome is not None and b.outcome not in NOTHING_DONE)
    )
    unknown = case.seal is None or any(b.outcome is None for b in rescues)
    return None if unknown and all(one.planned for one in done) else done


def _surgery(rescue: Bailout) -> bool:
    """Whether a rescue ended in surgery: by where it led, or by its outcome."""
    return rescue.lead == CONVERTED or rescue.outcome in SURGERY


def _planned(case: Case, rescue: Bailout) -> bool:
    """A stent that was part of the plan is no rescue; the card asks, each time that it is opened."""
    return _answer(case, rescue.seq, "planned") == "yes"


def _meaning(case: Case, rescue: Bailout) -> str:
    path = finding.bailout(case.checklist, rescue.what.bailout)
    return path.endpoint if path is not None else "none"


def _answer(case: Case, place: str | int, step: str, cusp: Cusp | None = None) -> str | None:
    found = case.answers.get((place, cusp, step))
    return found.what.value if found is not None else None


def _among(value: str | None, *, yes: str, no: str) -> bool | None:
    return True if value == yes else False if value == no else None


def _verdict(name: str, verdict: Verdict, definition: Definition) -> Endpoint:
    return Endpoint(name, verdict.answer.value, verdict.because, definition)


def untried(case: Case, cusp: Cusp) -> Visit | None:
    """The first visit of this cusp's deciding stage where no attempt at all is on record; else None."""
    stage = deciding_stage(case)
    if stage is None or any((a.stage, a.cusp) == (stage.id, cusp) for a in case.attempts):
        return None
    return next((v for v in case.visits if (v.stage, v.cusp) == (stage.id, cusp)), None)


def _modified(case: Case, cusp: Cusp) -> Endpoint:
    """Whether a target leaflet was modified. An attempt without its result, or a stage that was entered and has no
    attempt on record, is no "no": nobody said how it went."""
    last = deciding_stage(case)
    if last is None:
        return Endpoint("leaflet_modified", "pending", cusp=cusp)
    results = [a.outcome for a in case.attempts if (a.stage, a.cusp) == (last.id, cusp)]
    outcomes = [outcome for outcome in results if outcome]
    successes = last.attempts.success if last.attempts is not None else ()
    best = next((o for o in outcomes if o in successes), outcomes[-1] if outcomes else None)
    abandoned = cusp in case.abandoned
    answer: Answer = _closed(case, best in successes)
    if answer != "yes" and None in results:
        answer = "pending"
    elif answer != "yes" and abandoned:
        answer = "no"
    elif answer == "no" and untried(case, cusp) is not None:
        answer = "pending"
    return Endpoint("leaflet_modified", answer, cusp=cusp, value=best or ("abandoned" if abandoned else None))


def _coronary(case: Case, ostium: Ostium) -> Iterator[Endpoint]:
    per_ostium = {r.id for r in case.checklist.reading if r.per == "ostium"}
    flows = in_time(
        case, (r for r in case.readings if r.what.reading in per_ostium and r.what.ostium == ostium)
    )
    flow = flows[-1].what.choice if flows else None
    seen: Answer = "pending" if flow is None else "yes" if flow == "normal" else "no"
    yield Endpoint("coronary_flow_normal", seen, ostium=ostium, value=flow)
    rescues = [b for b in case.bailouts if _meaning(case, b) == "coronary_obstruction"]
    here = [b for b in rescues if b.what.ostium == ostium]
    somewhere = [b for b in rescues if b.what.ostium is None]  # at the left or the right: nobody said which
    real = [b for b in here if not _planned(case, b)]
    narrowed = [r.what.choice for r in flows if r.what.choice not in (None, "normal")]
    treated = any(b.outcome not in (None, "no_treatment") for b in real)
    unknown = any(b.outcome is None for b in real) or any(
        b.outcome != "no_treatment" for b in somewhere if not _planned(case, b)
    )
    obstructed: Answer = "yes" if treated or narrowed else "pending"
    if obstructed == "pending" and seen == "yes" and case.seal is not None and not unknown:
        obstructed = "no"
    worst = "complete" if "complete" in narrowed else narrowed[-1] if narrowed else None
    yield Endpoint("coronary_obstruction_in_room", obstructed, ostium=ostium, value=worst)
    yield Endpoint("rescue_stent", _stented(case, here, somewhere, planned=False), ostium=ostium)
    planned = case.plan is not None and ostium in case.plan.protection_planned
    told = (_answer(case, "coronary", "planned_stent"), _answer(case, "settle", "result", ostium))
    deployed = "deployed" in told and planned
    by_card = "yes" if deployed else _stented(case, here, somewhere, planned=True)
    yield Endpoint("planned_stent", by_card, ostium=ostium)


def _stented(case: Case, here: Sequence[Bailout], somewhere: Sequence[Bailout], *, planned: bool) -> Answer:
    """Whether a coronary's card, planned or not, ended with a stent at this ostium."""
    asked = [b for b in here if _planned(case, b) == planned]
    if any(b.outcome == "stented" for b in asked):
        return "yes"
    unplaced = [b for b in somewhere if _planned(case, b) == planned and b.outcome in (None, "stented")]
    if unplaced or any(b.outcome is None for b in asked):
        return "pending"
    return _closed(case, False)


def _converted(case: Case) -> Answer:
    """Any rescue may end in surgery; the one that is for it does so with every outcome but those of nothing done."""
    if any(_surgery(b) for b in case.bailouts):
        return "yes"
    known = _happened(case, "conversion")
    return "pending" if known == "no" and any(b.outcome is None for b in case.bailouts) else known


def _happened(case: Case, meaning: str) -> Answer:
    rescues = [b for b in case.bailouts if _meaning(case, b) == meaning]
    other = SURGERY if meaning == "second_valve" else frozenset()
    done = any(b.outcome is not None and b.outcome not in NOTHING_DONE | other for b in rescues)
    if not done and any(b.outcome is None for b in rescues):
        return "pending"  # that rescue's outcome was never said: neither yes nor no
    return _closed(case, done)


def _closed(case: Case, happened: bool) -> Answer:
    """yes once it happened; no only when the case is closed."""
    return "yes" if happened else "no" if case.seal is not None else "pending"
