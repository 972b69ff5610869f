"""Stages: back to the one before, jump to any, skip one by call."""

from __future__ import annotations

from collections.abc import Callable

from labcheck.caselog.intents import CloseStage, OpenStage, SkipStage
from labcheck.caselog.progress import next_slot, slot_state, stage_title
from labcheck.checklist.unfolding import Slot
from labcheck.console.panels.again import as_first_pressed
from labcheck.console.panels.panel import Desk, Panel, Press, record
from labcheck.console.panels.pick import Item, Pick
from labcheck.console.panels.reasons import reason_pick

STATE_WORDS = {
    "open": "OPEN NOW", "done": "done", "left": "left, to be taken up again", "skipped": "skipped",
    "abandoned": "abandoned", "passed": "MISSING", "waiting": "to come",
}  # fmt: skip


def open_panel(desk: Desk) -> Panel | None:
    """0 goes back at once; the list shows how every stage stands."""
    case = desk.case
    items = [Item(stage_title(case, s.stage, s.cusp), _chosen(desk, s), _stands(desk, s)) for s in case.slots]
    digits = "123456789"
    items = [Item(i.text, i.do, i.note, digits[n] if n < len(digits) else "") for n, i in enumerate(items)]
    back = _before(desk)
    head: list[Item] = []
    if back is not None:
        head = [Item(f"BACK to {stage_title(case, back.stage, back.cusp)}", _opener(desk, back), digit="0")]
    tail = [Item("close the open stage, none follows yet", _closer(desk))] if case.visit else []
    panel = Pick(desk, "STAGES", [*head, *items, *tail], panel_id="stages")
    panel.pinned = len(head)
    slot = next_slot(case)
    if slot in case.slots:
        panel.at = len(head) + case.slots.index(slot)
    return panel


def _stands(desk: Desk, slot: Slot) -> str:
    state = STATE_WORDS[slot_state(desk.case, slot)]
    visits = sum(1 for v in desk.case.visits if v.slot == slot)
    return f"{state}, {visits} visits" if visits > 1 else state


def _before(desk: Desk) -> Slot | None:
    """The stage the case was in before this one."""
    case = desk.case
    present = case.visit.slot if case.visit else None
    return next((v.slot for v in reversed(case.visits) if v.slot != present), None)


def _opener(desk: Desk, slot: Slot) -> Callable[[Press], None]:
    return lambda press: record(desk, press, OpenStage, stage=slot.stage, cusp=slot.cusp)


def _closer(desk: Desk) -> Callable[[Press], None]:
    return lambda press: record(desk, press, CloseStage)


def _chosen(desk: Desk, slot: Slot) -> Callable[[Press], None]:
    title = stage_title(desk.case, slot.stage, slot.cusp)

    def choose(press: Press) -> None:
        if slot_state(desk.case, slot) in ("done", "skipped", "abandoned"):
            record(desk, press, OpenStage, stage=slot.stage, cusp=slot.cusp)
            return
        items = [Item(f"go to {title} now", _opener(desk, slot)), Item(f"skip {title}", _skipper(desk, slot))]
        desk.turn(Pick(desk, title, items, panel_id="stages"))

    return choose


def _skipper(desk: Desk, slot: Slot) -> Callable[[Press], None]:
    title = stage_title(desk.case, slot.stage, slot.cusp)

    def ask(first: Press) -> None:
        def because(text: str, press: Press) -> None:
            intent = SkipStage(press=desk.press_id(), stage=slot.stage, cusp=slot.cusp, reason=text)
            desk.turn(None)
            desk.send(as_first_pressed(intent, first.stamp, press.stamp), press.stamp)

        desk.turn(reason_pick(desk, f"SKIP {title}: why", "skip", because))

    return ask
