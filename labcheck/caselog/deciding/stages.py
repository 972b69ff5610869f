"""Opening, closing and skipping stages; decisions, abandoning a cusp, changing the order."""

from __future__ import annotations

from labcheck.caselog import events as ev
from labcheck.caselog import intents as it
from labcheck.caselog.case import Case
from labcheck.caselog.deciding.moments import before, visit_then
from labcheck.caselog.deciding.result import Decided, Press, Refused
from labcheck.caselog.holds import unmet
from labcheck.caselog.progress import closing, jumped, next_slot, slot_state, stage_title
from labcheck.caselog.stamps import Mode, Moment, Stamp, span
from labcheck.checklist import finding
from labcheck.checklist.unfolding import Slot, cusp_word
from labcheck.checklist.words import Cusp


def open_stage(press: Press, intent: it.OpenStage) -> Decided | Refused:
    """The next call, or a call for a named stage."""
    case = press.case
    bounced = _bounced(press, intent)
    if bounced is not None:
        return bounced
    slot = _asked_for(case, intent)
    if slot is None:
        return close_stage(press) if case.visit is not None else Refused("no further call is expected")
    if isinstance(slot, Refused):
        return slot
    visit = case.visit
    if visit is not None and visit.slot == slot:
        return Refused(f"already in {stage_title(case, slot.stage, slot.cusp)}")
    if visit is not None and before(press, visit):
        return Refused(f"that is before {stage_title(case, visit.stage, visit.cusp)} began")
    still = visit_then(press) if visit is None and press.mode != "live" else None
    if still is not None:
        title = stage_title(case, still.stage, still.cusp)
        return Refused(
            f"{title} was still open then: say a later time, or amend the time of #{still.end_seq} if it ended earlier"
        )
    missing = unmet(press.known, slot, press.at)
    reason = intent.reason or _rescue_reason(case, slot)
    if missing and not reason:
        more = f" (and {len(missing) - 1} more)" if len(missing) > 1 else ""
        return Refused(f"hold: {missing[0].text}{more}", missing, needs="reason")
    _write_opening(press, slot, reason or "", missing)
    return press.done()


def _write_opening(press: Press, slot: Slot, reason: str, missing: tuple[object, ...]) -> None:
    case = press.case
    if case.visit is not None:
        press.write(ev.StageClosed(opened=case.visit.seq, how=closing(case, slot)))
    write_passed(press, press.known, slot, reason, press.at)
    number = 1 + sum(1 for v in case.visits if v.slot == slot)
    press.write(ev.StageOpened(stage=slot.stage, cusp=slot.cusp, visit=number))


def write_passed(
    press: Press,
    case: Case,
    slot: Slot,
    reason: str,
    then: Stamp | Moment,
    *,
    at: Moment | None = None,
    mode: Mode | None = None,
) -> None:
    """What opening a slot passes over and is held by, as ``case`` stood ``then``; nothing where all is true."""
    for passed in jumped(case, slot):
        skipped = ev.StageSkipped(stage=passed.stage, cusp=passed.cusp, why="call", reason=reason)
        press.write(skipped, at=at, mode=mode)
    held: dict[str, list[str]] = {}
    for line in unmet(case, slot, then):
        held.setdefault(line.hold, []).append(line.text[:200])
    for hold, lines in held.items():
        if hold != "order":
            press.write(
                ev.HoldPassed(stage=slot.stage, cusp=slot.cusp, hold=hold, unmet=tuple(lines), reason=reason),
                at=at,
                mode=mode,
            )


def _bounced(press: Press, intent: it.OpenStage) -> Decided | Refused | None:
    """A second press of the next-call key too soon after the first does nothing, and the log says so once."""
    case = press.case
    if intent.stage is not None or press.mode != "live" or not case.visits:
        return None
    last = case.event(case.visits[-1].seq)
    if last is None or last.mode != "live":
        return None
    gap = span(last.entered.moment(), press.stamp.moment()).us
    if not 0 <= gap < case.checklist.bounce_ms * 1000:
        return None
    if case.log[-1].kind == "press.bounced":
        return Refused("pressed again too soon: ignored")
    press.write(ev.PressBounced(after=last.seq, gap_us=gap))
    return press.done()


def _asked_for(case: Case, intent: it.OpenStage) -> Slot | Refused | None:
    if intent.stage is None:
        return next_slot(case)
    return slot_named(case, intent.stage, intent.cusp)


def slot_named(case: Case, stage_id: str, cusp: Cusp | None) -> Slot | Refused:
    """The slot a stage and cusp name; the cusp defaults to the one being worked on."""
    stage = finding.stage(case.checklist, stage_id)
    if stage is None:
        return Refused(f"this checklist has no stage '{stage_id}'")
    if not stage.per_cusp:
        return Slot(stage_id, None)
    chosen = cusp or present_cusp(case)
    if chosen is None or chosen not in case.order:
        return Refused(
            f"{cusp_word(chosen) or 'no cusp'} is not a planned cusp: plan {' or '.join(case.order)}"
        )
    return Slot(stage_id, chosen)


def present_cusp(case: Case) -> Cusp | None:
    """The cusp being worked on: that of the open visit, else of the last one, else the first planned."""
    if case.visit is not None and case.visit.cusp is not None:
        return case.visit.cusp
    last = next((v.cusp for v in reversed(case.visits) if v.cusp is not None), None)
    return last or next((c for c in case.order if c not in case.abandoned), None)


