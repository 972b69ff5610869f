"""Readings, doses, devices, faults, notes, marks and samples."""

from __future__ import annotations

from collections.abc import Iterator

from labcheck.caselog import events as ev
from labcheck.caselog import intents as it
from labcheck.caselog.case import Bailout, Timed
from labcheck.caselog.deciding.enterable import wrong_dose, wrong_other, wrong_reading
from labcheck.caselog.deciding.moments import visit_then
from labcheck.caselog.deciding.result import Decided, Press, Refused
from labcheck.caselog.deciding.stages import cusp_then
from labcheck.caselog.holds import choices, latest_value
from labcheck.caselog.ordering import by_happening
from labcheck.caselog.ranges import out_of_range, outside, span_words
from labcheck.caselog.standing import standing_answer
from labcheck.caselog.steps import meant_ostium
from labcheck.caselog.unit_doubts import radiation_doubt
from labcheck.caselog.units import in_own_unit
from labcheck.checklist import finding
from labcheck.checklist.model import Reading, Step
from labcheck.checklist.unfolding import steps_for
from labcheck.checklist.words import Cusp, Ostium


def send_sample(press: Press, intent: it.SendSample) -> Decided | Refused:
    """A sample leaves for the analyser."""
    reading = finding.reading(press.case.checklist, intent.reading)
    if reading is None:
        return Refused(f"this checklist has no reading '{intent.reading}'")
    if not reading.sample:
        return Refused(f"{reading.title} is not sent as a sample")
    press.write(ev.SampleSent(reading=reading.id))
    return press.done()


def take_reading(press: Press, intent: it.TakeReading) -> Decided | Refused:
    """A value or a coded finding, and the step that asked for it."""
    reading = finding.reading(press.case.checklist, intent.reading)
    if reading is None:
        return Refused(f"this checklist has no reading '{intent.reading}'")
    unit = None if reading.options else (intent.unit or reading.unit)
    what = ev.ReadingTaken(
        reading=reading.id,
        value=intent.value,
        unit=unit,
        choice=intent.choice,
        cusp=intent.cusp or (cusp_then(press) if reading.per == "cusp" else None),
        ostium=intent.ostium,
        judged_by=intent.judged_by,
        judge=intent.judge,
        sample=_sample_of(press, reading),
        reset=intent.reset,
        note=intent.note,
    )
    wrong = wrong_reading(press.case, what) or _fallen(press, reading, intent)
    if wrong is not None:
        return wrong
    strange = _strange(press, reading, intent)
    if strange is not None and not intent.accept:
        return Refused(f"{strange}: again to accept", needs="accept")
    press.write(what.model_copy(update={"outside": strange is not None}))
    said = intent.choice if reading.options else (None if intent.value is None else f"{intent.value:f}")
    _answer_step(press, "reading", reading.id, said, unit, intent.ostium, intent.step, intent.rescue)
    return press.done()


def _sample_of(press: Press, reading: Reading) -> int | None:
    """The sample that a result is of: the last one sent before it that waits for its result."""
    waiting = [s for s in press.case.samples if s.reading == reading.id and s.answered is None]
    sent = by_happening(press.case, ((s.sent, s.seq, s) for s in waiting))
    return next((s.seq for s in reversed(sent) if not press.precedes(s.sent, s.seq)), None)


def _fallen(press: Press, reading: Reading, intent: it.TakeReading) -> Refused | None:
    """A counter that runs on does not fall; of a late reading nobody can tell."""
    if not reading.cumulative or intent.reset or press.mode != "live":
        return None
    last = latest_value(press.case, reading.id)
    now = in_own_unit(reading, intent.value, intent.unit)
    if last is None or now is None or now >= last:
        return None
    return Refused(
        f"{reading.title} {now:f} is below the last, {last:f} {reading.unit or ''}: "
        "correct it, or say that the counter was reset",
        needs="reset",
    )


def _strange(press: Press, reading: Reading, intent: it.TakeReading) -> str | None:
    """What is unlikely about a value: outside its usual range, or at odds with the reading beside it."""
    if intent.value is None:
        return None
    if outside(reading, intent.value, intent.unit):
        return f"{reading.title} {intent.value:f} is outside {span_words(reading)}"
    return radiation_doubt(press.case, reading, intent.value, intent.unit, press.at)


def give_dose(press: Press, intent: it.GiveDose, step: str | None = None) -> Decided | Refused:
    """A drug; in a hurry without its amount. ``step``: the one that was answered with it."""
    drug = finding.drug(press.case.checklist, intent.drug)
    amount = intent.amount
    unit = intent.unit or (drug.unit if drug is not None and amount is not None else None)
    what = ev.DoseGiven(drug=intent.drug, amount=amount, unit=unit, note=intent.note)
    wrong = wrong_dose(press.case, what)
    if wrong is not None:
        return wrong
    strange = out_of_range(press.case.checklist, what)
    if strange and not intent.accept:
        return Refused(f"{strange}: again to accept", needs="accept")
    unit = unit if amount is not None else None
    press.write(what.model_copy(update={"unit": unit, "outside": bool(strange)}))
    _answer_step(press, "dose", what.drug, f"{amount:f}" if amount is not None else None, unit, None, step)
    return press.done()


