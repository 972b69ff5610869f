"""What each kind of entry says in one plain line. The words come from the checklist wherever it has them.

Every function takes the case, the payload and the moment it happened. Nothing here raises: what cannot be
looked up is said by its id.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

from labcheck.caselog import events as ev
from labcheck.caselog.case import Case
from labcheck.caselog.clockwords import seconds_words, span_with_basis, span_words
from labcheck.caselog.progress import stage_title
from labcheck.caselog.ranges import out_of_range
from labcheck.caselog.stamps import Moment, span
from labcheck.caselog.steps import answer_words, number_of, reason_words
from labcheck.checklist import finding
from labcheck.checklist.words import CUSP_WORDS, Cusp, Ostium

_LEADS = {
    "carry_on": "carry on",
    "abandon_cusp": "this cusp is abandoned",
    "jump": "on to another stage",
    "convert": "conversion",
}


def joined(parts: Iterable[str | None]) -> str:
    """The parts that are there, with commas."""
    return ", ".join(part for part in parts if part)


def plain(text: str) -> str:
    """Free text as one line that cannot steer a terminal: control and direction signs become blanks."""
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())


def why(case: Case, reason: str) -> str:
    """A reason in the checklist's words, or as it was typed, on one line."""
    return plain(reason_words(case, reason))


def cusp_of(cusp: Cusp | None) -> str | None:
    return CUSP_WORDS[cusp] if cusp else None


def ostium_of(ostium: Ostium | None) -> str | None:
    return f"{ostium} coronary" if ostium else None


def reading_title(case: Case, reading_id: str) -> str:
    reading = finding.reading(case.checklist, reading_id)
    return reading.title if reading else reading_id


def run_title(case: Case, run_id: str) -> str:
    run = finding.run(case.checklist, run_id)
    return run.title if run else run_id


def bailout_title(case: Case, what: ev.BailoutOpened) -> str:
    """The rescue with the cusp or ostium it is for."""
    path = finding.bailout(case.checklist, what.bailout)
    title = path.title if path else what.bailout
    return joined([title, cusp_of(what.cusp), ostium_of(what.ostium)])


def outcome_words(case: Case, stage_id: str, outcome: str) -> str:
    """The outcome of an attempt in its checklist's words."""
    stage = finding.stage(case.checklist, stage_id)
    option = finding.option(stage.attempts.outcomes, outcome) if stage and stage.attempts else None
    return option.text if option else outcome.replace("_", " ")


def _case_opened(case: Case, what: ev.CaseOpened, at: Moment) -> str:
    targets = " then ".join(CUSP_WORDS[cusp] for cusp in what.plan.targets)
    return joined(
        [
            "case opened",
            case.checklist.title,
            targets,
            f"{what.plan.substrate} valve",
            "REHEARSAL" if what.rehearsal else None,
        ]
    )


def _stage_opened(case: Case, what: ev.StageOpened, at: Moment) -> str:
    visit = f", visit {what.visit}" if what.visit > 1 else ""
    return f"{stage_title(case, what.stage, what.cusp)}{visit}: begins"


def _stage_closed(case: Case, what: ev.StageClosed, at: Moment) -> str:
    opened = case.event(what.opened)
    if opened is None or not isinstance(opened.what, ev.StageOpened):
        return f"stage of entry {what.opened}: {what.how}"
    visit = next((v for v in case.visits if v.seq == what.opened), None)
    lasted = span(visit.start if visit else opened.happened, at)
    how = {"done": "done", "left": "left unfinished", "abandoned": "abandoned"}[what.how]
    return f"{stage_title(case, opened.what.stage, opened.what.cusp)}: {how} after {span_with_basis(lasted)}"


def _stage_skipped(case: Case, what: ev.StageSkipped, at: Moment) -> str:
    return f"{stage_title(case, what.stage, what.cusp)}: skipped by {what.why}: {why(case, what.reason)}"


