"""What can be pressed with a checklist's own words: a strategy for the fields of each intent.

Most draws fit the checklist, so that a random case gets far; some name a thing it does not know.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import Decimal
from typing import Any, get_args

from hypothesis import strategies as st

from labcheck.caselog.events import ClockNoticed, ReadingTaken
from labcheck.checklist import finding
from labcheck.checklist.model import Bailout, Checklist, Option, ReasonUse, Stage, Step
from labcheck.checklist.words import Cusp, Ostium

Fields = dict[str, st.SearchStrategy[Any]]
SEQ = st.integers(min_value=1, max_value=150)
OSTIA = st.none() | st.sampled_from(get_args(Ostium))
CUSPS: tuple[str, ...] = get_args(Cusp)


def ids(things: Iterable[Any]) -> st.SearchStrategy[str]:
    """One of their ids, or now and then one that nobody knows."""
    known = [thing.id for thing in things]
    return st.sampled_from([*known * 3, "unknown"])


def numbers(low: Decimal | None, high: Decimal | None) -> st.SearchStrategy[Decimal]:
    """Inside the soft range, on its ends and outside."""
    bottom, top = low or Decimal(0), high or Decimal(1000)
    middle = (bottom + top) / 2
    return st.sampled_from([bottom, middle, middle, middle + 1, top, top * 3 + 1, Decimal("-1")])


def reasons(checklist: Checklist, use: ReasonUse) -> st.SearchStrategy[str | None]:
    """A reason that the checklist offers for this, one typed, or none."""
    return st.sampled_from([None, "typed =1+1", *(r.id for r in checklist.reason if use in r.uses)])


def value_of(checklist: Checklist, step: Step) -> st.SearchStrategy[str | None]:
    """An answer that the step can take."""
    if step.kind == "reading":
        reading = finding.reading(checklist, step.reading or "")
        assert reading is not None
        if reading.options:
            return _option(reading.options)
        return numbers(reading.low, reading.high).map(str)
    if step.kind == "dose":
        drug = finding.drug(checklist, step.drug or "")
        assert drug is not None
        return st.none() | numbers(drug.low, drug.high).map(str)
    if step.kind == "decision":
        decision = finding.decision(checklist, step.decision or "")
        assert decision is not None
        return _option(decision.options)
    if step.kind == "choice":
        return _option(step.options)
    if step.kind == "device":
        return st.sampled_from([thing.id for thing in checklist.device])
    plain = {"number": "50", "time": "09:14:05", "text": "[/] said", "projection": "-20 15"}
    return st.just(plain.get(step.kind))


def good_answer(checklist: Checklist, step: Step, draw: Any) -> dict[str, Any]:
    """Fields of an answer that does what the step asks, accepted if it is odd."""
    value = None if step.kind == "done" else draw(value_of(checklist, step), label=step.id)
    kind = "done" if value is None else "value"
    return {"step": step.id, "answer": kind, "value": value, "accept": True, "reason": "operator_call"}


def _option(options: Sequence[Option]) -> st.SearchStrategy[str]:
    return st.sampled_from([option.id for option in options])


def vocabulary(checklist: Checklist) -> dict[str, Fields]:
    """For every kind of intent but the opening, the fields it can be pressed with."""
    holders: list[Stage | Bailout] = [*checklist.stage, *checklist.bailout]
    steps = [step for holder in holders for step in holder.step]
    places = [stage.id for stage in checklist.stage]
    rescues = [f"{finding.BAILOUT_PREFIX}{card.id}" for card in checklist.bailout]
    cusp = st.sampled_from([*checklist.cusps * 2, *CUSPS])
    outcomes = [o.id for s in checklist.stage if s.attempts for o in s.attempts.outcomes]
    values = st.sampled_from(
        [o.id for s in steps for o in s.options] + ["274", "1e5", "x", "-20 15", "09:14"]
    )
    reading_ids, runs = ids(checklist.reading), ids(checklist.run)
    return {
        "stage.open": {
            "stage": st.none() | ids(checklist.stage), "cusp": st.none() | cusp,
            "reason": reasons(checklist, "hold"),
        },
        "stage.close": {},
        "stage.skip": {
            "stage": st.sampled_from(places), "cusp": st.none() | cusp, "reason": st.just("operator_call"),
        },
        "step.answer": {
            "step": ids(steps), "stage": st.none() | st.sampled_from([*places, *rescues]),
            "cusp": st.none() | cusp,
            "answer": st.sampled_from(["done", "not_done", "not_applicable", "value"]),
            "value": st.none() | values, "reason": reasons(checklist, "not_done"), "accept": st.booleans(),
        },
        "decision.make": {
            "decision": ids(checklist.decision),
            "choice": ids(option for decision in checklist.decision for option in decision.options),
            "reason": reasons(checklist, "decision"),
        },
        "attempt.open": {},
        "attempt.close": {
            "outcome": st.sampled_from(outcomes), "stage": st.none() | st.sampled_from(places),
            "cusp": st.none() | cusp,
        },
        "energy.on": {"watts": st.none() | st.integers(min_value=0, max_value=100)},
        "energy.off": {},
        "run.start": {"run": runs, "rate": st.none() | numbers(Decimal(60), Decimal(220))},
        "run.stop": {"run": runs},
        "sample.send": {"reading": reading_ids},
        "reading.take": {
            "reading": reading_ids, "value": st.none() | numbers(Decimal(0), Decimal(400)),
            "unit": st.none() | st.sampled_from(sorted({u for r in checklist.reading for u in r.units})),
            "choice": st.none() | ids(o for r in checklist.reading for o in r.options),
            "ostium": OSTIA, "judged_by": st.none() | ids(o for r in checklist.reading for o in r.judged_by),
            "reset": st.booleans(), "accept": st.booleans(),
        },
        "dose.give": {
            "drug": ids(checklist.drug), "amount": st.none() | numbers(Decimal(10), Decimal(5000)),
            "accept": st.booleans(),
        },
        "device.use": {
            "device": ids(checklist.device), "action": st.sampled_from(["opened", "placed", "changed", "failed"]),
        },
        "fault.note": {"fault": ids(checklist.fault)},
        "note.write": {"text": st.sampled_from(["[/]", "=1+1", "plain"])},
        "mark.set": {},
        "bailout.open": {"bailout": ids(checklist.bailout), "cusp": st.none() | cusp, "ostium": OSTIA},
        "bailout.close": {
            "bailout": st.none() | ids(checklist.bailout),
            "outcome": ids(o for card in checklist.bailout for o in card.outcomes),
            "lead": st.sampled_from(["carry_on", "abandon_cusp", "jump", "convert"]),
        },
        "cusp.abandon": {"cusp": cusp, "reason": st.just("no_time")},
        "order.change": {
            "targets": st.lists(cusp, max_size=3).map(tuple), "reason": reasons(checklist, "hold"),
        },
        "cusp.move": {"cusp": cusp, "target": st.none() | SEQ},
        "prompt.silence": {"prompt": ids(checklist.watch)},
        "handover.make": {"incoming": st.sampled_from(["N1", "N2"])},
        "clock.compare": {"reading_us": st.integers(min_value=0, max_value=2**53 - 1)},
        "clock.notice": {"found": st.just(ClockNoticed(notice="step", amount_us=3_600_000_000, basis="wall"))},
        "event.void": {"target": SEQ, "reason": st.just("wrong_key")},
        "event.amend": {
            "target": SEQ,
            "field": st.sampled_from(["value", "amount", "choice", "outcome", "happened", "cusp", "ostium"]),
            "value": st.none() | values, "reason": st.just("misheard"),
        },
        "signout.settle": {"item": ids(checklist.signout), "reason": st.just("operator_call")},
        "case.seal": {},
        "seal.attest": {"head": st.just("ABCD")},
        "addendum.add": {
            "fact": st.just(ReadingTaken(reading="act", value=Decimal(302), unit="s")),
            "reason": st.just("told_later"),
        },
        "lease.take": {"console": st.just("other"), "reason": st.just("first died")},
        "undo": {},
    }  # fmt: skip
