"""What each kind of event does to the folded case. Every function takes the case, the event's seq, its payload
and moment after amendments, and the event as written; and gives the case after it.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Protocol, TypeVar

from labcheck.caselog import events as ev
from labcheck.caselog.case import (
    Attempt,
    Bailout,
    Burst,
    Case,
    Choice,
    Sample,
    Seal,
    Skip,
    Spell,
    Timed,
    Visit,
)
from labcheck.caselog.copying import replace
from labcheck.caselog.events import Event
from labcheck.caselog.stamps import Moment
from labcheck.caselog.standing import answer_key
from labcheck.checklist import finding
from labcheck.checklist.unfolding import Slot, unfold


class _Part(Protocol):
    @property
    def seq(self) -> int: ...


_P = TypeVar("_P", bound=_Part)


def _changed(parts: tuple[_P, ...], seq: int, change: Callable[[_P], _P]) -> tuple[_P, ...]:
    """The parts with the one begun by ``seq`` changed. What is changed is nearly always near the end, and a
    whole log is folded at every correction, so the others are not touched one by one."""
    for place in range(len(parts) - 1, -1, -1):
        if parts[place].seq == seq:
            return (*parts[:place], change(parts[place]), *parts[place + 1 :])
    return parts


def case_opened(case: Case, seq: int, what: ev.CaseOpened, at: Moment, event: Event) -> Case:
    return replace(
        case,
        plan=what.plan,
        rehearsal=what.rehearsal,
        checklist_digest=what.checklist_digest,
        recorder=what.recorder,
        opened=at,
        order=what.plan.targets,
        slots=unfold(case.checklist, what.plan.targets),
    )


def stage_opened(case: Case, seq: int, what: ev.StageOpened, at: Moment, event: Event) -> Case:
    """What a call had passed over is not skipped any more once it is opened; what a decision skipped still is."""
    late = event.mode != "live"
    visit = Visit(seq, what.stage, what.cusp, what.visit, at, late)
    passed = case.skipped.get(visit.slot)
    skipped = case.skipped
    if passed is not None and passed.why == "call":
        skipped = {slot: skip for slot, skip in case.skipped.items() if slot != visit.slot}
    return replace(case, visits=(*case.visits, visit), open_visit=seq, skipped=skipped)


def stage_closed(case: Case, seq: int, what: ev.StageClosed, at: Moment, event: Event) -> Case:
    def ended(visit: Visit) -> Visit:
        return replace(visit, end=at, end_seq=seq, how=what.how) if visit.end is None else visit

    visits = _changed(case.visits, what.opened, ended)
    still_open = None if case.open_visit == what.opened else case.open_visit
    return replace(case, visits=visits, open_visit=still_open)


def stage_skipped(case: Case, seq: int, what: ev.StageSkipped, at: Moment, event: Event) -> Case:
    skip = Skip(seq, what.why, what.reason)
    return replace(case, skipped={**case.skipped, Slot(what.stage, what.cusp): skip})


def hold_passed(case: Case, seq: int, what: ev.HoldPassed, at: Moment, event: Event) -> Case:
    return replace(case, holds_passed=(*case.holds_passed, Timed(seq, at, what)))


def step_answered(case: Case, seq: int, what: ev.StepAnswered, at: Moment, event: Event) -> Case:
    return replace(case, answers={**case.answers, answer_key(case, what): Timed(seq, at, what)})


def decision_made(case: Case, seq: int, what: ev.DecisionMade, at: Moment, event: Event) -> Case:
    """A decision taken anew lifts what its earlier choice had skipped; the new skips follow as events."""
    decision = finding.decision(case.checklist, what.decision)
    named = {stage for option in decision.options for stage in option.skips} if decision else set()
    kept = {
        slot: skip for slot, skip in case.skipped.items() if skip.why != "decision" or slot.stage not in named
    }
    decisions = {**case.decisions, what.decision: Choice(seq, what.choice, what.reason)}
    return replace(case, decisions=decisions, skipped=kept)


def attempt_opened(case: Case, seq: int, what: ev.AttemptOpened, at: Moment, event: Event) -> Case:
    """A try that was forgotten elsewhere does not take the place of the one that is under way here."""
    attempt = Attempt(seq, what.stage, what.cusp, what.number, at, event.mode != "live")
    visit = case.visit
    here = visit is not None and visit.stage == what.stage and visit.cusp in (None, what.cusp)
    under_way = seq if here or case.open_attempt is None else case.open_attempt
    return replace(case, attempts=(*case.attempts, attempt), open_attempt=under_way)


def attempt_closed(case: Case, seq: int, what: ev.AttemptClosed, at: Moment, event: Event) -> Case:
    def ended(attempt: Attempt) -> Attempt:
        if attempt.end is not None:
            return attempt
        return replace(attempt, end=at, end_seq=seq, outcome=what.outcome, reason=what.reason)

    attempts = _changed(case.attempts, what.attempt, ended)
    still_open = None if case.open_attempt == what.attempt else case.open_attempt
    return replace(case, attempts=attempts, open_attempt=still_open)


def energy_started(case: Case, seq: int, what: ev.EnergyStarted, at: Moment, event: Event) -> Case:
    burst = Burst(seq, what.attempt, what.cusp, at, what.mode, what.watts)
    attempts = _changed(case.attempts, what.attempt, lambda a: replace(a, bursts=(*a.bursts, burst)))
    return replace(case, attempts=attempts, open_burst=seq)


def energy_stopped(case: Case, seq: int, what: ev.EnergyStopped, at: Moment, event: Event) -> Case:
    def ended(burst: Burst) -> Burst:
        return replace(burst, end=at, end_seq=seq) if burst.end is None else burst

    holder = next((a for a in reversed(case.attempts) if any(b.seq == what.burst for b in a.bursts)), None)
    attempts = _changed(
        case.attempts,
        holder.seq if holder is not None else 0,
        lambda a: replace(a, bursts=_changed(a.bursts, what.burst, ended)),
    )
    still_on = None if case.open_burst == what.burst else case.open_burst
    return replace(case, attempts=attempts, open_burst=still_on)


def run_started(case: Case, seq: int, what: ev.RunStarted, at: Moment, event: Event) -> Case:
    rate = None if what.rate is None else str(what.rate)
    return replace(case, spells=(*case.spells, Spell(seq, what.run, what.cusp, at, rate)))


def run_stopped(case: Case, seq: int, what: ev.RunStopped, at: Moment, event: Event) -> Case:
    def ended(spell: Spell) -> Spell:
        return replace(spell, end=at, end_seq=seq) if spell.end is None else spell

    spells = _changed(case.spells, what.run, ended)
    return replace(case, spells=spells)


def sample_sent(case: Case, seq: int, what: ev.SampleSent, at: Moment, event: Event) -> Case:
    return replace(case, samples=(*case.samples, Sample(seq, what.reading, at)))


def reading_taken(case: Case, seq: int, what: ev.ReadingTaken, at: Moment, event: Event) -> Case:
    samples = _changed(case.samples, what.sample or 0, lambda s: replace(s, answered=seq))
    return replace(case, readings=(*case.readings, Timed(seq, at, what)), samples=samples)


def dose_given(case: Case, seq: int, what: ev.DoseGiven, at: Moment, event: Event) -> Case:
    return replace(case, doses=(*case.doses, Timed(seq, at, what)))


def device_used(case: Case, seq: int, what: ev.DeviceUsed, at: Moment, event: Event) -> Case:
    return replace(case, devices=(*case.devices, Timed(seq, at, what)))


def fault_noted(case: Case, seq: int, what: ev.FaultNoted, at: Moment, event: Event) -> Case:
    return replace(case, faults=(*case.faults, Timed(seq, at, what)))


def note_written(case: Case, seq: int, what: ev.NoteWritten, at: Moment, event: Event) -> Case:
    return replace(case, notes=(*case.notes, Timed(seq, at, what.text)))


def mark_set(case: Case, seq: int, what: ev.MarkSet, at: Moment, event: Event) -> Case:
    return replace(case, marks=(*case.marks, Timed(seq, at, None)))


def mark_described(case: Case, mark: int, by: int) -> Case:
    """The first event that names a mark describes it."""
    marks = tuple(replace(m, what=by) if m.seq == mark and m.what is None else m for m in case.marks)
    return replace(case, marks=marks)


def bailout_opened(case: Case, seq: int, what: ev.BailoutOpened, at: Moment, event: Event) -> Case:
    return replace(case, bailouts=(*case.bailouts, Bailout(seq, what, at)))


def bailout_closed(case: Case, seq: int, what: ev.BailoutClosed, at: Moment, event: Event) -> Case:
    def ended(bailout: Bailout) -> Bailout:
        if bailout.end is not None:
            return bailout
        return replace(bailout, end=at, end_seq=seq, outcome=what.outcome, lead=what.lead)

    bailouts = _changed(case.bailouts, what.opened, ended)
    return replace(case, bailouts=bailouts)


def cusp_abandoned(case: Case, seq: int, what: ev.CuspAbandoned, at: Moment, event: Event) -> Case:
    return replace(case, abandoned={**case.abandoned, what.cusp: Timed(seq, at, what.reason)})


def order_changed(case: Case, seq: int, what: ev.OrderChanged, at: Moment, event: Event) -> Case:
    return replace(case, order=what.targets, slots=unfold(case.checklist, what.targets))


def prompt_silenced(case: Case, seq: int, what: ev.PromptSilenced, at: Moment, event: Event) -> Case:
    return replace(case, silenced=case.silenced | {what.prompt})


def handover_made(case: Case, seq: int, what: ev.HandoverMade, at: Moment, event: Event) -> Case:
    return replace(case, handovers=(*case.handovers, Timed(seq, at, what)), recorder=what.incoming)


def clock_compared(case: Case, seq: int, what: ev.ClockCompared, at: Moment, event: Event) -> Case:
    return replace(case, comparisons=(*case.comparisons, Timed(seq, at, what)))


def clock_noticed(case: Case, seq: int, what: ev.ClockNoticed, at: Moment, event: Event) -> Case:
    return replace(case, notices=(*case.notices, Timed(seq, at, what)))


def signout_settled(case: Case, seq: int, what: ev.SignoutSettled, at: Moment, event: Event) -> Case:
    return replace(case, settled={**case.settled, what.item: Timed(seq, at, what.reason)})


def case_sealed(case: Case, seq: int, what: ev.CaseSealed, at: Moment, event: Event) -> Case:
    return replace(case, seal=Seal(seq, at, what.entries, what.signed_by))


_FACTS: dict[str, Callable[[Case, int, Any, Moment, Event], Case]] = {
    "step.answered": step_answered,
    "attempt.closed": attempt_closed,
    "reading.taken": reading_taken,
    "dose.given": dose_given,
    "device.used": device_used,
    "fault.noted": fault_noted,
    "note.written": note_written,
}


def addendum_added(case: Case, seq: int, what: ev.AddendumAdded, at: Moment, event: Event) -> Case:
    """A late fact counts like any other; that it came after the seal stays visible in ``addenda``."""
    case = replace(case, addenda=(*case.addenda, seq))
    return _FACTS[what.fact.kind](case, seq, what.fact, at, event)