def cusp_then(press: Press) -> Cusp | None:
    """The cusp that was being worked on when it happened."""
    case = press.case
    if press.mode == "live":
        return present_cusp(case)
    visit = visit_then(press)
    if visit is not None and visit.cusp is not None:
        return visit.cusp
    begun = [v.cusp for v in case.visits if v.cusp is not None and not press.precedes(v.start, v.seq)]
    return begun[-1] if begun else next((c for c in case.order if c not in case.abandoned), None)


def _rescue_reason(case: Case, slot: Slot) -> str | None:
    """A rescue that leads to this slot is itself the reason for what it passes over."""
    ended = [b for b in case.bailouts if b.end_seq is not None and b.lead in ("jump", "convert")]
    if not ended:
        return None
    rescue = max(ended, key=lambda b: b.end_seq or 0)
    if any(v.seq > (rescue.end_seq or 0) for v in case.visits):
        return None
    path = finding.bailout(case.checklist, rescue.what.bailout)
    return f"rescue: {path.title}" if path is not None and path.jump_to == slot.stage else None


def close_stage(press: Press) -> Decided | Refused:
    """The open visit ends and no other opens."""
    case = press.case
    if case.visit is None:
        return Refused("no stage is open")
    if before(press, case.visit):
        return Refused(f"that is before {stage_title(case, case.visit.stage, case.visit.cusp)} began")
    press.write(ev.StageClosed(opened=case.visit.seq, how=closing(case, None)))
    return press.done()


def skip_stage(press: Press, intent: it.SkipStage) -> Decided | Refused:
    """A stage is passed over on purpose."""
    case = press.case
    slot = slot_named(case, intent.stage, intent.cusp)
    if isinstance(slot, Refused):
        return slot
    state = slot_state(case, slot)
    if state in ("open", "done", "skipped", "abandoned"):
        return Refused(f"{stage_title(case, slot.stage, slot.cusp)} is {state} already")
    press.write(ev.StageSkipped(stage=slot.stage, cusp=slot.cusp, why="call", reason=intent.reason))
    return press.done()


def make_decision(press: Press, intent: it.MakeDecision) -> Decided | Refused:
    """A decision, what it skips, and the step that asked for it."""
    case = press.case
    decision = finding.decision(case.checklist, intent.decision)
    if decision is None:
        return Refused(f"this checklist has no decision '{intent.decision}'")
    option = finding.option(decision.options, intent.choice)
    if option is None:
        known = ", ".join(o.id for o in decision.options)
        return Refused(f"{decision.ask}: '{intent.choice}' is none of {known}")
    if option.needs_reason and not intent.reason:
        return Refused(f"{decision.ask}: {option.text} needs a reason", needs="reason")
    press.write(ev.DecisionMade(decision=decision.id, choice=option.id, reason=intent.reason))
    for slot in case.slots:
        if slot.stage in option.skips and slot_state(case, slot) in ("waiting", "passed", "left", "skipped"):
            why = f"{decision.ask}: {option.text}"[:200]
            press.write(ev.StageSkipped(stage=slot.stage, cusp=slot.cusp, why="decision", reason=why))
    _answer_asking_step(press, decision.id, option.id, intent.reason)
    return press.done()


def _answer_asking_step(press: Press, decision: str, choice: str, reason: str | None) -> None:
    for stage in press.case.checklist.stage:
        for step in stage.step:
            if step.decision == decision and not stage.per_cusp:
                visit = next((v for v in reversed(press.case.visits) if v.stage == stage.id), None)
                press.write(
                    ev.StepAnswered(
                        stage=stage.id,
                        step=step.id,
                        opened=visit.seq if visit else None,
                        answer="value",
                        value=choice,
                        reason=reason,
                    )
                )
                return


def abandon_cusp(press: Press, cusp: Cusp, reason: str) -> Refused | None:
    """Nothing more on this cusp: its open attempt ends as abandoned. Energy that is on stays on the record as on."""
    case = press.case
    if cusp not in case.order:
        return Refused(f"{cusp_word(cusp)} is not a planned cusp")
    if cusp in case.abandoned:
        return Refused(f"{cusp_word(cusp)} is abandoned already")
    attempt = case.attempt
    if attempt is not None and attempt.cusp == cusp:
        if before(press, attempt):
            return Refused(f"that is before attempt {attempt.number} began")
        press.write(ev.AttemptClosed(attempt=attempt.seq, outcome="abandoned", reason=reason))
    press.write(ev.CuspAbandoned(cusp=cusp, reason=reason))
    return None


def change_order(press: Press, intent: it.ChangeOrder) -> Decided | Refused:
    """Another order, or another set, of cusps. A cusp that was worked on stays; it can be abandoned."""
    case = press.case
    if len(set(intent.targets)) != len(intent.targets) or not intent.targets:
        return Refused("name each cusp once")
    if intent.targets == case.order:
        return Refused("that is the order already")
    strange = [c for c in intent.targets if c not in case.checklist.cusps]
    if strange:
        return Refused(f"this checklist is not for the {cusp_word(strange[0])} cusp")
    if len(intent.targets) > case.checklist.max_cusps:
        return Refused(f"this checklist is for at most {case.checklist.max_cusps} cusps")
    begun = {v.cusp for v in case.visits} | {a.cusp for a in case.attempts} | set(case.abandoned)
    gone = [c for c in case.order if c not in intent.targets and c in begun]
    if gone:
        return Refused(f"{cusp_word(gone[0])} was begun: abandon it instead of taking it out")
    if set(intent.targets) != set(case.order) and not intent.reason:
        return Refused("another set of cusps than planned needs a reason", needs="reason")
    press.write(ev.OrderChanged(targets=intent.targets, reason=intent.reason))
    return press.done()
