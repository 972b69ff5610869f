"""The worked examples of the export contract: shipped rehearsals, exported as a hospital and a registry get them."""

from __future__ import annotations

from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from labcheck.caselog.case import Case
from labcheck.caselog.deciding import Refused, decide
from labcheck.caselog.folding import fold_all
from labcheck.caselog.intents import INTENT_MODELS
from labcheck.caselog.playing import play, press_id, stamp_at
from labcheck.caselog.script import Script, read_script
from labcheck.checklist.complaint import Complaint
from labcheck.checklist.reading import digest, read_checklist
from labcheck.ledger.chain import FIRST_PREV, link_all
from labcheck.ledger.memory import MemoryLedger
from labcheck.registry.batching import export_batch
from labcheck.registry.errors import ExportError
from labcheck.registry.exporting import NEED_CLOCK_TIMES, WRITERS, Choices, export_case
from labcheck.registry.pseudonyms import Pseudonyms
from labcheck.registry.stored import StoredCase

KEY = "R3HX-B7"
"""The example's case key; that of a real case is drawn at random."""
SECOND_KEY = "R4NB-C8"

EXAMPLE_KEY = b"an example key that is no secret"
"""For the example's pseudonyms only; a site makes its own with ``labcheck export --make-key``."""

AFTERWARDS: tuple[tuple[str, dict[str, Any]], ...] = (
    ("event.amend", {"target": ("reading.taken", "systolic", 2), "field": "value", "value": "45",
                     "reason": "misheard"}),
    ("event.amend", {"target": ("attempt.closed", "failed", 1), "field": "happened", "value": -20_000_000,
                     "reason": "wrong_time"}),
    ("event.amend", {"target": ("dose.given", "adrenaline", 1), "field": "amount", "value": "50",
                     "reason": "wrong_value"}),
    ("event.void", {"target": ("reading.taken", "effusion", 1), "reason": "wrong_key"}),
)  # fmt: skip
"""What is put right the day after in the second example, so that a reader sees every kind of correction once: the
kind of entry, what it says, and which of those; a time is moved by so many microseconds."""


def example_files(checklist: Path, script: Path, second: Path) -> dict[str, bytes]:
    """Name and content of every file that the rehearsals give.

    The first one in all formats for the hospital in ``example``, and what a registry gets in ``example-registry``;
    both as a batch with its manifest, the second with corrections, in ``example-batch`` and ``example-shifted``.
    """
    text = checklist.read_bytes()
    case = _played(checklist, script, KEY)
    stored = StoredCase(tuple(link_all(case.log, FIRST_PREV)), text)
    key = Pseudonyms(EXAMPLE_KEY)
    registry = [name for name in WRITERS if name not in NEED_CLOCK_TIMES]
    with TemporaryDirectory() as folder:
        top = Path(folder)
        paths = export_case(case, stored, list(WRITERS), top / "example", profile="hospital")
        paths += export_case(
            case, stored, registry, top / "example-registry", profile="registry", pseudonyms=key
        )
        ledger = MemoryLedger()
        ledger.keep_checklist(text)
        _append(ledger, case)
        _append(ledger, corrected(_played(checklist, second, SECOND_KEY), _script(second)))
        for name, choices in (
            ("example-batch", Choices("hospital")),
            ("example-shifted", Choices("shifted", pseudonyms=key)),
        ):
            report = export_batch(ledger, [KEY, SECOND_KEY], ["csv"], top / name, choices, rehearsals=True)
            if report.failed:
                raise ExportError(str(report.failed))
            paths += report.paths
        return {str(path.relative_to(folder)): path.read_bytes() for path in paths}


def _played(checklist: Path, script: Path, key: str) -> Case:
    text = checklist.read_bytes()
    case = play(_script(script), read_checklist(text, checklist.name), key, digest(text))
    if isinstance(case, Complaint):
        raise ExportError(str(case))
    return case


def _script(path: Path) -> Script:
    return read_script(path.read_bytes(), path.name)


def corrected(case: Case, script: Script) -> Case:
    """The sealed case with the corrections of ``AFTERWARDS``, a minute apart."""
    start = script.entries[-1].at_us - script.start_us
    for number, (do, fields) in enumerate(AFTERWARDS, 1):
        kind, said, nth = fields["target"]
        found = [e for e in case.log if e.kind == kind and said in e.what.model_dump().values()]
        event = found[nth - 1]
        values = {**fields, "target": event.seq}
        if fields.get("field") == "happened":
            values["value"] = str(event.happened.wall_us + fields["value"])
        intent = INTENT_MODELS[do](press=press_id(case.key, 1000 + number), **values)
        outcome = decide(case, intent, stamp_at(script, start + number * 60_000_000))
        if isinstance(outcome, Refused):
            raise ExportError(f"the example's correction {number}: {outcome.reason}")
        case = fold_all(case, outcome.events)
    return case


def _append(ledger: MemoryLedger, case: Case) -> None:
    presses: dict[str, list[Any]] = {}
    for event in case.log:
        presses.setdefault(event.press, []).append(event)
    for events in presses.values():
        ledger.append(tuple(events))
