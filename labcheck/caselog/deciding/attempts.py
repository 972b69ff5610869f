"""Attempts, energy bursts and the runs that are switched on and off."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeVar

from labcheck.caselog import events as ev
from labcheck.caselog import intents as it
from labcheck.caselog.case import Attempt, Burst, Case, Spell, Visit
from labcheck.caselog.deciding.enterable import wrong_result
from labcheck.caselog.deciding.moments import before, during, visit_then
from labcheck.caselog.deciding.result import Decided, Press, Refused
from labcheck.caselog.deciding.stages import present_cusp, slot_named
from labcheck.caselog.ordering import earlier
from labcheck.caselog.progress import stage_title
from labcheck.checklist import finding
from labcheck.checklist.model import Attempts
from labcheck.checklist.unfolding import Slot, cusp_word
from labcheck.checklist.words import Cusp


def _trying(press: Press) -> tuple[Slot, Attempts] | Refused:
    """The stage that was open when it happened, if it has attempts."""
    case = press.case
    visit = visit_then(press)
    stage = finding.stage(case.checklist, visit.stage) if visit is not None else None
    if visit is not None and stage is not None and stage.attempts is not None:
        return visit.slot, stage.attempts
    now = case.visit
    if now is not None and now is not visit and _has_attempts(case, now.stage):
        return _too_early(case, now)
    where = stage_title(case, visit.stage, visit.cusp) if visit is not None else "no stage is open"
    return Refused(f"there are no attempts here ({where}): open the stage first")


def _has_attempts(case: Case, stage_id: str) -> bool:
    stage = finding.stage(case.checklist, stage_id)
    return stage is not None and stage.attempts is not None


def _too_early(case: Case, visit: Visit) -> Refused:
    title = stage_title(case, visit.stage, visit.cusp)
    return Refused(
        f"that is before {title} began: say a later time, or amend the time of #{visit.seq} if it began earlier"
    )


def _cusp_of(case: Case, slot: Slot) -> Cusp | None:
    return slot.cusp or (case.order[0] if len(case.order) == 1 else present_cusp(case))


def _write_attempt(press: Press, stage: str, cusp: Cusp) -> int:
    case = press.case
    number = 1 + max((a.number for a in case.attempts if a.stage == stage and a.cusp == cusp), default=0)
    visit = visit_then(press)
    opened = visit.seq if visit is not None and visit.slot in (Slot(stage, cusp), Slot(stage)) else None
    return press.write(ev.AttemptOpened(stage=stage, cusp=cusp, number=number, opened=opened))


def _under_way(press: Press, stage: str, cusp: Cusp) -> Attempt | None:
    """The attempt on this cusp in this stage that was under way when it happened; else the one that is open."""
    here = [a for a in press.case.attempts if (a.stage, a.cusp) == (stage, cusp)]
    if press.mode != "live":
        then = [one for one in here if during(press, one)]
        if then:
            return then[-1]
    attempt = press.case.attempt
    return attempt if attempt in here else None


def open_attempt(press: Press) -> Decided | Refused:
    """A new try on the open stage's cusp."""
    case = press.case
    found = _trying(press)
    if isinstance(found, Refused):
        return found
    slot, _ = found
    cusp = _cusp_of(case, slot)
    if cusp is None:
        return Refused("say which cusp first")
    attempt = _under_way(press, slot.stage, cusp)
    if attempt is not None:
        so = "has no result yet" if attempt.outcome is None else "was under way then"
        return Refused(f"attempt {attempt.number} on the {cusp_word(cusp)} cusp {so}")
    _write_attempt(press, slot.stage, cusp)
    return press.done()


def energy_on(press: Press, intent: it.EnergyOn) -> Decided | Refused:
    """A burst begins; it opens an attempt if none is open on this cusp in this stage."""
    case = press.case
    found = _trying(press)
    if isinstance(found, Refused):
        return found
    slot, attempts = found
    if attempts.energy is None:
        return Refused(f"{stage_title(case, slot.stage, slot.cusp)} uses no energy")
    if case.burst is not None:
        return Refused("energy is on already")
    on = _on_then(press, [b for a in case.attempts for b in a.bursts])
    if on is not None:
        return Refused(f"energy was on then already (#{on.seq}): say another time")
    cusp = _cusp_of(case, slot)
    if cusp is None:
        return Refused("say which cusp first")
    attempt = _under_way(press, slot.stage, cusp)
    if attempt is not None:
        if before(press, attempt):
            return Refused(f"that is before attempt {attempt.number} began")
        number = attempt.seq
    else:
        number = _write_attempt(press, slot.stage, cusp)
    press.write(ev.EnergyStarted(attempt=number, cusp=cusp, mode=intent.mode, watts=intent.watts))
    return press.done()


def energy_off(press: Press) -> Decided | Refused:
    """The burst ends."""
    burst = press.case.burst
    if burst is None:
        return Refused("energy is off already")
    if before(press, burst):
        return Refused("that is before the energy went on")
    again = _between(press, burst, [b for a in press.case.attempts for b in a.bursts])
    if again is not None:
        return Refused(f"energy went on again before that (#{again.seq}): say an earlier time")
    press.write(ev.EnergyStopped(burst=burst.seq))
    return press.done()


