"""Fault 25, the screens: text that acts is drawn as text, in every zone, panel and size, and never fails to draw."""

from __future__ import annotations

from itertools import count, groupby
from pathlib import Path
from typing import Any

import pytest

from labcheck.caselog.folding import begin, refold
from labcheck.caselog.telling import clock_words
from labcheck.checklist.reading import read_checklist
from labcheck.console.keys import KEYS
from labcheck.console.session import Session
from labcheck.console.viewing import Viewing
from labcheck.console.zones.layout import RENDER, places
from labcheck.ledger.memory import MemoryLedger
from labcheck.ledger.resume import load
from labcheck.ledger.store import open_ledger
from tests.console.desk import PromptWriter, TestDesk
from tests.faults.invariants import heads, hold
from tests.faults.planted_ledger import KINDS, STORY
from tests.faults.planting import ACTING, TAG, steering

pytestmark = pytest.mark.fault(25)

SIZES = ((80, 24), (200, 60), (40, 10))
OPENS = [line for line in KEYS if "case" in line.where and not line.logs and line.id not in ("quit", "up", "down")]


class PlantedDesk(TestDesk):
    """A desk on a case of the planted ledger."""

    __test__ = False

    def __init__(self, folder: Path, case: str) -> None:
        super().__init__("left")
        stored = open_ledger(folder)
        loaded = load(stored, case)
        stored.close()
        self.checklist = read_checklist(loaded.checklist, "planted")
        self.ledger = MemoryLedger()
        self.ledger.keep_checklist(loaded.checklist)
        for _, press in groupby(loaded.events, key=lambda event: event.press):
            self.ledger.append(tuple(press))
        self.writer = PromptWriter(self.ledger)
        folded = refold(begin(case, self.checklist), loaded.events)
        self.session = Session(folded, self.writer, lambda call: call(), clock_words)
        self.session.listeners.append(self)
        self.viewing = Viewing()
        self.now_us = max(0, loaded.events[-1].entered.boot_us - 600_000_000 + 1_000_000)
        self.panel = None
        self.numbers = count(10**9)  # ids of their own, not those of the case


def inert(drawn: Any) -> str:
    """The drawn text, once it is sure that nothing in it acts and that no style came out of the text."""
    plain: str = drawn.plain
    assert steering(plain) == []
    for span in drawn.spans:
        # A markup that was obeyed shows as a style of its own making or as an action.
        assert "click" not in str(span.style)
        assert "blink" not in str(span.style)
    return plain


@pytest.mark.parametrize("case", [STORY, KINDS])
def test_every_zone_draws_text_that_acts_as_text(planted: Path, case: str) -> None:
    before = heads(planted, case)
    desk = PlantedDesk(planted, case)
    seen = ""
    for size in SIZES:
        for plain in (False, True):
            desk.viewing = Viewing(plain=plain, mono=plain)
            view = desk.viewing.view(desk.case, desk.now(), save=desk.session.save, answer=ACTING["markup"])
            for name, box in places(*size).items():
                text = inert(RENDER[name](view, box.width, box.height))
                assert not plain or text.isascii()
                seen += text
    assert TAG in seen
    assert ACTING["markup"][:30] in seen  # brackets and all: nothing was taken for markup
    hold(planted, before, "drawn", case=case, made=False)


@pytest.mark.parametrize("case", [STORY, KINDS])
def test_every_panel_draws_text_that_acts_as_text(planted: Path, case: str) -> None:
    before = heads(planted, case)
    desk = PlantedDesk(planted, case)
    shown: dict[str, int] = {}
    for line in OPENS:
        desk.press("escape", "escape", line.keys[0])
        for move in (None, "down", "up", "pageup", "enter", "1", "1"):
            if move is not None:
                desk.press(move)
            if desk.panel is None:
                break
            for width, height in ((118, 30), (80, 13), (30, 5)):
                for plain in (False, True):
                    text = inert(desk.panel.draw(width, height, plain=plain, saved="SAVED"))
                    shown[line.id] = shown.get(line.id, 0) + text.count(TAG)
    wanted = {"entries", "bailout", "device", "fault", "signout"} if case == STORY else {"entries"}
    assert {key for key in wanted if not shown.get(key)} == set(), shown
    hold(planted, before, "drawn", case=case, made=False)


@pytest.mark.parametrize("kind", ACTING)
def test_text_typed_or_pasted_is_cleaned_once_and_kept_as_cleaned(planted: Path, kind: str) -> None:
    before = heads(planted, STORY)
    desk = PlantedDesk(planted, STORY)
    desk.press("escape", "n")
    assert desk.panel is not None
    desk.panel.paste(f"{ACTING[kind]} cafe\u0301")
    inert(desk.panel.draw(80, 13))
    desk.press("enter")
    (note,) = desk.case.log[-1:]
    assert note.kind == "note.written"
    text = note.what.text  # type: ignore[union-attr]
    assert steering(text) == []
    assert "\n" not in text
    assert "\t" not in text
    assert TAG in text
    assert text.endswith("caf\u00e9")
    # What was kept is what is read again, and cleaning it once more changes nothing.
    assert desk.ledger.events(STORY)[-1] == note
    desk.press("n")
    desk.panel.paste(text)
    assert desk.panel.edit.text == text  # type: ignore[attr-defined]
    hold(planted, before, "typed", case=STORY, made=False)
