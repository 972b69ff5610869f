"""A drug given. The usual amounts are offered; in a hurry the amount may stay unsaid, and is then unknown."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal

from labcheck.caselog.intents import GiveDose
from labcheck.checklist import finding
from labcheck.checklist.model import Drug
from labcheck.console.panels.asking import Ask
from labcheck.console.panels.panel import Desk, Panel, Press, record
from labcheck.console.panels.pick import Item, Pick
from labcheck.console.panels.reading import NUMBER, number


def open_panel(desk: Desk) -> Panel | None:
    """All drugs of the checklist."""
    items = [Item(drug.title, _starter(desk, drug)) for drug in desk.case.checklist.drug]
    return Pick(desk, "DRUG", items, panel_id="drug")


def start(desk: Desk, drug_id: str) -> Panel | None:
    """Straight to one drug, for a step that asks for it."""
    drug = finding.drug(desk.case.checklist, drug_id)
    if drug is None:
        desk.tell(f"the checklist has no drug {drug_id}")
        return None
    return _amount(desk, drug)


def _starter(desk: Desk, drug: Drug) -> Callable[[Press], None]:
    return lambda _press: desk.turn(_amount(desk, drug))


def _amount(desk: Desk, drug: Drug) -> Panel:
    items = [
        Item(f"{amount} {drug.unit}", _giver(desk, drug, amount), digit=str(place))
        for place, amount in enumerate(drug.usual[:8], 1)
    ]
    items.append(Item("given, the amount is not known", _giver(desk, drug, None), digit="9"))
    items.append(Item("another amount, typed", lambda _press: desk.turn(_typed(desk, drug)), digit="0"))
    lead = ["amounts offered here are common ones, no advice: the order and the local protocol decide"]
    return Pick(desk, f"DRUG  {drug.title}", items, lead, panel_id="drug")


def _giver(desk: Desk, drug: Drug, amount: Decimal | None) -> Callable[[Press], None]:
    unit = drug.unit if amount is not None else None
    return lambda press: record(desk, press, GiveDose, drug=drug.id, amount=amount, unit=unit)


def _typed(desk: Desk, drug: Drug) -> Panel:
    def done(text: str, press: Press) -> str:
        amount = number(text)
        if amount is None:
            return f'"{text}" is not a number'
        record(desk, press, GiveDose, drug=drug.id, amount=amount, unit=drug.unit)
        return ""

    return Ask(desk, f"DRUG  {drug.title}", f"amount in {drug.unit}", done, panel_id="drug", limit=12, allowed=NUMBER)
