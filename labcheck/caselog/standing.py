"""Which answer to a step stands now. A killer step is asked anew in every visit to its stage, and every step of a
rescue in every rescue.

Going back to a stage means that what was true there may no longer be: the guide has moved, the snare is elsewhere.
The earlier answer stays in the log and in every figure of what was done; it only no longer lets a hold pass.
"""

from __future__ import annotations

from labcheck.caselog.case import AnswerKey, Case, Timed, Visit
from labcheck.caselog.events import StepAnswered
from labcheck.checklist import finding
from labcheck.checklist.words import Cusp


def answer_key(case: Case, what: StepAnswered) -> AnswerKey:
    """Where ``case.answers`` keeps an answer. One to a rescue's step belongs to the rescue that it names.

    One that names none, as facts added after the seal may, belongs to the only rescue of that kind; where there were
    several, nobody said which: it is kept, and is the answer of none of them.
    """
    if what.stage.startswith(finding.BAILOUT_PREFIX):
        kind = what.stage.removeprefix(finding.BAILOUT_PREFIX)
        meant = [b.seq for b in case.bailouts if b.what.bailout == kind and what.opened in (None, b.seq)]
        if len(meant) == 1:
            return meant[0], None, what.step
    return what.stage, what.cusp, what.step


def given_answer(
    case: Case, stage_id: str, cusp: Cusp | None, step_id: str, rescue: int | None = None
) -> Timed[StepAnswered] | None:
    """The last answer. ``rescue``: the seq of the rescue whose step it is, for a stage ``bailout:id``."""
    return case.answers.get((stage_id, cusp, step_id) if rescue is None else (rescue, None, step_id))


def standing_answer(
    case: Case, stage_id: str, cusp: Cusp | None, step_id: str, rescue: int | None = None
) -> Timed[StepAnswered] | None:
    """The answer that counts now; None where there is none, or only one that the present visit asks for anew."""
    answer = given_answer(case, stage_id, cusp, step_id, rescue)
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