def _answer_step(
    press: Press,
    kind: str,
    thing: str,
    value: str | None,
    unit: str | None,
    ostium: Ostium | None,
    again: str | None = None,
    of_rescue: int | None = None,
) -> None:
    """Answer the first open step that asks for just this: of the present stage, and of every running rescue.

    Where none is open, one that was said not to be done is answered after all. What happened before the stage began
    does not answer for it unless somebody says so. Where the step ``again`` asks for it, that one is answered anew
    instead: everywhere, or only in ``of_rescue``.
    """
    case = press.case
    if case.plan is None:
        return
    for stage_id, cusp, opened, rescue in _asking(press):
        holder = finding.holder(case.checklist, stage_id)
        steps = [
            step
            for step in (steps_for(holder, case.plan, choices(case)) if holder is not None else ())
            if _asks_for(step, kind, thing, ostium, meant_ostium(step, cusp, rescue))
        ]
        seq = rescue.seq if rescue is not None else None
        named = [step for step in steps if step.id == again and of_rescue in (None, seq)]
        if not named and rescue is None and case.visit and press.precedes(case.visit.start, opened):
            continue
        said = {step.id: standing_answer(case, stage_id, cusp, step.id, seq) for step in steps}
        free = [step for step in steps if said[step.id] is None]
        undone = [step for step in steps if not _given(said[step.id])]
        for step in (named or free or undone)[:1]:
            press.write(
                ev.StepAnswered(
                    stage=stage_id,
                    cusp=cusp,
                    step=step.id,
                    opened=opened,
                    answer="value" if value is not None else "done",
                    value=value,
                    unit=unit,
                )
            )


def _given(answer: Timed[ev.StepAnswered] | None) -> bool:
    return answer is not None and answer.what.answer in ("done", "value")


def _asking(press: Press) -> Iterator[tuple[str, Cusp | None, int, Bailout | None]]:
    """The stage and the rescues that were open when it happened, each with its cusp and the entry that opened it."""
    visit = press.case.visit
    if visit is not None:
        yield visit.stage, visit.cusp, visit.seq, None
    for rescue in press.case.bailouts:
        if rescue.end is None and not press.precedes(rescue.start, rescue.seq):
            yield f"{finding.BAILOUT_PREFIX}{rescue.what.bailout}", rescue.what.cusp, rescue.seq, rescue


def _asks_for(step: Step, kind: str, thing: str, ostium: Ostium | None, meant: Ostium | None) -> bool:
    """Whether a step asks for this. One that means one ostium is not answered by what was read at the other."""
    if step.kind != kind or (step.reading if kind == "reading" else step.drug) != thing:
        return False
    return (step.ostium if ostium is None else meant) in (None, ostium)


def use_device(press: Press, intent: it.UseDevice) -> Decided | Refused:
    """A generic device and what was done with it."""
    visit = visit_then(press)
    cusp = visit.cusp if visit is not None else None
    return _write_other(press, ev.DeviceUsed(device=intent.device, action=intent.action, cusp=cusp, note=intent.note))


def _write_other(press: Press, what: ev.DeviceUsed | ev.FaultNoted | ev.NoteWritten) -> Decided | Refused:
    wrong = wrong_other(press.case, what)
    if wrong is not None:
        return wrong
    press.write(what)
    return press.done()


def note_fault(press: Press, intent: it.NoteFault) -> Decided | Refused:
    """Something did not work; it is tied to the attempt under way in the stage of its time, or that had just ended
    there. One that waits for its result elsewhere has nothing to do with it.
    """
    case = press.case
    visit = visit_then(press)
    slots = {(visit.stage, visit.cusp or cusp) for cusp in case.order} if visit is not None else set()
    here = [a for a in case.attempts if (a.stage, a.cusp) in slots]
    begun = [a for a in here if press.mode == "live" or not press.precedes(a.start, a.seq)]
    attempt = begun[-1] if begun else None
    seq, cusp = (attempt.seq, attempt.cusp) if attempt is not None else (None, None)
    return _write_other(press, ev.FaultNoted(fault=intent.fault, attempt=seq, cusp=cusp, note=intent.note))


def write_note(press: Press, intent: it.WriteNote) -> Decided | Refused:
    """Free text, cleaned by whoever read it in."""
    visit = visit_then(press)
    return _write_other(press, ev.NoteWritten(text=intent.text, cusp=visit.cusp if visit else None))