def _hold_passed(case: Case, what: ev.HoldPassed, at: Moment) -> str:
    unmet = "; ".join(plain(line) for line in what.unmet)
    return f"hold passed before {stage_title(case, what.stage, what.cusp)}: {unmet}: {why(case, what.reason)}"


def _step_answered(case: Case, what: ev.StepAnswered, at: Moment) -> str:
    step = finding.step(case.checklist, what.stage, what.step)
    said = step.say if step else what.step
    answer = answer_words(case, step, what) if step else what.value or what.answer.replace("_", " ")
    return f"{joined([said, cusp_of(what.cusp), _which_rescue(case, what)])}: {plain(answer)}"


def _which_rescue(case: Case, what: ev.StepAnswered) -> str | None:
    """Which of several rescues of one kind a step was answered in; None where there is only one, or none."""
    rescue = next((b for b in case.bailouts if b.seq == what.opened), None)
    if rescue is None or sum(1 for b in case.bailouts if b.what.bailout == rescue.what.bailout) < 2:
        return None
    number = number_of(case, rescue)
    return joined([ostium_of(rescue.what.ostium), f"rescue {number}" if number > 1 else None]) or None


def _decision_made(case: Case, what: ev.DecisionMade, at: Moment) -> str:
    decision = finding.decision(case.checklist, what.decision)
    option = finding.option(decision.options, what.choice) if decision else None
    asked = decision.ask if decision else what.decision
    reason = f": {why(case, what.reason)}" if what.reason else ""
    return f"{asked} {option.text if option else what.choice}{reason}"


def _attempt_opened(case: Case, what: ev.AttemptOpened, at: Moment) -> str:
    return joined([f"attempt {what.number} begins", cusp_of(what.cusp), stage_title(case, what.stage, None)])


def attempt_name(case: Case, seq: int) -> str:
    """The attempt that an entry belongs to, as "left, attempt 2"; the entry number where it is not known."""
    event = case.event(seq)
    if event is None or not isinstance(event.what, ev.AttemptOpened):
        return f"attempt of entry {seq}"
    return f"{CUSP_WORDS[event.what.cusp]}, attempt {event.what.number}"


def _attempt_closed(case: Case, what: ev.AttemptClosed, at: Moment) -> str:
    event = case.event(what.attempt)
    stage = event.what.stage if event is not None and isinstance(event.what, ev.AttemptOpened) else ""
    reason = f": {why(case, what.reason)}" if what.reason else ""
    return f"{attempt_name(case, what.attempt)}: {outcome_words(case, stage, what.outcome)}{reason}"


def _energy_started(case: Case, what: ev.EnergyStarted, at: Moment) -> str:
    watts = f"{what.watts} W" if what.watts is not None else None
    return joined(["energy on", attempt_name(case, what.attempt), what.mode and plain(what.mode), watts])


def _energy_stopped(case: Case, what: ev.EnergyStopped, at: Moment) -> str:
    event = case.event(what.burst)
    if event is None or not isinstance(event.what, ev.EnergyStarted):
        return f"energy off, burst of entry {what.burst}"
    burst = next((b for a in case.attempts for b in a.bursts if b.seq == what.burst), None)
    lasted = span(burst.start if burst else event.happened, at)
    wall = "wall only" if lasted.basis == "wall" else None
    return joined(["energy off", attempt_name(case, event.what.attempt), seconds_words(lasted.us), wall])


def _run_started(case: Case, what: ev.RunStarted, at: Moment) -> str:
    run = finding.run(case.checklist, what.run)
    rate = f"{what.rate} {run.rate_unit or ''}".strip() if what.rate is not None and run else None
    return joined([f"{run_title(case, what.run)} on", cusp_of(what.cusp), rate])


