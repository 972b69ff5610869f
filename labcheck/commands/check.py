"""``labcheck check FILE... [--explain]``: is this checklist or script fit to be used?"""

from __future__ import annotations

import argparse
from pathlib import Path

from labcheck.caselog.case import Case
from labcheck.caselog.playing import play
from labcheck.caselog.script import Script, looks_like_script, read_script
from labcheck.checklist.checking import warnings
from labcheck.checklist.complaint import ChecklistError, Complaint
from labcheck.checklist.explaining import example_plan, explain
from labcheck.checklist.model import Checklist
from labcheck.checklist.reading import digest, read_checklist
from labcheck.checklist.toml_text import parse_toml
from labcheck.commands.files import read_bytes
from labcheck.commands.output import complain, say
from labcheck.commands.shelf import find_checklist

CHECK_KEY = "CHCK-00"
"""The key of the case a script is tried on; it never meets a ledger."""


def run(chosen: argparse.Namespace) -> int:
    """0 when every file is sound, 1 when one is not. Raises ``CommandError`` for one that cannot be read."""
    texts = [(path, read_bytes(path)) for path in chosen.files]
    sound = [_check(path, text, explained=chosen.explain) for path, text in texts]
    return 0 if all(sound) else 1


def _check(path: Path, text: bytes, *, explained: bool) -> bool:
    name = path.name
    try:
        if looks_like_script(parse_toml(text, name)):
            return _check_script(read_script(text, name), path)
        checklist = read_checklist(text, name)
    except ChecklistError as error:
        for complaint in error.complaints:
            complain(str(complaint))
        return False
    for warning in warnings(checklist, name):
        complain(f"{warning} (worth a second look)")
    say(f"{name}: sound checklist, {checklist.id} revision {checklist.revision}, {_counted(checklist)}")
    say(f"  digest {digest(text)}")
    if explained:
        for line in explain(checklist, example_plan(checklist)):
            say(line)
    return True


def _check_script(script: Script, path: Path) -> bool:
    checklist, _, its_digest = find_checklist(script.head.checklist, path.parent)
    played = play(script, checklist, CHECK_KEY, its_digest)
    if isinstance(played, Complaint):
        complain(str(played))
        return False
    say(f"{script.name}: sound script, {len(script.entries)} entries, {_outcome(played)}")
    return True


def _outcome(case: Case) -> str:
    made = f"makes {len(case.log)} log entries"
    return f"{made} and seals the case" if case.seal else f"{made} and leaves the case open"


def _counted(checklist: Checklist) -> str:
    steps = sum(len(stage.step) for stage in checklist.stage)
    return (
        f"{len(checklist.stage)} stages, {steps} steps, {sum(len(s.hold) for s in checklist.stage)} holds, "
        f"{len(checklist.bailout)} bailouts"
    )
