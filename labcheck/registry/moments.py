"""The named moments of a checklist in words: what begins and ends an interval or a watch."""

from __future__ import annotations

from labcheck.checklist import finding
from labcheck.checklist.conditions import Point
from labcheck.checklist.model import Checklist, Stage

EFFECT = "end of its last energy burst, else the entry of its result"


def moment_words(checklist: Checklist, point: Point) -> str:
    """A point in plain words, with the titles people saw: "last closing of Sign-out as done"."""
    return f"{point.which} {_what(checklist, point)}"


def _what(checklist: Checklist, point: Point) -> str:
    stage = _stage(checklist, point.stage)
    match point.event:
        case "stage.opened":
            return f"opening of {stage}"
        case "stage.closed":
            return f"closing of {stage} as done"
        case "attempt.opened":
            return f"start of an attempt in {stage}"
        case "attempt":
            return f"effect of an attempt in {stage}{_outcomes(checklist, point)} ({EFFECT})"
        case "reading":
            return f"reading of {_reading(checklist, point)}"
        case "sample":
            return f"sample sent for {_reading(checklist, point)}"
        case "dose":
            drug = finding.drug(checklist, point.drug or "")
            return f"dose of {drug.title if drug is not None else point.drug}"
        case "run.started" | "run.stopped":
            run = finding.run(checklist, point.run or "")
            title = run.title if run is not None else point.run
            return f"{'start' if point.event == 'run.started' else 'stop'} of {title}"
        case "step":
            owner, _, name = (point.step or "").partition(".")
            step = finding.step(checklist, owner, name)
            return f"answer, done or with a value, to the step {step.say if step is not None else point.step}"
        case "bailout.opened":
            path = finding.bailout(checklist, point.bailout or "")
            return f"opening of the rescue {path.title}" if path is not None else "opening of any rescue"
        case "case.opened":
            return "opening of the case"
        case "case.sealed":
            return "closing of the case"


def _stage(checklist: Checklist, name: str | None) -> str:
    found: Stage | None = finding.stage(checklist, name or "")
    return found.title if found is not None else name or "any stage"


def _outcomes(checklist: Checklist, point: Point) -> str:
    if not point.outcome:
        return ""
    stage = finding.stage(checklist, point.stage or "")
    offered = stage.attempts.outcomes if stage is not None and stage.attempts is not None else ()
    words = {option.id: option.text for option in offered}
    return f" with the outcome {' or '.join(words.get(one, one) for one in point.outcome)}"


def _reading(checklist: Checklist, point: Point) -> str:
    reading = finding.reading(checklist, point.reading or "")
    title = reading.title if reading is not None else str(point.reading)
    if point.at_least is None:
        return title
    unit = f" {reading.unit}" if reading is not None and reading.unit else ""
    return f"{title} of {point.at_least:f}{unit} or more"
