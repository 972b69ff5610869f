"""The result of the attempt that is under way, or of one that nobody pressed when it began."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from labcheck.caselog.deciding.attempts import without_result
from labcheck.caselog.intents import CloseAttempt
from labcheck.caselog.telling import clock_words
from labcheck.checklist import finding
from labcheck.checklist.model import Option
from labcheck.checklist.unfolding import cusp_word
from labcheck.console.panels.panel import Desk, Panel, Press, record
from labcheck.console.panels.pick import Item, Pick
from labcheck.console.panels.reasons import reason_pick


def open_panel(desk: Desk) -> Panel | None:
    """The outcomes of the stage's attempts, each on a digit. The title names the attempt that is closed by it."""
    case = desk.case
    under_way, visit = case.attempt, case.visit
    stage_id = under_way.stage if under_way else visit.stage if visit else ""
    cusp = under_way.cusp if under_way else visit.cusp if visit else None
    stage = finding.stage(case.checklist, stage_id)
    if stage is None or stage.attempts is None or cusp is None:
        desk.tell("there are no attempts in this stage")
        return None
    attempt = without_result(case, stage_id, cusp)
    if attempt is None:
        number = 1 + max((a.number for a in case.attempts if (a.stage, a.cusp) == (stage_id, cusp)), default=0)
        lead = ["no attempt waits for its result: this records one that was not pressed when it began"]
    else:
        number = attempt.number
        left = attempt is not under_way
        lead = [f"left without a result: it began at {clock_words(attempt.start)}"] if left else []
    # Stage and cusp go with the result: a moved attempt is not on the cusp that is being worked on.
    fields = {"stage": stage_id, "cusp": cusp, "attempt": attempt.seq if attempt else None}
    items = [Item(option.text, _closer(desk, option, fields)) for option in stage.attempts.outcomes]
    return Pick(desk, f"RESULT of attempt {number}, {cusp_word(cusp)}", items, lead, panel_id="attempt")


def _closer(desk: Desk, option: Option, fields: dict[str, Any]) -> Callable[[Press], None]:
    def close(press: Press) -> None:
        if not option.needs_reason:
            record(desk, press, CloseAttempt, outcome=option.id, **fields)
            return

        def because(text: str, again: Press) -> None:
            record(desk, again, CloseAttempt, outcome=option.id, reason=text, **fields)

        desk.turn(reason_pick(desk, f"WHY: {option.text}", "not_done", because))

    return close
