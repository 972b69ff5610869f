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
from labcheck.console.panels.reading import NUMBER, no_number, number
from labcheck.console.zones.rows import Piece, Rows


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
    return Dose(desk, drug)


class Dose(Ask):
    """The amount: typed, or one of the usual ones with Down and Enter.

    No digit picks here: "5000" typed in a hurry must never become the amount that stands beside a 5.
    """

    def __init__(self, desk: Desk, drug: Drug) -> None:
        lead = ["amounts offered here are common ones, no advice: the order and the local protocol decide"]
        super().__init__(
            desk,
            f"DRUG  {drug.title}",
            f"amount in {drug.unit}",
            self._typed,
            panel_id="drug",
            lead=lead,
            limit=12,
            allowed=NUMBER,
            foot="type the amount, or Down to one of these; Enter records it",
        )
        self.drug = drug
        self.offered: tuple[Decimal | None, ...] = (*drug.usual[:8], None)
        self.marked: int | None = None

    def body(self, rows: Rows) -> None:
        super().body(rows)
        for place, amount in enumerate(self.offered):
            words = "given, the amount is not known" if amount is None else f"{amount:f} {self.drug.unit}"
            if place == self.marked:
                rows.add(Piece(" > ", "held"), Piece(words, "held"))
            else:
                rows.add(Piece(f"   {words}"))

    def key(self, press: Press) -> bool:
        if press.key in ("down", "up"):
            step = 1 if press.key == "down" else -1
            at = (-1 if step > 0 else len(self.offered)) if self.marked is None else self.marked
            self.marked = min(max(0, at + step), len(self.offered) - 1)
            return True
        if press.key == "enter" and self.marked is not None:
            self._give(self.offered[self.marked], press)
            return True
        if press.key != "enter":
            self.marked = None
        return super().key(press)

    def _give(self, amount: Decimal | None, press: Press) -> None:
        unit = self.drug.unit if amount is not None else None
        record(self.desk, press, GiveDose, drug=self.drug.id, amount=amount, unit=unit)

    def _typed(self, text: str, press: Press) -> str:
        amount = number(text)
        if amount is None:
            return no_number(text) if text else "type the amount, or Down to a line"
        self._give(amount, press)
        return ""
