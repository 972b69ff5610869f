"""Which answer to a step stands now. A killer step is asked anew in every visit to its stage.

Going back to a stage means that what was true there may no longer be: the guide has moved, the snare is elsewhere.
The earlier answer stays in the log and in every figure of what was done; it only no longer lets a hold pass.
"""

from __future__ import annotations

from labcheck.caselog.case import Case, Timed, Visit
from labcheck.caselog.events import StepAnswered
from labcheck.checklist import finding
from labcheck.checklist.words import Cusp


def standing_answer(case: Case, stage_id: str, cusp: Cusp | None, step_id: str) -> Timed[StepAnswered] | None:
    """The answer that counts now; None where there is none, or only one that the present visit asks for anew."""
    answer = case.answers.get((stage_id, cusp, step_id))
    if answer is None or asked_anew(case, answer) is not None:
        return None
    return answer


def asked_anew(case: Case, answer: Timed[StepAnswered]) -> Visit | None:
    """The earlier visit in which a killer step was answered that the latest visit asks for again; else None.

    An answer given before the first visit to its stage (ticked ahead) stands in that visit. Seq decides, not time:
    an answer that is entered late in the latest visit was given with that visit in mind.
    """
    what = answer.what
    visits = [v for v in case.visits if (v.stage, v.cusp) == (what.stage, what.cusp)]
    if len(visits) < 2 or answer.seq > visits[-1].seq:
        return None
    step = finding.step(case.checklist, what.stage, what.step)
    if step is None or not step.killer:
        return None
    return next((v for v in reversed(visits[:-1]) if v.seq < answer.seq), visits[0])
