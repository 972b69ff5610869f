"""Fault 25, the fields: every model that takes text is known here, and planted. A new text field fails until it is."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from pydantic import BaseModel

import labcheck
from labcheck.caselog.events import Event
from labcheck.checklist.model import Checklist
from labcheck.checklist.reading import digest, read_checklist
from tests.faults.invariants import heads, hold
from tests.faults.planted_ledger import FULL, KINDS, MEMBERS, STORY, Kinds, planted_checklist
from tests.faults.planting import ACTING, SOFT, annotation, is_open, open_fields

pytestmark = pytest.mark.fault(25)

SOUND = Path(__file__).parents[1] / "checklist" / "sound.toml"
WAYS = {
    "labcheck.caselog.course": "in the ledger: planted in every kind of entry",
    "labcheck.caselog.trail": "in the ledger: planted in every kind of entry",
    "labcheck.caselog.events": "in the ledger: planted in every kind of entry",
    "labcheck.caselog.stamps": "in the ledger: planted in every kind of entry",
    "labcheck.checklist.plan": "in the ledger: planted in the opening entry",
    "labcheck.checklist.model": "in a checklist's file: planted in every line",
    "labcheck.caselog.intents": "a way in: by script (test_25_input) or by the keys (LineEdit)",
    "labcheck.caselog.script": "a way in: by script (test_25_input)",
    "labcheck.debrief.notes": "a way in: by the command line (test_25_input)",
    "labcheck.debrief.agreed": "a way in: by a file (test_25_input)",
    "labcheck.registry.identifiers": "a way in: by a file (test_25_input)",
    "labcheck.registry.rows": "a way out: test_25_files",
    "labcheck.registry.document": "a way out: test_25_files",
}
"""Every module whose models take text, and where that text is tried."""


def models() -> Iterator[type[BaseModel]]:
    """Every model of the program."""
    for module in pkgutil.walk_packages(labcheck.__path__, "labcheck."):
        if not module.name.endswith("__main__"):
            importlib.import_module(module.name)
    waiting: list[type[BaseModel]] = [BaseModel]
    while waiting:
        for model in waiting.pop().__subclasses__():
            waiting.append(model)
            if model.__module__.startswith("labcheck."):
                yield model


def test_every_model_that_takes_text_is_tried_somewhere(planted: Path) -> None:
    unknown = {
        f"{model.__module__}.{model.__name__}"
        for model in models()
        if any(is_open(annotation(field)) for field in model.model_fields.values())
        and not any(model.__module__ == way or model.__module__.startswith(f"{way}.") for way in WAYS)
    }
    assert unknown == set(), "say in WAYS where text for these is tried"
    hold(planted, heads(planted, STORY), "planted", case=STORY, made=False)


def test_every_text_field_of_every_entry_is_planted(planted: Path) -> None:
    wanted = set().union(*(open_fields(model) for model in MEMBERS)) | open_fields(Event)
    text, _ = planted_checklist(ACTING[SOFT[1]], FULL)
    made = Kinds(read_checklist(text, "planted"), digest(text))
    made.all()
    assert wanted - made.planted == set()
    hold(planted, heads(planted, KINDS), "planted", case=KINDS, made=False)


@pytest.mark.parametrize("kind", SOFT)
def test_every_line_of_a_checklist_is_planted(planted: Path, kind: str) -> None:
    found: set[tuple[str, str]] = set()
    for sound in (FULL, SOUND):
        text, planted_here = planted_checklist(ACTING[kind], sound)
        read_checklist(text, "planted")
        found |= planted_here
    assert open_fields(Checklist) - found == set()
    hold(planted, heads(planted, STORY), "planted", case=STORY, made=False)

