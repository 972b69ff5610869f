"""The cusp: repair a wrong one, go to the other, abandon one, change the order."""

from __future__ import annotations

from collections.abc import Callable
from itertools import permutations

from labcheck.caselog.case import Case
from labcheck.caselog.deciding import Decided, decide
from labcheck.caselog.events import Event, EventVoided
from labcheck.caselog.intents import AbandonCusp, ChangeOrder, MoveCusp, OpenStage
from labcheck.caselog.progress import slot_state, stage_title
from labcheck.caselog.telling import clock_words, tell
from labcheck.checklist.unfolding import Slot, cusp_word
from labcheck.checklist.words import Cusp
from labcheck.console.panels.again import as_first_pressed
from labcheck.console.panels.panel import Desk, Panel, Press, record
from labcheck.console.panels.pick import Item, Pick
from labcheck.console.panels.reasons import reason_pick


def open_panel(desk: Desk) -> Panel | None:
    """Moving the last entry comes first: it is the repair, and must stay at two keys."""
    case = desk.case
    lead, items = _moves(desk)
    items += [Item(f"go to {stage_title(case, s.stage, s.cusp)}", _goer(desk, s)) for s in _next_elsewhere(desk)]
    items += [Item(f"abandon {cusp_word(c)}", _abandoner(desk, c)) for c in case.order if c not in case.abandoned]
    items += [Item(f"order: {_order_words(order)}", _orderer(desk, order)) for order in _orders(desk)]
    return Pick(desk, "CUSP", items, lead, panel_id="cusp")


def _moves(desk: Desk) -> tuple[list[str], list[Item]]:
    """The entry that a wrong cusp put in the wrong place, in words, and a line for each cusp it can go to.

    What would move is asked of the core itself, so that the panel names what the key then does.
    """
    case = desk.case
    lead: list[str] = []
    items: list[Item] = []
    for cusp in case.order if len(case.order) > 1 else ():
        found = decide(case, MoveCusp(press=desk.press_id(), cusp=cusp), desk.now())
        if not isinstance(found, Decided):
            continue
        moved = sorted(event.what.target for event in found.events if isinstance(event.what, EventVoided))
        own = [event for event in map(case.event, moved) if event is not None]
        root = next((event for event in own if getattr(event.what, "cusp", None)), None)
        if root is None:
            continue
        lead = _named(case, own)
        items.append(Item(f"move it to {cusp_word(cusp)}", _mover(desk, cusp, root.seq)))
    if not items and len(case.order) > 1:
        lead = ["no entry can be moved to another cusp now; E corrects older ones"]
    return lead, items


def _named(case: Case, moved: list[Event]) -> list[str]:
    """The latest of the entries that move, with its number and time, and how many go with it."""
    last = moved[-1]
    lines = [f"{last.seq}  {clock_words(last.happened)}  {tell(case, last)}"]
    if len(moved) > 1:
        others = "; ".join(f"{event.seq} {tell(case, event)}" for event in moved[:-1])
        lines.append(f"with {len(moved) - 1} more that belong to it: {others}")
    return lines


def _present(desk: Desk) -> Cusp | None:
    visit = desk.case.visit
    return visit.cusp if visit else None


def _next_elsewhere(desk: Desk) -> list[Slot]:
    """The next unfinished stage of each other cusp."""
    case, found = desk.case, []
    for cusp in case.order:
        if cusp == _present(desk) or cusp in case.abandoned:
            continue
        waiting = [s for s in case.slots if s.cusp == cusp and slot_state(case, s) in ("waiting", "left", "passed")]
        found += waiting[:1]
    return found


def _orders(desk: Desk) -> list[tuple[Cusp, ...]]:
    order = desk.case.order
    return [p for p in permutations(order) if p != order][:5]


def _order_words(order: tuple[Cusp, ...]) -> str:
    return ", then ".join(cusp_word(c) for c in order)


def _mover(desk: Desk, cusp: Cusp, target: int) -> Callable[[Press], None]:
    return lambda press: record(desk, press, MoveCusp, cusp=cusp, target=target)


def _goer(desk: Desk, slot: Slot) -> Callable[[Press], None]:
    return lambda press: record(desk, press, OpenStage, stage=slot.stage, cusp=slot.cusp)


def _abandoner(desk: Desk, cusp: Cusp) -> Callable[[Press], None]:
    def ask(first: Press) -> None:
        def because(text: str, press: Press) -> None:
            intent = AbandonCusp(press=desk.press_id(), cusp=cusp, reason=text)
            desk.turn(None)
            desk.send(as_first_pressed(intent, first.stamp, press.stamp), press.stamp)

        desk.turn(reason_pick(desk, f"ABANDON {cusp_word(cusp)}: why", "abandon", because))

    return ask


def _orderer(desk: Desk, order: tuple[Cusp, ...]) -> Callable[[Press], None]:
    return lambda press: record(desk, press, ChangeOrder, targets=order)
