"""Logs that are rightly chained, digest by digest, and still are none that this program would have written."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from labcheck.caselog.events import CaseSealed, Event, LeaseTaken, MarkSet, NoteWritten
from labcheck.ledger.chain import FIRST_PREV, Head, link_all
from labcheck.ledger.checking import Fault, walk
from labcheck.ledger.envelope import as_row
from tests.ledger.making import CASE, Maker

Presses = Callable[[Maker], list[tuple[Event, ...]]]


def faults(events: list[Event], *, closely: bool = True) -> list[str]:
    rows = [as_row(record) for record in link_all(events, FIRST_PREV)]
    return [str(fault) for fault in walk(CASE, rows, closely=closely)[1]]


def flat(presses: list[tuple[Event, ...]]) -> list[Event]:
    return [event for press in presses for event in press]


def in_epoch(event: tuple[Event, ...], epoch: int) -> tuple[Event, ...]:
    return tuple(one.model_copy(update={"epoch": epoch}) for one in event)


WRONG: dict[str, tuple[Presses, str]] = {
    "an entry of a console that was fenced": (
        lambda m: [m.opening(), m.lease(), in_epoch(m.note(), 1)],
        f"case {CASE}, entry 3: chain: epoch 1 after 2 without a lease",
    ),
    "an entry of an epoch nobody took": (
        lambda m: [m.opening(), in_epoch(m.note(), 2)],
        f"case {CASE}, entry 2: chain: epoch 2 after 1 without a lease",
    ),
    "a lease that skips an epoch": (
        lambda m: [m.opening(), in_epoch(m.press(LeaseTaken(console="two", reason="x")), 3)],
        f"case {CASE}, entry 2: chain: epoch 3 after 1 without a lease",
    ),
    "a case that begins with a lease": (
        lambda m: [m.lease()],
        f"case {CASE}, entry 1: chain: a case begins with one case.opened",
    ),
    "a second opening": (
        lambda m: [m.opening(), m.opening()],
        f"case {CASE}, entry 2: chain: a case begins with one case.opened",
    ),
    "an entry after the seal": (
        lambda m: [m.opening(), m.press(CaseSealed(entries=1, signed_by="N1")), m.note()],
        f"case {CASE}, entry 3: seal: note.written after the seal (entry 2)",
    ),
    "a second seal": (
        lambda m: [m.opening(), *(m.press(CaseSealed(entries=n, signed_by="N1")) for n in (1, 2))],
        f"case {CASE}, entry 3: seal: case.sealed after the seal (entry 2)",
    ),
    "a seal that counts wrongly": (
        lambda m: [m.opening(), m.note(), m.press(CaseSealed(entries=1, signed_by="N1"))],
        f"case {CASE}, entry 3: seal: counts 1 entries, 2 stand before it",
    ),
}


@pytest.mark.parametrize("closely", [True, False])
@pytest.mark.parametrize("what", WRONG)
def test_a_log_that_could_not_have_been_written_is_named_though_its_chain_is_right(what: str, closely: bool) -> None:
    make, said = WRONG[what]
    assert said in faults(flat(make(Maker())), closely=closely)


@pytest.mark.parametrize("closely", [True, False])
def test_a_log_as_it_is_written_has_no_fault(closely: bool) -> None:
    maker = Maker()
    presses = [maker.opening(), maker.note(), maker.lease(), maker.void(2), maker.press(MarkSet(), MarkSet())]
    sealed = maker.press(CaseSealed(entries=6, signed_by="N1"))
    events = flat([*presses, sealed, maker.void(4), maker.lease()])
    assert faults(events, closely=closely) == []


def test_an_entry_left_out_or_doubled_is_named_by_its_number() -> None:
    maker = Maker()
    events = flat([maker.opening(), maker.note(), maker.mark(), maker.mark()])
    assert faults([*events[:2], events[3]]) == [
        f"case {CASE}, entry 4: chain: follows entry 2; entries are missing or doubled"
    ]
    assert faults([*events[:2], events[1]]) == [
        f"case {CASE}, entry 2: chain: follows entry 2; entries are missing or doubled"
    ]


def test_an_entry_that_names_no_event_of_this_program_is_found_only_when_looked_at_closely() -> None:
    maker = Maker()
    events = flat([maker.opening(), maker.press(NoteWritten(text="x"))])
    odd = events[1].model_copy(update={"recorder": ""})
    assert any("is no event of this program" in line for line in faults([events[0], odd]))
    assert faults([events[0], odd], closely=False) == []


def test_after_a_walk_it_is_known_where_the_case_stands_and_what_its_mirror_holds() -> None:
    maker = Maker()
    records = link_all(flat([maker.opening(), maker.lease(), maker.note()]), FIRST_PREV)
    state, found, mirror = walk(CASE, [as_row(record) for record in records])
    assert (found, state.rows, state.sealed) == ([], 3, None)
    assert state.head == Head(3, records[-1].hash.hex(), 2)
    assert state.opening is not None
    assert state.opening.kind == "case.opened"
    assert mirror.splitlines()[1] == records[1].hash.hex().encode() + b" " + records[1].body


@pytest.mark.parametrize(
    ("fault", "said"),
    [
        (Fault("file", "x"), "ledger: file: x"),
        (Fault("row", "x", case=CASE), f"case {CASE}: row: x"),
        (Fault("row", "x", case=CASE, seq=0), f"case {CASE}, entry 0: row: x"),
    ],
)
def test_a_fault_says_its_place(fault: Fault, said: str) -> None:
    assert str(fault) == said
