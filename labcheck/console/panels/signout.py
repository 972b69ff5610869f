"""Sign-out: what still stands open, settled by doing it or by a reason; then the seal, and the head for paper."""

from __future__ import annotations

from collections.abc import Callable

from labcheck.caselog.case import Case
from labcheck.caselog.coronaries import late_watch_lines
from labcheck.caselog.intents import AttestSeal, SealCase, SettleSignout
from labcheck.caselog.signout import Item as Open
from labcheck.caselog.signout import signout_items
from labcheck.console.panels.asking import Ask
from labcheck.console.panels.panel import Desk, Panel, Press, record
from labcheck.console.panels.pick import Item, Pick
from labcheck.console.panels.reasons import reason_pick
from labcheck.ledger.chain import FIRST_PREV, head_of, link_all, same_head, short_head


def open_panel(desk: Desk) -> Panel | None:
    """The list, or once the case is sealed what was sealed."""
    if desk.case.seal is not None:
        return sealed(desk)
    items = signout_items(desk.case, desk.now())
    left = [item for item in items if item.settled is None]
    settled = [item for item in items if item.settled is not None]
    if left:
        lead = [f"{len(left)} open: do it (Esc first), or pick it and give a reason. Then the case can be closed."]
        lines = [Item(_text(item), _settler(desk, item)) for item in left]
        return Pick(desk, "SIGN-OUT", lines, [*lead, *_settled(settled)], "signout")
    lead = [
        f"nothing is open. {desk.case.head_seq} entries. Closing seals them; corrections are then new entries.",
        *(told.words for told in late_watch_lines(desk.case)),
        *_settled(settled),
    ]
    # No digit: whatever key was held down to get here, it does not seal. Nothing takes a seal back.
    seal = Item("close the case and seal it", _sealer(desk), "Down and then Enter", arrows=True)
    panel = Pick(desk, "SIGN-OUT", [seal], lead, "signout")
    panel.hints = (("Down", "move"), ("Enter", "pick"))
    return panel


def _settled(items: list[Open]) -> list[str]:
    """Few are told in full; many would push the lines to pick from off a small screen."""
    if len(items) > 1:
        return [f"{len(items)} settled with a reason: E shows them"]
    return [f"settled: {item.text} ({item.settled})" for item in items]


def _text(item: Open) -> str:
    return f"KILLER STEP  {item.text}" if item.killer else item.text


def _settler(desk: Desk, item: Open) -> Callable[[Press], None]:
    def ask(_press: Press) -> None:
        def because(text: str, press: Press) -> None:
            # Settling goes one by one; the list comes back with the acknowledgement until it is empty.
            desk.turn(Waiting(desk))
            desk.send(SettleSignout(press=desk.press_id(), item=item.id, reason=text), press.stamp)

        desk.turn(reason_pick(desk, "WHY IT STAYS OPEN", "signout", because, [item.text]))

    return ask


class Waiting(Pick):
    """Shown until the settled item is in the ledger; the screen then turns to the list again."""

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk, "SIGN-OUT", [], ["writing"], "signout-waiting")


def _sealer(desk: Desk) -> Callable[[Press], None]:
    return lambda press: record(desk, press, SealCase)


def sealed(desk: Desk) -> Panel | None:
    """What to write on paper: without a head kept elsewhere a cut tail cannot be noticed."""
    seal = desk.case.seal
    if seal is None:
        return None
    head = seal_head(desk.case)
    lead = [
        f"Case {desk.case.key} is closed and sealed by {seal.signed_by}.",
        f"Write this on the paper record:   {short_head(head)}   with {seal.seq} entries",
        "Corrections are still possible (E); they are new entries beside the seal, and the seal stays valid.",
    ]
    items = [Item("read the line back from the paper", lambda _press: desk.turn(_attest(desk, head)))]
    return Pick(desk, "SEALED", items, lead, "sealed")


def seal_head(case: Case) -> str:
    """The head to write down, hex: the digest of the entry that sealed, whatever was added after it."""
    upto = case.seal.seq if case.seal is not None else 0
    return head_of(tuple(link_all(case.log[:upto], FIRST_PREV))).hash_hex


def _attest(desk: Desk, head: str) -> Panel:
    def done(text: str, press: Press) -> str:
        if not same_head(text, head):
            return "that is not the line of this case: compare letter by letter"
        record(desk, press, AttestSeal, head=text)
        return ""

    return Ask(desk, "READ BACK", "the line on the paper", done, panel_id="sealed", limit=80)