def _run_stopped(case: Case, what: ev.RunStopped, at: Moment) -> str:
    event = case.event(what.run)
    if event is None or not isinstance(event.what, ev.RunStarted):
        return f"run of entry {what.run} off"
    spell = next((s for s in case.spells if s.seq == what.run), None)
    lasted = span(spell.start if spell else event.happened, at)
    return joined(
        [f"{run_title(case, event.what.run)} off", cusp_of(event.what.cusp), span_with_basis(lasted)]
    )


def _sample_sent(case: Case, what: ev.SampleSent, at: Moment) -> str:
    return f"{reading_title(case, what.reading)} sent"


def _reading_taken(case: Case, what: ev.ReadingTaken, at: Moment) -> str:
    reading = finding.reading(case.checklist, what.reading)
    option = finding.option(reading.options, what.choice) if reading and what.choice else None
    judge = finding.option(reading.judged_by, what.judged_by) if reading and what.judged_by else None
    value = f"{what.value} {what.unit or ''}".strip() if what.value is not None else None
    found = value or (option.text if option else what.choice) or ""
    return joined(
        [
            f"{reading_title(case, what.reading)} {found}".strip(),
            cusp_of(what.cusp),
            ostium_of(what.ostium),
            f"judged by {judge.text if judge else what.judged_by}" if what.judged_by else None,
            f"said by {what.judge.replace('_', ' ')}" if what.judge else None,
            "counter was reset" if what.reset else None,
            _accepted(case, what) if what.outside else None,
            plain(what.note) if what.note else None,
        ]
    )


def _accepted(case: Case, what: ev.ReadingTaken) -> str:
    """Why it was asked about: its range, or another reading that it does not fit."""
    beyond = out_of_range(case.checklist, what)
    return "outside the usual range, accepted" if beyond else "doubted, accepted"


def _dose_given(case: Case, what: ev.DoseGiven, at: Moment) -> str:
    drug = finding.drug(case.checklist, what.drug)
    amount = f"{what.amount} {what.unit or ''}".strip() if what.amount is not None else None
    title = drug.title if drug else what.drug
    return joined(
        [
            f"{title} {amount}" if amount else f"{title} given, amount not recorded",
            "outside the usual range, accepted" if what.outside else None,
            plain(what.note) if what.note else None,
        ]
    )


def _device_used(case: Case, what: ev.DeviceUsed, at: Moment) -> str:
    device = finding.device(case.checklist, what.device)
    name = f"{device.text if device else what.device}: {what.action}"
    return joined([name, cusp_of(what.cusp), plain(what.note) if what.note else None])


def _fault_noted(case: Case, what: ev.FaultNoted, at: Moment) -> str:
    fault = finding.fault(case.checklist, what.fault)
    where = attempt_name(case, what.attempt) if what.attempt else cusp_of(what.cusp)
    return joined(
        [f"fault: {fault.text if fault else what.fault}", where, plain(what.note) if what.note else None]
    )


def _note_written(case: Case, what: ev.NoteWritten, at: Moment) -> str:
    return f"{joined(['note', cusp_of(what.cusp)])}: {plain(what.text)}"


def _bailout_opened(case: Case, what: ev.BailoutOpened, at: Moment) -> str:
    return f"BAILOUT {bailout_title(case, what)}: begins"


def _bailout_closed(case: Case, what: ev.BailoutClosed, at: Moment) -> str:
    rescue = next((b for b in case.bailouts if b.seq == what.opened), None)
    event = case.event(what.opened)
    if event is None or not isinstance(event.what, ev.BailoutOpened):
        return f"bailout of entry {what.opened}: {what.outcome}"
    opened = rescue.what if rescue else event.what
    path = finding.bailout(case.checklist, opened.bailout)
    option = finding.option(path.outcomes, what.outcome) if path else None
    lasted = span_with_basis(span(rescue.start if rescue else event.happened, at))
    return joined(
        [
            f"BAILOUT {bailout_title(case, opened)}: {option.text if option else what.outcome}",
            _LEADS[what.lead],
            f"after {lasted}",
            plain(what.note) if what.note else None,
        ]
    )


