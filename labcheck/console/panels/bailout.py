"""Bailouts: start one, or say how one ended. Its read-do steps then stand where the stage's steps stood.

The starts always carry the same digits, whatever else is going on: in a rescue nobody reads a list twice.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from labcheck.caselog import case as folded
from labcheck.caselog.entry_words import bailout_title
from labcheck.caselog.intents import CloseBailout, OpenBailout
from labcheck.caselog.stamps import span
from labcheck.caselog.telling import span_words
from labcheck.checklist import finding
from labcheck.checklist.model import Bailout, Option
from labcheck.checklist.unfolding import cusp_word
from labcheck.console.panels.again import as_first_pressed
from labcheck.console.panels.panel import Desk, Panel, Press, record
from labcheck.console.panels.pick import Item, Pick

LEAD_WORDS = {
    "carry_on": "carry on with the stage",
    "abandon_cusp": "abandon this cusp",
    "jump": "go straight to",
    "convert": "convert to open surgery",
}


FIRST = 8
"""So many starts stand on the first page, always on the same digits; 9 ends the one that is running."""


def open_panel(desk: Desk) -> Panel | None:
    """Every bailout the checklist knows, then those that are running."""
    running = [b for b in reversed(desk.case.bailouts) if b.end is None]
    starts = [Item(path.title, _starter(desk, path)) for path in desk.case.checklist.bailout]
    items = [Item(i.text, i.do, digit=str(n)) for n, i in enumerate(starts[:FIRST], 1)]
    items += [Item(i.text, i.do, i.note, "9") for i in _ends(desk, running[:1])]
    rest = [*starts[FIRST:], *_ends(desk, running[1:])]
    if rest:
        items.append(Item("more", lambda _press: desk.turn(Pick(desk, "BAILOUT", rest, panel_id="bailout")), digit="0"))
    return Pick(desk, "BAILOUT", items, panel_id="bailout")


def _ends(desk: Desk, running: Sequence[folded.Bailout]) -> list[Item]:
    return [Item(f"END of {bailout_title(desk.case, b.what)}", _ender(desk, b), _runs(desk, b)) for b in running]


def _runs(desk: Desk, rescue: folded.Bailout) -> str:
    return f"running {span_words(span(rescue.start, desk.now().moment()).us)}"


def _starter(desk: Desk, path: Bailout) -> Callable[[Press], None]:
    def start(press: Press) -> None:
        if path.per is None:
            record(desk, press, OpenBailout, bailout=path.id)
            return
        places: tuple[str, ...] = desk.case.order if path.per == "cusp" else ("left", "right")
        if len(places) == 1:
            record(desk, press, OpenBailout, bailout=path.id, **{path.per: places[0]})
            return
        # The clock of a rescue must not wait for its place: the first press is when it began.
        items = [
            Item(f"{cusp_word(place) if path.per == 'cusp' else place} {path.per}", _placed(desk, path, place, press))  # type: ignore[arg-type]
            for place in places
        ]
        desk.turn(Pick(desk, f"BAILOUT  {path.title}: where", items, panel_id="bailout"))

    return start


def _placed(desk: Desk, path: Bailout, place: str, first: Press) -> Callable[[Press], None]:
    def chosen(press: Press) -> None:
        where: dict[str, Any] = {path.per or "cusp": place}
        intent = OpenBailout(press=desk.press_id(), bailout=path.id, **where)
        desk.turn(None)
        desk.send(as_first_pressed(intent, first.stamp, press.stamp, always=True), press.stamp)

    return chosen


def _ender(desk: Desk, rescue: folded.Bailout) -> Callable[[Press], None]:
    path = finding.bailout(desk.case.checklist, rescue.what.bailout)
    title = f"END of {bailout_title(desk.case, rescue.what)}"

    def end(_press: Press) -> None:
        if path is None:
            return
        items = [Item(option.text, _outcome(desk, path, rescue, option)) for option in path.outcomes]
        desk.turn(Pick(desk, f"{title}: how it ended", items, panel_id="bailout"))

    return end


def _outcome(desk: Desk, path: Bailout, rescue: folded.Bailout, option: Option) -> Callable[[Press], None]:
    title = f"END of {bailout_title(desk.case, rescue.what)}"

    def chosen(press: Press) -> None:
        if len(path.leads) == 1:
            _close(desk, rescue, option, path.leads[0], press)
            return
        items = [Item(_lead_words(desk, path, lead), _leader(desk, rescue, option, lead)) for lead in path.leads]
        desk.turn(Pick(desk, f"{title}: and then", items, panel_id="bailout"))

    return chosen


def _lead_words(desk: Desk, path: Bailout, lead: str) -> str:
    words = LEAD_WORDS[lead]
    if lead != "jump" or path.jump_to is None:
        return words
    stage = finding.stage(desk.case.checklist, path.jump_to)
    return f"{words} {stage.title if stage else path.jump_to}"


def _leader(desk: Desk, rescue: folded.Bailout, option: Option, lead: str) -> Callable[[Press], None]:
    return lambda press: _close(desk, rescue, option, lead, press)


def _close(desk: Desk, rescue: folded.Bailout, option: Option, lead: str, press: Press) -> None:
    # By its entry: another of the same kind may be running, and what runs may have changed since the list was shown.
    fields: dict[str, Any] = {"rescue": rescue.seq, "outcome": option.id, "lead": lead}
    record(desk, press, CloseBailout, **fields)
