"""The result of the attempt that is under way, or of one that nobody pressed when it began."""

from __future__ import annotations

from labcheck.caselog.intents import CloseAttempt
from labcheck.checklist import finding
from labcheck.checklist.model import Option
from labcheck.checklist.unfolding import cusp_word
from labcheck.checklist.words import Cusp
from labcheck.console.panels.panel import Desk, Panel, Press, record
from labcheck.console.panels.pick import Item, Pick
from labcheck.console.panels.reasons import reason_pick


def open_panel(desk: Desk) -> Panel | None:
    """The outcomes of the stage's attempts, each on a digit."""
    case = desk.case
    attempt, visit = case.attempt, case.visit
    stage_id = attempt.stage if attempt else visit.stage if visit else ""
    cusp = attempt.cusp if attempt else visit.cusp if visit else None
    stage = finding.stage(case.checklist, stage_id)
    if stage is None or stage.attempts is None or cusp is None:
        desk.tell("there are no attempts in this stage")
        return None
    number = attempt.number if attempt else _next_number(desk, stage_id, cusp)
    lead = [] if attempt else ["no attempt is open: this records one that was not pressed when it began"]
    items = [Item(option.text, _closer(desk, option, stage_id, cusp)) for option in stage.attempts.outcomes]
    return Pick(desk, f"RESULT of attempt {number}, {cusp_word(cusp)}", items, lead, panel_id="attempt")


def _next_number(desk: Desk, stage: str, cusp: Cusp) -> int:
    return 1 + sum(1 for a in desk.case.attempts if (a.stage, a.cusp) == (stage, cusp))


def _closer(desk: Desk, option: Option, stage: str, cusp: Cusp):  # type: ignore[no-untyped-def]
    # Stage and cusp go with the result: a moved attempt is not on the cusp that is being worked on.
    def close(press: Press) -> None:
        if option.needs_reason:
            desk.turn(
                reason_pick(
                    desk, f"WHY: {option.text}", "not_done",
                    lambda text, again: record(
                        desk, again, CloseAttempt, outcome=option.id, stage=stage, cusp=cusp, reason=text
                    ),
                )
            )  # fmt: skip
        else:
            record(desk, press, CloseAttempt, outcome=option.id, stage=stage, cusp=cusp)

    return close