def _cusp_abandoned(case: Case, what: ev.CuspAbandoned, at: Moment) -> str:
    return f"{CUSP_WORDS[what.cusp]} abandoned: {why(case, what.reason)}"


def _order_changed(case: Case, what: ev.OrderChanged, at: Moment) -> str:
    order = " then ".join(CUSP_WORDS[cusp] for cusp in what.targets)
    return f"order now {order}" + (f": {why(case, what.reason)}" if what.reason else "")


def _clock_compared(case: Case, what: ev.ClockCompared, at: Moment) -> str:
    way = "ahead of" if what.offset_us >= 0 else "behind"
    give = seconds_words(what.uncertainty_us)
    apart = seconds_words(abs(what.offset_us))
    return f"{plain(what.clock)} clock {apart} {way} this one, give or take {give}"


def _clock_noticed(case: Case, what: ev.ClockNoticed, at: Moment) -> str:
    amount = span_words(what.amount_us)
    wall = " (wall only)" if what.basis == "wall" else ""
    return {
        "resumed": f"record resumed after a gap of {amount}{wall}",
        "step": f"wall clock was set by {amount}",
        "drift": f"wall clock drifted by {amount}",
        "suspend": f"machine slept for {amount}",
        "reboot": f"machine was restarted, gap {amount}{wall}",
        "stalled": f"program stood still for {amount}",
    }[what.notice]


def _handover(case: Case, what: ev.HandoverMade, at: Moment) -> str:
    count = len(what.open_items)
    items = f"{count} open item{'' if count == 1 else 's'} read back"
    return f"handover, {what.outgoing} to {what.incoming}, {items}"


SAID: dict[type[Any], Callable[[Case, Any, Moment], str]] = {
    ev.CaseOpened: _case_opened,
    ev.StageOpened: _stage_opened,
    ev.StageClosed: _stage_closed,
    ev.StageSkipped: _stage_skipped,
    ev.HoldPassed: _hold_passed,
    ev.StepAnswered: _step_answered,
    ev.DecisionMade: _decision_made,
    ev.AttemptOpened: _attempt_opened,
    ev.AttemptClosed: _attempt_closed,
    ev.EnergyStarted: _energy_started,
    ev.EnergyStopped: _energy_stopped,
    ev.RunStarted: _run_started,
    ev.RunStopped: _run_stopped,
    ev.SampleSent: _sample_sent,
    ev.ReadingTaken: _reading_taken,
    ev.DoseGiven: _dose_given,
    ev.DeviceUsed: _device_used,
    ev.FaultNoted: _fault_noted,
    ev.NoteWritten: _note_written,
    ev.MarkSet: lambda case, what, at: "mark",
    ev.BailoutOpened: _bailout_opened,
    ev.BailoutClosed: _bailout_closed,
    ev.CuspAbandoned: _cusp_abandoned,
    ev.OrderChanged: _order_changed,
    ev.PromptSilenced: lambda case, what, at: f"reminder silenced: {plain(what.prompt)}",
    ev.HandoverMade: _handover,
    ev.ClockCompared: _clock_compared,
    ev.ClockNoticed: _clock_noticed,
    ev.PressBounced: lambda case, what, at: (
        f"second press {seconds_words(what.gap_us)} after entry {what.after}: ignored"
    ),
    ev.SignoutSettled: lambda case, what, at: f"sign-out: {plain(what.text)}: {why(case, what.reason)}",
    ev.LeaseTaken: lambda case, what, at: f"taken over by {plain(what.console)}: {why(case, what.reason)}",
    ev.CaseSealed: lambda case, what, at: (
        f"case sealed by {what.signed_by}, {what.entries} entries before it"
    ),
    ev.SealAttested: lambda case, what, at: joined(
        [f"seal read back: {plain(what.head)}", plain(what.note or "")]
    ),
}
"""One speaker for every kind but the corrections and the addendum, which speak about other entries."""
