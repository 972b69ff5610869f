"""Cases for the export tests, told as scripts, folded, and chained as the ledger would keep them."""

from __future__ import annotations

from pathlib import Path

from labcheck.caselog.case import Case
from labcheck.caselog.deciding import Decided, decide
from labcheck.caselog.events import Event
from labcheck.caselog.folding import begin, fold
from labcheck.caselog.playing import play, stamp_at, transcribed
from labcheck.caselog.script import read_script
from labcheck.checklist.complaint import Complaint
from labcheck.checklist.reading import digest, read_checklist
from labcheck.ledger.chain import FIRST_PREV, link_all
from labcheck.registry.stored import StoredCase

HERE = Path(__file__).parent
SMALL = HERE.parent / "caselog" / "small.toml"
KEY = "K7Q2-M4"


def told(script: str, *, checklist: Path = SMALL, key: str = KEY) -> tuple[Case, StoredCase]:
    """The case a script tells, folded and as stored."""
    text = checklist.read_bytes()
    case = play(read_script(script, "script"), read_checklist(text, checklist.name), key, digest(text))
    assert not isinstance(case, Complaint), str(case)
    return case, stored_of(case, text)


def stored_of(case: Case, text: bytes) -> StoredCase:
    """The case's log as the ledger would keep it."""
    return StoredCase(tuple(link_all(case.log, FIRST_PREV)), text)


def head(*, offset: str = "+01:00", study: str = "0007", real: bool = True, day: str = "2031-03-04") -> str:
    """The head of a script with two target cusps."""
    return f"""
format = 1
title = "told for a test"
checklist = "small"
date = "{day}"
utc_offset = "{offset}"
rehearsal = {"false" if real else "true"}

[plan]
technique = "small"
substrate = "surgical"
targets = ["right", "left"]
study_number = "{study}"
access = "=1+1"
valve_class = "-2 balloon-expandable"
age_years = 93
sex = "female"
weight_kg = 61.5
"""


