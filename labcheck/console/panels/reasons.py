"""Why: one key gives a reason from the checklist's list, 0 types one. Opens only in answer to a press."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from labcheck.caselog.deciding import Refused
from labcheck.caselog.deciding.moments import when
from labcheck.caselog.holds import Unmet
from labcheck.caselog.intents import Intent, OpenStage
from labcheck.caselog.limit_words import VERIFY, hold_tag, unmet_words
from labcheck.caselog.progress import call_words, next_slot
from labcheck.checklist import finding
from labcheck.checklist.model import ReasonUse
from labcheck.checklist.unfolding import Slot
from labcheck.console.panels import unmet_steps
from labcheck.console.panels.addendum import NOT_SAID
from labcheck.console.panels.again import as_first_pressed, titled
from labcheck.console.panels.asking import Ask
from labcheck.console.panels.panel import Desk, Panel, Press
from labcheck.console.panels.pick import Item, Pick
from labcheck.console.session import Refusal

USES: dict[str, ReasonUse] = {
    "stage.open": "hold",
    "stage.skip": "skip",
    "cusp.abandon": "abandon",
    "bailout.close": "abandon",
    "event.void": "correction",
    "event.amend": "correction",
    "addendum.add": "correction",
    "signout.settle": "signout",
    "decision.make": "decision",
    "step.answer": "not_done",
}


def reason_pick(
    desk: Desk,
    title: str,
    use: ReasonUse,
    then: Callable[[str, Press], None],
    lead: Sequence[str] = (),
    instead: Sequence[Item] = (),
) -> Panel:
    """Ask why. ``then`` gets the reason's text and the press that gave it.

    ``instead``: what makes a reason needless. It stands first, on the digits that the reasons leave free, or is
    reached with Down and Enter.
    """

    def typed(text: str, press: Press) -> str:
        if not text:
            return "type a few words, or Esc"
        then(text, press)
        return ""

    def other(_press: Press) -> None:
        desk.turn(Ask(desk, title, "reason", typed, panel_id="reason", lead=lead))

    reasons = finding.reasons_for(desk.case.checklist, use)[:9]
    items = [Item(reason.text, _giver(then, reason.text)) for reason in reasons]
    items = [Item(i.text, i.do, digit=str(n)) for n, i in enumerate(items, 1)]
    free = iter("9876"[: 9 - len(items)])
    items = [*(Item(i.text, i.do, digit=next(free, "")) for i in instead), *items]
    items.append(Item("another reason, typed", other, digit="0"))
    return Pick(desk, title, items, lead, panel_id="reason")


def _giver(then: Callable[[str, Press], None], text: str) -> Callable[[Press], None]:
    return lambda press: then(text, press)


def for_refusal(desk: Desk, refusal: Refusal) -> Panel:
    """The press was refused for want of a reason: ask for it and send the same intent again with it."""
    asked = _named(desk, refusal)
    stood = _standing(desk)

    def again(text: str, press: Press) -> None:
        desk.turn(None)
        if isinstance(asked.intent, OpenStage) and _standing(desk) != stood:
            desk.tell(f"NOT RECORDED: {_call(desk, asked)} was asked about, but the stages changed since: press again")
            return
        intent = as_first_pressed(asked.intent, asked.stamp, press.stamp)
        desk.send(_with_reason(intent, text, desk.press_id(), late=late), press.stamp)

    late = _wants_late_reason(desk, asked)
    use: ReasonUse = "late" if late else USES.get(do_of(asked.intent), "hold")
    stage = getattr(asked.intent, "stage", None) or ""
    lead = [f"not yet true: {_with_source(desk, stage, one)}" for one in refusal.why.unmet] or [refusal.why.reason]
    title = f"{_call(desk, asked)} ALL THE SAME? reason" if refusal.why.unmet else "REASON?"
    return reason_pick(desk, titled(title, asked.intent), use, again, lead, unmet_steps.items(desk, asked))


def _named(desk: Desk, refusal: Refusal) -> Refusal:
    """The refused call with its stage named: another undo or call must not make it mean another stage."""
    intent, slot = refusal.intent, next_slot(desk.case)
    if not isinstance(intent, OpenStage) or intent.stage is not None or slot is None:
        return refusal
    return replace(refusal, intent=intent.model_copy(update={"stage": slot.stage, "cusp": slot.cusp}))


def _standing(desk: Desk) -> tuple[int | None, Slot | None]:
    """What a call leans on: the open visit, and the call that is expected after it."""
    case = desk.case
    return case.visit.seq if case.visit is not None else None, next_slot(case)


def _call(desk: Desk, asked: Refusal) -> str:
    """The call, in the operator's words."""
    intent = asked.intent
    if not isinstance(intent, OpenStage) or intent.stage is None:
        return "GO ON"
    return f'"{call_words(desk.case, Slot(intent.stage, intent.cusp))}"'


def _with_source(desk: Desk, stage: str, one: Unmet) -> str:
    """What is not yet true, and where the limit in it comes from."""
    return f"{unmet_words(desk.case, stage, one)}{f'; {VERIFY}' if hold_tag(desk.case, stage, one.hold) else ''}"


def _wants_late_reason(desk: Desk, refusal: Refusal) -> bool:
    """Whether the time itself wants a reason (it is before the case was opened), and not what a hold waits for."""
    claim = refusal.intent.claim
    return claim is not None and claim.reason is None and isinstance(when(desk.case, claim, refusal.stamp), Refused)


def do_of(intent: Intent) -> str:
    """What the intent does, "stage.open"."""
    return str(getattr(intent, "do", ""))


def _with_reason(intent: Intent, text: str, press_id: str, *, late: bool) -> Intent:
    """The same intent with the reason where it is wanted: in its claim, or in the intent."""
    update: dict[str, object] = {"press": press_id}
    if late and intent.claim is not None:
        update["claim"] = intent.claim.model_copy(update={"reason": text})
        if getattr(intent, "reason", None) == NOT_SAID:
            update["reason"] = text
    elif "reason" in type(intent).model_fields:
        update["reason"] = text
    return intent.model_copy(update=update)
