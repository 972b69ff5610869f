"""The codebook: every id that a checklist puts into exports, with its words.

A registry gets ids and no words, because the words of a local checklist may say where it is from. For the shipped
checklists the codebook is part of the contract; a site that changes ids sends its own.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, fields
from typing import Any

from labcheck.caselog.endpoints import INTERVENTION, NOTHING_DONE, SURGERY
from labcheck.checklist import finding
from labcheck.checklist.model import Attempts, Bailout, Checklist, Option, Stage, Step
from labcheck.registry.cells import guarded
from labcheck.registry.moments import moment_words

ENTRY_COLUMNS: Mapping[str, str] = {
    "kind": "What the id names: see the list of kinds in the dictionary.",
    "within": "What it stands in: for a step its stage (bailout:ID in a rescue); for an option STAGE.STEP; for a "
    "choice or a judged_by its reading or decision; for an outcome its stage or bailout:ID; for a hold its stage; "
    "empty for the rest.",
    "id": "The id, as the tables have it.",
    "words": "What people saw.",
    "unit": "The unit asked for; of a step that records a reading or a drug, that of the reading or drug. An "
    "entry may be in another unit that the reading takes: what stands beside the value counts.",
    "asks": "Of a step: how it is answered (done, choice, number, time, text, device, dose, reading, projection, "
    "decision). Answers to time, text and projection steps have neither option nor number in the tables.",
    "records": "Of a step: reading.ID, drug.ID or decision.ID where its answer is also kept there; its option is "
    "then to be looked up as choice within that ID. device.ID for the devices that are offered first, device "
    "where all are; its option is then an id of kind device.",
    "counts_as": "Of an outcome of an attempt: success, fault, failed or abandoned. Of a rescue: what it means for "
    "endpoints (list in the dictionary). Of an outcome of a rescue that can mean an intervention: intervention or "
    "no_intervention.",
    "starts": "Of an interval or a watch: the moment at which it starts.",
    "ends": "Of an interval or a watch: the moment at which it ends; only moments not before the start count.",
}
"""The columns that a line of the codebook has beside those that name its checklist."""

COLUMNS: Mapping[str, str] = {
    "checklist_id": "The checklist, as in cases.",
    "checklist_revision": "Its revision.",
    "checklist_digest": "sha256: and the SHA-256 of its exact text, as in cases under the hospital profile.",
    **ENTRY_COLUMNS,
}
"""Every column of the codebook and what it says."""

KINDS: Mapping[str, str] = {
    "checklist": "the checklist itself",
    "stage": "a stage; column stage",
    "step": "a step within its stage; step in steps, code in events",
    "option": "an option of a step; option in steps, choice in events",
    "outcome": "an outcome of an attempt or of a rescue; outcome, choice in events",
    "hold": "what must be true before a stage opens; code of hold.passed",
    "bailout": "a rescue; bailout in bailouts, code in events",
    "decision": "a question whose choice opens or skips stages; decision in decisions, code in events",
    "choice": "a choice of a decision or a finding of a reading; choice, and option in steps that record one",
    "reading": "something measured or judged; reading in readings, code in events",
    "judged_by": "by what a reading was judged; judged_by in readings",
    "role": "who answers or judges; judge in readings",
    "drug": "a drug; drug in doses, code in events",
    "device": "a device; code of device.used, option of a step that asks for a device",
    "fault": "something that did not work; code of fault.noted",
    "run": "something switched on and off; run in runs, code in events",
    "total": "a running figure; total in totals",
    "interval": "an interval; interval in intervals",
    "watch": "a count shown during the case; prompts are named by it, as watch:ID",
    "item": "an item of the sign-out list; signout:ID is code of signout.settled",
    "reason": "a reason that one key gives; reason_code",
}
"""Every kind of line, and where its ids stand in the tables."""


@dataclass(frozen=True, slots=True)
class Line:
    """One id of a checklist. The fields are columns of the codebook."""

    kind: str
    within: str
    id: str
    words: str
    unit: str = ""
    asks: str = ""
    records: str = ""
    counts_as: str = ""
    starts: str = ""
    ends: str = ""


def codebook(checklists: Iterable[tuple[Checklist, str]]) -> bytes:
    """The codebook of these checklists as CSV; each with the SHA-256 of its text in hexadecimal."""
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    writer.writerow(COLUMNS)
    for checklist, digest in checklists:
        named = (checklist.id, guarded(checklist.revision), f"sha256:{digest}")
        for line in lines(checklist):
            writer.writerow((*named, *(_cell(line, field.name) for field in fields(line))))
    return text.getvalue().encode("utf-8")


WORDS = ("words", "unit", "starts", "ends")
"""The columns that hold words, and so may carry the apostrophe; the others hold ids."""


def _cell(line: Line, name: str) -> str:
    value: str = getattr(line, name)
    return guarded(value) if name in WORDS else value


def codebook_schema() -> dict[str, Any]:
    """The Table Schema of the codebook."""
    return {
        "fields": [
            {
                "name": name,
                "type": "string",
                "description": says,
                **({"constraints": {"required": True}} if name in REQUIRED else {}),
                **({"constraints": {"required": True, "enum": list(KINDS)}} if name == "kind" else {}),
            }
            for name, says in COLUMNS.items()
        ],
        "primaryKey": ["checklist_id", "kind", "within", "id"],
        "missingValues": [""],
    }


REQUIRED = ("checklist_id", "checklist_revision", "checklist_digest", "id", "words")


def lines(checklist: Checklist) -> Iterator[Line]:
    """Every id of a checklist, in its order."""
    yield Line("checklist", "", checklist.id, checklist.title)
    for stage in checklist.stage:
        yield Line("stage", "", stage.id, stage.title)
        yield from _steps(checklist, stage, stage.id)
        for hold in stage.hold:
            yield Line("hold", stage.id, hold.id, hold.text)
        yield from _outcomes(stage.id, stage.attempts)
    for bailout in checklist.bailout:
        yield Line("bailout", "", bailout.id, bailout.title, counts_as=bailout.endpoint)
        yield from _steps(checklist, bailout, f"bailout:{bailout.id}")
        yield from _rescue_outcomes(bailout)
    yield from _asked(checklist)
    yield from _things(checklist)


def _asked(checklist: Checklist) -> Iterator[Line]:
    for decision in checklist.decision:
        yield Line("decision", "", decision.id, decision.ask)
        yield from _options("choice", decision.id, decision.options)
    for reading in checklist.reading:
        yield Line("reading", "", reading.id, reading.title, reading.unit or "")
        yield from _options("choice", reading.id, reading.options)
        yield from _options("judged_by", reading.id, reading.judged_by)
    for role in finding.owners(checklist):
        yield Line("role", "", role, role.replace("_", " "))


def _things(checklist: Checklist) -> Iterator[Line]:
    for drug in checklist.drug:
        yield Line("drug", "", drug.id, drug.title, drug.unit)
    for run in checklist.run:
        yield Line("run", "", run.id, run.title, run.rate_unit or "")
    for tally in checklist.tally:
        yield Line("total", "", tally.id, tally.title, tally.unit or "")
    for kind, named in (("interval", checklist.interval), ("watch", checklist.watch)):
        for one in named:
            starts, ends = (moment_words(checklist, point) for point in (one.start, one.end))
            yield Line(kind, "", one.id, one.title, "s", starts=starts, ends=ends)
    for item in checklist.signout:
        yield Line("item", "", item.id, item.text)
    for kind, things in (("device", checklist.device), ("fault", checklist.fault)):
        for thing in things:
            yield Line(kind, "", thing.id, thing.text)
    for reason in checklist.reason:
        yield Line("reason", "", reason.id, reason.text)


def _steps(checklist: Checklist, owner: Stage | Bailout, within: str) -> Iterator[Line]:
    for step in owner.step:
        unit, records = _recorded(checklist, step)
        yield Line("step", within, step.id, step.say, step.unit or unit, asks=step.kind, records=records)
        yield from _options("option", f"{within}.{step.id}", step.options)


def _recorded(checklist: Checklist, step: Step) -> tuple[str, str]:
    """The unit and the name of what a step's answer is also kept as."""
    if step.kind == "reading":
        reading = finding.reading(checklist, step.reading or "")
        return (reading.unit or "") if reading is not None else "", f"reading.{step.reading}"
    if step.kind == "dose":
        drug = finding.drug(checklist, step.drug or "")
        return drug.unit if drug is not None else "", f"drug.{step.drug}"
    if step.kind == "decision":
        return "", f"decision.{step.decision}"
    if step.kind == "device":
        return "", ";".join(f"device.{one}" for one in step.devices) or "device"
    return "", ""


def _outcomes(within: str, attempts: Attempts | None) -> Iterator[Line]:
    for option in attempts.outcomes if attempts is not None else ():
        yield Line("outcome", within, option.id, option.text, counts_as=attempt_result(attempts, option.id))


def attempt_result(attempts: Attempts | None, outcome: str) -> str:
    """What a stage counts an outcome as, in the words of the column ``result`` of attempts."""
    if outcome == "abandoned":
        return "abandoned"
    if attempts is not None and outcome in attempts.success:
        return "success"
    return "fault" if attempts is not None and outcome in attempts.fault else "failed"


def _rescue_outcomes(bailout: Bailout) -> Iterator[Line]:
    for option in bailout.outcomes:
        counts = "no_intervention" if option.id in NOTHING_DONE else "intervention"
        yield Line(
            "outcome",
            f"bailout:{bailout.id}",
            option.id,
            option.text,
            counts_as=counts if bailout.endpoint in INTERVENTION or option.id in SURGERY else "",
        )


def _options(kind: str, within: str, options: Iterable[Option]) -> Iterator[Line]:
    for option in options:
        yield Line(kind, within, option.id, option.text)