TOLD = """
[[entry]]
at = "09:00:00"
do = "stage.open"
stage = "access"
[[entry]]
at = "09:01:10"
do = "clock.compare"
reading_us = 1930377701000000
[[entry]]
at = "09:02:00"
do = "sample.send"
reading = "act"
[[entry]]
at = "09:04:30"
do = "reading.take"
reading = "act"
value = 274
note = "+1+1"
[[entry]]
at = "09:05:00"
do = "step.answer"
step = "pad"
[[entry]]
at = "09:05:30"
do = "dose.give"
drug = "heparin"
amount = 5000
note = "@SUM(1)"
[[entry]]
at = "09:06:00"
do = "decision.make"
decision = "protect"
choice = "declined"
reason = "0007 said =cmd"
[[entry]]
at = "09:10:00"
do = "stage.open"
stage = "position"
cusp = "right"
[[entry]]
at = "09:12:00"
do = "stage.open"
stage = "cross"
cusp = "right"
[[entry]]
at = "09:12:30"
do = "energy.on"
watts = 30
[[entry]]
at = "09:12:31.5"
do = "energy.off"
[[entry]]
at = "09:12:40"
do = "attempt.close"
outcome = "failed"
[[entry]]
at = "09:14:00"
do = "energy.on"
watts = 40
[[entry]]
at = "09:14:02.25"
do = "energy.off"
[[entry]]
at = "09:14:10"
do = "attempt.close"
outcome = "crossed"
[[entry]]
at = "09:15:00"
do = "note.write"
text = "=HYPERLINK(\\"x\\") with a \\"quote\\" and ünïcode"
[[entry]]
at = "09:15:30"
do = "note.write"
text = "0042"
[[entry]]
at = "09:15:40"
do = "note.write"
text = "'quoted from the start"
[[entry]]
at = "09:15:50"
do = "note.write"
text = "taken back"
[[entry]]
at = "09:15:55"
do = "undo"
[[entry]]
at = "09:16:00"
do = "stage.open"
stage = "position"
cusp = "left"
[[entry]]
at = "09:18:00"
do = "stage.open"
stage = "cross"
cusp = "left"
[[entry]]
at = "09:20:00"
do = "attempt.close"
outcome = "crossed"
ago = "1:00"
late_reason = "busy"
[[entry]]
at = "09:21:00"
do = "stage.open"
stage = "ready"
[[entry]]
at = "09:21:30"
do = "step.answer"
step = "loaded"
[[entry]]
at = "09:22:00"
do = "stage.open"
stage = "split"
cusp = "right"
[[entry]]
at = "09:22:10"
do = "energy.on"
[[entry]]
at = "09:22:12"
do = "energy.off"
[[entry]]
at = "09:22:15"
do = "attempt.close"
outcome = "cut"
[[entry]]
at = "09:22:40"
do = "bailout.open"
bailout = "coronary"
ostium = "left"
[[entry]]
at = "09:22:50"
do = "run.start"
run = "pacing"
rate = 180
[[entry]]
at = "09:22:58"
do = "run.stop"
run = "pacing"
[[entry]]
at = "09:23:00"
do = "cusp.abandon"
cusp = "left"
reason = "haemodynamic"
[[entry]]
at = "09:23:30"
do = "stage.open"
stage = "deploy"
[[entry]]
at = "09:26:00"
do = "stage.open"
stage = "flow"
[[entry]]
at = "09:27:00"
do = "bailout.close"
outcome = "stented"
note = "+stent in"
[[entry]]
at = "09:28:00"
do = "reading.take"
reading = "flow"
choice = "normal"
ostium = "left"
judged_by = "angio"
judge = "scrub"
[[entry]]
at = "09:28:10"
do = "reading.take"
reading = "flow"
choice = "normal"
ostium = "right"
judged_by = "angio"
[[entry]]
at = "09:28:30"
do = "event.amend"
target = 5
field = "value"
value = "275"
reason = "misread"
"""
"""A case with a little of everything, and with texts that spreadsheets like to take for something else."""


def everything(**changes: object) -> tuple[Case, StoredCase]:
    """The case of ``TOLD``."""
    return told(head(**changes) + TOLD)  # type: ignore[arg-type]


CHECKLISTS = Path(__file__).parents[2] / "checklists"


def rehearsals() -> list[tuple[Case, StoredCase]]:
    """Every shipped rehearsal, each with the checklist it names."""
    found = []
    for path in sorted((CHECKLISTS / "rehearsals").glob("*.toml")):
        text = path.read_text(encoding="utf-8")
        named = read_script(text, path.name).head.checklist
        found.append(told(text, checklist=CHECKLISTS / f"{named}.toml", key=f"RHRS-{len(found) + 10}"))
    return found


def transcribed_everything() -> tuple[Case, StoredCase]:
    """The case of ``TOLD`` copied from paper a day later, as far as paper can tell it."""
    text = SMALL.read_bytes()
    script = read_script(head() + TOLD.split('[[entry]]\nat = "09:15:55"')[0], "script")
    case = begin(KEY, read_checklist(text, SMALL.name))
    for number, intent in enumerate(transcribed(script, KEY, digest(text))):
        outcome = decide(case, intent, stamp_at(script, 86_400_000_000 + number * 1_000_000))
        assert isinstance(outcome, Decided), outcome
        for event in outcome.events:
            case = fold(case, event)
    return case, stored_of(case, text)


def with_a_corrected_time() -> tuple[tuple[Case, StoredCase], Event]:
    """The case of everything whose first result is put four seconds earlier at its end, and the entry of it."""
    case, _ = everything()
    closed = next(e for e in case.log if e.kind == "attempt.closed")
    more = f"""
[[entry]]
at = "09:29:00"
do = "event.amend"
target = {closed.seq}
field = "happened"
value = "{closed.happened.wall_us - 4_000_000}"
reason = "heard late"
"""
    return told(head() + TOLD + more), closed
