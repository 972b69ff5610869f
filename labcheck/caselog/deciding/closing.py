"""Handover, clocks, prompts, sign-out, the seal, and what may still be said after it."""

from __future__ import annotations

from labcheck.caselog import events as ev
from labcheck.caselog import intents as it
from labcheck.caselog.deciding.moments import before
from labcheck.caselog.deciding.result import Decided, Press, Refused
from labcheck.caselog.deciding.soundness import unsound
from labcheck.caselog.handover import open_items
from labcheck.caselog.holds import Unmet
from labcheck.caselog.ranges import out_of_range
from labcheck.caselog.signout import signout_items

REACTION_US = 500_000
"""Allowance for the hand when a clock is read off (own estimate, no source)."""


def open_case(press: Press, intent: it.OpenCase) -> Decided | Refused:
    """The first event."""
    checklist = press.case.checklist
    plan = intent.plan
    if press.case.log:
        return Refused("this case is open already")
    if plan.technique != checklist.technique:
        return Refused(f"the plan says {plan.technique}, the checklist is for {checklist.technique}")
    strange = [c for c in plan.targets if c not in checklist.cusps]
    if strange:
        return Refused(f"this checklist is not for the {strange[0]} cusp: use {', '.join(checklist.cusps)}")
    if len(plan.targets) > checklist.max_cusps:
        return Refused(f"this checklist is for at most {checklist.max_cusps} cusps")
    if plan.substrate not in checklist.substrates:
        return Refused(f"this checklist is not for a {plan.substrate} valve")
    press.write(
        ev.CaseOpened(
            plan=plan,
            checklist_id=checklist.id,
            checklist_revision=checklist.revision[:80],
            checklist_digest=intent.checklist_digest,
            rehearsal=intent.rehearsal,
            recorder=intent.recorder,
        )
    )
    press.written[0] = press.written[0].model_copy(update={"recorder": intent.recorder})
    return press.done()


def hand_over(press: Press, intent: it.HandOver) -> Decided | Refused:
    """The recorder changes; the open items are read back and kept."""
    case = press.case
    if intent.incoming == case.recorder:
        return Refused(f"{intent.incoming} is the recorder already")
    items = tuple(line[:200] for line in open_items(case, press.stamp))
    press.write(ev.HandoverMade(outgoing=case.recorder, incoming=intent.incoming, open_items=items))
    return press.done()


def compare_clock(press: Press, intent: it.CompareClock) -> Decided | Refused:
    """Another clock was read against this console's."""
    press.write(
        ev.ClockCompared(
            clock=intent.clock,
            reading_us=intent.reading_us,
            resolution_us=intent.resolution_us,
            offset_us=intent.reading_us - press.at.wall_us,
            uncertainty_us=intent.resolution_us // 2 + REACTION_US,
        )
    )
    return press.done()


def silence(press: Press, intent: it.SilencePrompt) -> Decided | Refused:
    """A reminder stays silent for the rest of the case."""
    if intent.prompt in press.case.silenced:
        return Refused(f"{intent.prompt} is silent already")
    press.write(ev.PromptSilenced(prompt=intent.prompt))
    return press.done()


def settle(press: Press, intent: it.SettleSignout) -> Decided | Refused:
    """An open sign-out item is settled by a reason."""
    items = {item.id: item for item in signout_items(press.case, press.stamp)}
    item = items.get(intent.item)
    if item is None:
        return Refused(f"'{intent.item}' is not open on the sign-out list")
    if item.settled is not None:
        return Refused(f"settled already: {item.text}")
    press.write(ev.SignoutSettled(item=item.id[:80], text=item.text[:200], reason=intent.reason))
    return press.done()


def seal(press: Press) -> Decided | Refused:
    """Close the case for good, once nothing is open that has not been settled."""
    case = press.case
    left = [item for item in signout_items(case, press.stamp) if item.settled is None]
    if left:
        lines = tuple(Unmet(item.id, item.text) for item in left)
        more = f" (and {len(left) - 1} more)" if len(left) > 1 else ""
        return Refused(f"still open: {left[0].text}{more}: do it, or settle it with a reason", lines)
    press.write(ev.CaseSealed(entries=case.head_seq, signed_by=case.recorder))
    return press.done()


def attest(press: Press, intent: it.AttestSeal) -> Decided | Refused:
    """The head on paper was read back."""
    press.write(ev.SealAttested(head=intent.head, note=intent.note))
    return press.done()


def add_fact(press: Press, intent: it.AddFact) -> Decided | Refused:
    """A fact that became known after the seal; it says when it happened."""
    if intent.claim is None:
        return Refused("say when it happened: after the seal nothing happens now")
    wrong = _wrong_fact(press, intent.fact, intent.accept)
    if wrong is not None:
        return wrong
    strange = out_of_range(press.case.checklist, intent.fact)
    if strange and not intent.accept:
        return Refused(f"{strange}: again to accept", needs="accept")
    fact = intent.fact.model_copy(update={"outside": True}) if strange else intent.fact
    press.write(ev.AddendumAdded(fact=fact, reason=intent.reason))
    return press.done()


def _wrong_fact(press: Press, fact: ev.Fact, accept: bool) -> Refused | None:
    """Why this cannot be added: what it names is not there, or nobody could have entered it."""
    case = press.case
    named = [getattr(fact, field, None) for field in ev.REFERENCES]
    gone = [n for n in named if isinstance(n, int) and not case.counts(n)]
    if gone:
        return Refused(f"there is no entry #{gone[0]} that counts")
    if isinstance(fact, ev.AttemptClosed):
        tried = next((a for a in case.attempts if a.seq == fact.attempt), None)
        if tried is not None and tried.outcome is not None:
            return Refused(
                f"attempt {tried.number} has its result already: void #{tried.end_seq} first if that is wrong"
            )
        if tried is not None and before(press, tried):
            return Refused(f"that is before attempt {tried.number} began")
    if isinstance(fact, ev.ReadingTaken) and fact.sample is not None:
        sent = next((s for s in case.samples if s.seq == fact.sample), None)
        if sent is None or sent.answered is not None or sent.reading != fact.reading:
            return Refused(f"#{fact.sample} is no sample that waits for this result: leave the sample out")
    return unsound(case, fact, accept=accept)
