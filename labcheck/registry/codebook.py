"""The codebook: every id that a checklist puts into exports, with its words.

A registry gets ids and no words, because the words of a local checklist may say where it is from. For the shipped
checklists the codebook is part of the contract; a site that changes ids sends its own.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator

from labcheck.checklist.model import Bailout, Checklist, Option, Stage
from labcheck.registry.cells import guarded

COLUMNS = ("checklist_id", "kind", "within", "id", "words", "unit")
Line = tuple[str, str, str, str, str]


def codebook(checklists: Iterable[Checklist]) -> bytes:
    """The codebook of these checklists as CSV."""
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    writer.writerow(COLUMNS)
    for checklist in checklists:
        for kind, within, id_, words, unit in _lines(checklist):
            writer.writerow((checklist.id, kind, within, id_, guarded(words), guarded(unit)))
    return text.getvalue().encode("utf-8")


def _lines(checklist: Checklist) -> Iterator[Line]:
    for stage in checklist.stage:
        yield "stage", "", stage.id, stage.title, ""
        yield from _steps(stage, stage.id)
        for hold in stage.hold:
            yield "hold", stage.id, hold.id, hold.text, ""
        yield from _options(
            "outcome", stage.id, stage.attempts.outcomes if stage.attempts is not None else ()
        )
    for bailout in checklist.bailout:
        yield "bailout", "", bailout.id, bailout.title, ""
        yield from _steps(bailout, f"bailout:{bailout.id}")
        yield from _options("outcome", f"bailout:{bailout.id}", bailout.outcomes)
    for decision in checklist.decision:
        yield "decision", "", decision.id, decision.ask, ""
        yield from _options("choice", decision.id, decision.options)
    for reading in checklist.reading:
        yield "reading", "", reading.id, reading.title, reading.unit or ""
        yield from _options("choice", reading.id, reading.options)
        yield from _options("judged_by", reading.id, reading.judged_by)
    for drug in checklist.drug:
        yield "drug", "", drug.id, drug.title, drug.unit
    for run in checklist.run:
        yield "run", "", run.id, run.title, run.rate_unit or ""
    for tally in checklist.tally:
        yield "total", "", tally.id, tally.title, tally.unit or ""
    for interval in checklist.interval:
        yield "interval", "", interval.id, interval.title, "s"
    for kind, things in (("device", checklist.device), ("fault", checklist.fault)):
        for thing in things:
            yield kind, "", thing.id, thing.text, ""
    for reason in checklist.reason:
        yield "reason", "", reason.id, reason.text, ""


def _steps(owner: Stage | Bailout, within: str) -> Iterator[Line]:
    for step in owner.step:
        yield "step", within, step.id, step.say, step.unit or ""
        yield from _options("option", f"{within}.{step.id}", step.options)


def _options(kind: str, within: str, options: Iterable[Option]) -> Iterator[Line]:
    for option in options:
        yield kind, within, option.id, option.text, ""
