"""Fault 13: a key pressed twice within 300 ms is one event or an explicit second one by rule; no id comes twice."""

from __future__ import annotations

import sqlite3
import tomllib
from contextlib import closing
from decimal import Decimal
from pathlib import Path

import pytest

from labcheck.caselog.events import MarkSet
from labcheck.console.keys import KEYS, Key
from labcheck.ledger.errors import Busy, Refused
from labcheck.ledger.store import open_ledger
from labcheck.ledger.writer import Writer
from tests.caselog.driving import SMALL
from tests.console import desk as desks
from tests.console.keyboard import DeskPlace, Keyboard
from tests.faults.invariants import heads, hold
from tests.faults.planting import document
from tests.faults.second_console import Console
from tests.ledger.making import CASE, CHECKLIST, Maker

pytestmark = pytest.mark.fault(13)

LOGGING = [line for line in KEYS if line.logs]
RULES: dict[str, tuple[str, ...]] = {
    "call": ("stage.opened", "press.bounced"),
    "energy": ("attempt.opened", "energy.started", "energy.stopped"),
    "step_done": ("step.answered",),  # the same line again: it is answered already
    "mark": ("mark.set", "mark.set"),
    "pacing": ("run.started", "run.stopped"),
    "compressions": ("run.started", "run.stopped"),
    "silence": (),
    "undo": ("event.voided", "event.voided"),
}
"""What two presses 0.1 s apart come to, for each key that records at once; a new key needs its rule here."""


@pytest.mark.parametrize("line", LOGGING, ids=lambda line: line.id)
def test_two_presses_of_a_logging_key_are_what_the_rule_says(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, line: Key
) -> None:
    folder = tmp_path / "ledger"
    monkeypatch.setattr(desks, "MemoryLedger", lambda: open_ledger(folder))
    desk = desks.TestDesk("left", "right")
    if line.id == "call":
        desk.wait(1)
    else:
        desk.press("enter", "f2", "f2")
        desk.do("stage.open", stage="ready" if line.id == "step_done" else "cross", cusp="left", reason="test")
        if line.id == "undo":
            desk.press("f2", "f2")
    before = desk.case.head_seq
    for _ in range(2):
        desk._act(line.id, desk.make(line.keys[0]))
        desk.wait(0.1)
    new = desk.case.log[before:]
    desk.ledger.close()
    assert tuple(event.kind for event in new) == RULES[line.id]
    presses = [event.press for event in new]
    assert len(set(presses)) == min(2, len(new))  # the second is one of its own, not the first one again
    assert len({event.id for event in desk.case.log}) == len(desk.case.log)
    hold(folder, heads(folder, desks.KEY), line.id, case=desks.KEY, made=False, extra=0)


@pytest.mark.parametrize(("gap_s", "opened"), [(0.0, 1), (0.1, 1), (0.399, 1), (0.401, 2)])
def test_the_call_key_opens_one_stage_within_its_guard(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, gap_s: float, opened: int
) -> None:
    folder = tmp_path / "ledger"
    monkeypatch.setattr(desks, "MemoryLedger", lambda: open_ledger(folder))
    desk = desks.TestDesk("left")
    for _ in range(2):
        desk._act("call", desk.make("enter"))
        desk.wait(gap_s)
    kinds = [event.kind for event in desk.case.log]
    desk.ledger.close()
    assert (kinds.count("stage.opened"), kinds.count("press.bounced")) == (opened, 2 - opened)
    hold(folder, heads(folder, desks.KEY), "call", case=desks.KEY, made=False, extra=0)


def test_a_burst_of_call_keys_within_the_guard_opens_one_stage_and_says_once_that_it_bounced(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "ledger"
    monkeypatch.setattr(desks, "MemoryLedger", lambda: open_ledger(folder))
    desk = desks.TestDesk("left")
    for _ in range(12):
        desk._act("call", desk.make("enter"))
        desk.wait(0.033)
    kinds = [event.kind for event in desk.case.log]
    desk.ledger.close()
    assert (kinds.count("stage.opened"), kinds.count("press.bounced")) == (1, 1)
    hold(folder, heads(folder, desks.KEY), "burst", case=desks.KEY, made=False, extra=0)


@pytest.mark.parametrize("first_repeat_s", [0.033, 0.25, 0.5], ids=["stuck pedal", "short delay", "usual delay"])
def test_a_call_key_held_for_ten_seconds_does_not_run_through_the_stages(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, first_repeat_s: float
) -> None:
    folder = tmp_path / "ledger"
    monkeypatch.setattr(desks, "MemoryLedger", lambda: open_ledger(folder))
    desk = desks.TestDesk("left", checklist=without_holds())
    place = DeskPlace(desk)
    board = Keyboard(place)
    for gap_s in (first_repeat_s, *(0.033,) * 300):
        board.press(desk.make("enter"))
        desk.wait(gap_s)
    board.rest()
    kinds = [event.kind for event in desk.case.log]
    desk.ledger.close()
    assert kinds.count("stage.opened") == 1
    assert kinds.count("press.bounced") <= 1
    assert place.named  # the screen says that the others were not taken
    hold(folder, heads(folder, desks.KEY), "held", case=desks.KEY, made=False, extra=0)


def without_holds() -> bytes:
    """The small checklist with nothing that would stop a run of calls."""
    tables = tomllib.loads(SMALL.read_text(encoding="utf-8"), parse_float=Decimal)
    for stage in tables["stage"]:
        stage.pop("hold", None)
    return document(tables).encode()


def test_one_press_sent_twice_is_one_entry(tmp_path: Path) -> None:
    folder = tmp_path / "ledger"
    console = Console(folder, "desk one")
    console.ask("open")
    assert console.ask("again", "once") == {"seqs": [[2], [2]], "entries": 2}
    console.end()
    hold(folder, {**heads(folder), **console.acknowledged}, "sent twice", extra=0)


def test_a_press_sent_again_after_an_error_and_after_a_restart_is_one_entry(tmp_path: Path) -> None:
    folder, maker = tmp_path / "ledger", Maker()
    ledger = open_ledger(folder)
    ledger.keep_checklist(CHECKLIST)
    writer = Writer(ledger, side_folder=folder)
    acks = [writer.submit(maker.opening()).result(30)]
    press = maker.press(MarkSet(), MarkSet())
    with closing(sqlite3.connect(folder / "ledger.db", isolation_level=None)) as foreign:
        foreign.execute("BEGIN IMMEDIATE")
        with pytest.raises(Busy):
            writer.submit(press).result(30)
        foreign.execute("ROLLBACK")
    acks.append(writer.retry().result(30))
    with pytest.raises(Exception, match="nothing is waiting"):
        writer.retry().result(30)
    writer.close()
    ledger.close()

    again = open_ledger(folder)
    resumed = Writer(again, side_folder=folder)
    for _ in range(2):
        ack = resumed.submit(press).result(30)
        assert (ack.seqs, ack.again, ack.head_hex) == (acks[-1].seqs, True, acks[-1].head_hex)
    # The same id with other content is no resend: it is refused, and nothing of it stays.
    other = tuple(event.model_copy(update={"recorder": "N2"}) for event in press)
    with pytest.raises(Refused, match="already saved with other content"):
        resumed.submit(other).result(30)
    acks.append(resumed.submit(maker.note("goes on")).result(30))
    resumed.close()
    ids = [event.id for event in again.events(CASE)]
    again.close()
    assert len(ids) == len(set(ids)) == 4
    hold(folder, {ack.seqs[-1]: ack.head_hex for ack in acks}, "sent again", extra=0)