def close_attempt(press: Press, intent: it.CloseAttempt) -> Decided | Refused:
    """The result of a try: of the open one, of the last one left without a result, or of one not pressed."""
    case = press.case
    slot = _trying_slot(press, intent)
    if isinstance(slot, Refused):
        return slot
    stage = finding.stage(case.checklist, slot.stage)
    cusp = _cusp_of(case, slot)
    if stage is None or stage.attempts is None or cusp is None:
        return Refused(f"there are no attempts in {stage_title(case, slot.stage, slot.cusp)}")
    wrong = wrong_result(stage, intent.outcome)
    if wrong is not None:
        return wrong
    attempt = _waiting(press, slot.stage, cusp)
    if intent.attempt is not None and (attempt is None or attempt.seq != intent.attempt):
        attempt = next((a for a in case.attempts if a.seq == intent.attempt and a.outcome is None), None)
        if attempt is None or (attempt.stage, attempt.cusp) != (slot.stage, cusp):
            return Refused(f"#{intent.attempt} is no attempt that waits for its result")
    if attempt is not None and before(press, attempt):
        return Refused(f"that is before attempt {attempt.number} began")
    visits = [v for v in case.visits if v.slot in (Slot(slot.stage, cusp), Slot(slot.stage))]
    if attempt is None and visits and press.mode != "live" and press.precedes(visits[0].start, visits[0].seq):
        return _too_early(case, visits[0])
    seq = attempt.seq if attempt is not None else _write_attempt(press, slot.stage, cusp)
    press.write(ev.AttemptClosed(attempt=seq, outcome=intent.outcome, reason=intent.reason))
    return press.done()


def _trying_slot(press: Press, intent: it.CloseAttempt) -> Slot | Refused:
    case = press.case
    if intent.stage is not None:
        return slot_named(case, intent.stage, intent.cusp)
    named = next((a for a in case.attempts if a.seq == intent.attempt), None)
    if named is not None:
        return Slot(named.stage, named.cusp)
    found = _trying(press)
    if not isinstance(found, Refused):
        return found[0]
    pending = [a for a in case.attempts if a.outcome is None and _begun(press, a)]
    return Slot(pending[-1].stage, pending[-1].cusp) if pending else found


def _begun(press: Press, attempt: Attempt) -> bool:
    return press.mode == "live" or not press.precedes(attempt.start, attempt.seq)


def _waiting(press: Press, stage: str, cusp: Cusp) -> Attempt | None:
    """The attempt that a result is the result of: the last that waits for it and had begun then, else the last."""
    here = [a for a in press.case.attempts if a.stage == stage and a.cusp == cusp and a.outcome is None]
    begun = [a for a in here if _begun(press, a)]
    return (begun or here)[-1] if here else None


def without_result(case: Case, stage: str, cusp: Cusp) -> Attempt | None:
    """The attempt that a result on this cusp in this stage is the result of: the last one that waits for it."""
    waiting = [a for a in case.attempts if a.stage == stage and a.cusp == cusp and a.outcome is None]
    return waiting[-1] if waiting else None


_Spelled = TypeVar("_Spelled", Burst, Spell)


def _on_then(press: Press, spells: Sequence[_Spelled]) -> _Spelled | None:
    """The one that was on when another is said to have gone on: the same seconds would be counted twice."""
    if press.mode == "live":
        return None
    return next((one for one in spells if during(press, one)), None)


def _between(press: Press, ending: _Spelled, spells: Sequence[_Spelled]) -> _Spelled | None:
    """One that went on after ``ending`` did and before it is said to have gone off. A live press is always taken."""
    if press.mode == "live":
        return None
    after = [one for one in spells if not earlier(press.case, one.start, one.seq, ending.start, ending.seq)]
    return next((one for one in after if one.seq != ending.seq and not press.precedes(one.start, one.seq)), None)


def start_run(press: Press, intent: it.StartRun) -> Decided | Refused:
    """Pacing, compressions or a balloon goes on."""
    case = press.case
    run = finding.run(case.checklist, intent.run)
    if run is None:
        return Refused(f"this checklist has no run '{intent.run}'")
    if any(s.run == intent.run and s.end is None for s in case.spells):
        return Refused(f"{run.title} is on already")
    on = _on_then(press, [s for s in case.spells if s.run == intent.run])
    if on is not None:
        return Refused(f"{run.title} was on then already (#{on.seq}): say another time")
    press.write(ev.RunStarted(run=run.id, cusp=None, rate=intent.rate))
    return press.done()


def stop_run(press: Press, intent: it.StopRun) -> Decided | Refused:
    """It goes off."""
    run = finding.run(press.case.checklist, intent.run)
    if run is None:
        return Refused(f"this checklist has no run '{intent.run}'")
    on = [s for s in press.case.spells if s.run == intent.run and s.end is None]
    if not on:
        return Refused(f"{run.title} is off already")
    if before(press, on[-1]):
        return Refused(f"that is before {run.title} went on")
    again = _between(press, on[-1], [s for s in press.case.spells if s.run == intent.run])
    if again is not None:
        return Refused(f"{run.title} went on again before that (#{again.seq}): say an earlier time")
    press.write(ev.RunStopped(run=on[-1].seq))
    return press.done()
