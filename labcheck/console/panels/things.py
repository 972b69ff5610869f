"""Devices, faults, notes and decisions: short lists that end in one entry."""

from __future__ import annotations

from collections.abc import Callable
from typing import get_args

from labcheck.caselog.intents import MakeDecision, NoteFault, StartRun, StopRun, UseDevice, WriteNote
from labcheck.checklist import finding
from labcheck.checklist.model import Decision, Option, Thing
from labcheck.console.panels.asking import Ask
from labcheck.console.panels.panel import Desk, Panel, Press, record
from labcheck.console.panels.pick import Item, Pick
from labcheck.console.panels.reasons import reason_pick

ACTIONS: tuple[str, ...] = get_args(UseDevice.model_fields["action"].annotation)
"""What can be done with a device, as the entries spell it."""


def device_panel(desk: Desk) -> Panel | None:
    """Which device, then what was done with it."""
    items = [Item(thing.text, _device(desk, thing)) for thing in desk.case.checklist.device]
    return Pick(desk, "DEVICE", items, panel_id="device")


def _device(desk: Desk, thing: Thing) -> Callable[[Press], None]:
    items = [Item(action, _used(desk, thing, action)) for action in ACTIONS]
    return lambda _press: desk.turn(Pick(desk, f"DEVICE  {thing.text}", items, panel_id="device"))


def _used(desk: Desk, thing: Thing, action: str) -> Callable[[Press], None]:
    return lambda press: record(desk, press, UseDevice, device=thing.id, action=action)


def fault_panel(desk: Desk) -> Panel | None:
    """What did not work; it is tied to the attempt under way."""
    items = [Item(thing.text, _fault(desk, thing)) for thing in desk.case.checklist.fault]
    return Pick(desk, "FAULT", items, panel_id="fault")


def _fault(desk: Desk, thing: Thing) -> Callable[[Press], None]:
    return lambda press: record(desk, press, NoteFault, fault=thing.id)


def runs_panel(desk: Desk) -> Panel | None:
    """Everything that is counted on and off."""
    items: list[Item] = []
    for run in desk.case.checklist.run:
        on = any(spell.run == run.id and spell.end is None for spell in desk.case.spells)
        items.append(Item(f"{run.title} {'OFF' if on else 'on'}", _switch(desk, run.id, on), "on now" if on else ""))
    return Pick(desk, "ON / OFF", items, panel_id="runs")


def _switch(desk: Desk, run: str, on: bool) -> Callable[[Press], None]:
    return lambda press: record(desk, press, StopRun if on else StartRun, run=run)


def note_panel(desk: Desk) -> Panel | None:
    """Words. Never a name, never a number that tells who the patient is."""

    def done(text: str, press: Press) -> str:
        if not text:
            return "nothing typed"
        record(desk, press, WriteNote, text=text)
        return ""

    lead = ["no names, no patient numbers"]
    return Ask(desk, "NOTE", "note", done, panel_id="note", lead=lead, limit=500)


def decision_panel(desk: Desk) -> Panel | None:
    """All decisions of the checklist and how they stand."""
    case = desk.case
    items = [Item(d.ask, _decide(desk, d), _stands(desk, d)) for d in case.checklist.decision]
    return Pick(desk, "DECISION", items, panel_id="decision")


def start_decision(desk: Desk, decision_id: str) -> Panel | None:
    """Straight to one decision, for a step that asks for it."""
    decision = finding.decision(desk.case.checklist, decision_id)
    return _options(desk, decision) if decision is not None else None


def _stands(desk: Desk, decision: Decision) -> str:
    made = desk.case.decisions.get(decision.id)
    option = finding.option(decision.options, made.choice) if made else None
    return f"now: {option.text}" if option else ""


def _decide(desk: Desk, decision: Decision) -> Callable[[Press], None]:
    return lambda _press: desk.turn(_options(desk, decision))


def _options(desk: Desk, decision: Decision) -> Panel:
    items = [Item(option.text, _option(desk, decision, option)) for option in decision.options]
    return Pick(desk, decision.ask, items, panel_id="decision")


def _option(desk: Desk, decision: Decision, option: Option) -> Callable[[Press], None]:
    def chosen(press: Press) -> None:
        if not option.needs_reason:
            record(desk, press, MakeDecision, decision=decision.id, choice=option.id)
            return

        def because(text: str, again: Press) -> None:
            record(desk, again, MakeDecision, decision=decision.id, choice=option.id, reason=text)

        desk.turn(reason_pick(desk, f"WHY: {option.text}", "decision", because))

    return chosen
