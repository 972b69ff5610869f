"""Any keys in any order: the panels never fail, never draw beyond their place, and letters alone record nothing."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from labcheck.caselog.folding import begin, refold
from labcheck.console.keys import KEYS
from labcheck.console.zones.layout import RENDER, places
from tests.console.desk import TestDesk

ALL = sorted({key for line in KEYS for key in line.keys if key != "ctrl+q"} | set("0123456789") | {"tab", "backspace"})
LETTERS = sorted({key for line in KEYS for key in line.keys if len(key) == 1 and key.isalpha()})
SETUPS = st.sampled_from(["plain", "crossing", "rescue", "sealed"])


def set_up(kind: str) -> TestDesk:
    """A case in one of four states."""
    desk = TestDesk("left", "right")
    desk.press("enter")
    if kind in ("crossing", "rescue"):
        desk.do("stage.open", stage="cross", cusp="left", reason="test")
    if kind == "rescue":
        desk.do("energy.on")
        desk.do("bailout.open", bailout="coronary", ostium="left")
    if kind == "sealed":
        desk.press("o")
        while desk.case.seal is None:
            desk.press(*(("down", "enter") if "close the case" in desk.text() else ("1", "1")))
    return desk


@settings(max_examples=120, deadline=None)
@given(SETUPS, st.lists(st.sampled_from(ALL), max_size=40))
def test_any_keys_keep_the_screen_whole_and_the_log_true(kind: str, pressed: list[str]) -> None:
    desk = set_up(kind)
    for key in pressed:
        desk.press(key)
        if desk.panel is not None:
            for width, height in ((80, 13), (40, 5), (3, 1)):
                rows = desk.panel.draw(width, height, plain=True).plain.split("\n")
                assert len(rows) <= height
                assert all(len(row) <= width for row in rows)
    stored = desk.ledger.events(desk.case.key)
    assert stored == desk.case.log
    afresh = refold(begin(desk.case.key, desk.checklist), stored)
    assert afresh.open_visit == desk.case.open_visit
    assert afresh.voided == desk.case.voided
    view = desk.viewing.view(desk.case, desk.now(), save=desk.session.save)
    for size in ((80, 24), (200, 60), (40, 10)):
        for name, box in places(*size).items():
            assert len(RENDER[name](view, box.width, box.height).plain.split("\n")) <= max(1, box.height)


@settings(max_examples=60, deadline=None)
@given(SETUPS, st.lists(st.sampled_from(LETTERS), max_size=30))
def test_letters_alone_record_nothing(kind: str, pressed: list[str]) -> None:
    desk = set_up(kind)
    before = desk.case.head_seq
    desk.press("escape", *pressed)
    assert desk.case.head_seq == before
