"""The writer thread, against a ledger that fails when told."""

from __future__ import annotations

import threading
from collections.abc import Iterator, Sequence
from pathlib import Path

import pytest

from labcheck.caselog.events import Event
from labcheck.ledger.contract import Ack
from labcheck.ledger.errors import Busy, Damaged, LedgerError, NotSaved, Refused, StaleEpoch
from labcheck.ledger.memory import MemoryLedger
from labcheck.ledger.unsaved import SideFile
from labcheck.ledger.writer import State, Writer
from tests.ledger.making import CASE, CHECKLIST, OTHER, Maker, stamp


class FailingLedger(MemoryLedger):
    """Raises the listed errors, one an append; ``late`` ones after the event is stored."""

    def __init__(self) -> None:
        super().__init__()
        self.errors: list[Exception | None] = []
        self.late: list[Exception | None] = []
        self.reopened = 0
        self.gate = threading.Event()
        self.gate.set()

    def append(self, events: Sequence[Event]) -> Ack:
        self.gate.wait()
        if self.errors and (error := self.errors.pop(0)) is not None:
            raise error
        ack = super().append(events)
        if self.late and (error := self.late.pop(0)) is not None:
            raise error
        return ack

    def reopen(self) -> None:
        self.reopened += 1
        super().reopen()


@pytest.fixture
def failing(maker: Maker) -> FailingLedger:
    ledger = FailingLedger()
    ledger.keep_checklist(CHECKLIST)
    ledger.append(maker.opening())
    return ledger


@pytest.fixture
def states() -> list[State]:
    return []


@pytest.fixture
def writer(failing: FailingLedger, tmp_path: Path, states: list[State]) -> Iterator[Writer]:
    writer = Writer(failing, side_folder=tmp_path, on_state=states.append)
    yield writer
    failing.gate.set()
    writer.close(5)


def test_presses_are_saved_in_the_order_they_were_handed_over(
    failing: FailingLedger, writer: Writer, maker: Maker
) -> None:
    failing.gate.clear()
    futures = [writer.submit(maker.note(str(n))) for n in range(50)]
    assert not any(future.done() for future in futures)
    failing.gate.set()
    assert [future.result(5).seqs for future in futures] == [(n,) for n in range(2, 52)]


def test_a_failure_is_mended_by_one_reopening_and_the_same_ids(
    failing: FailingLedger, writer: Writer, maker: Maker, states: list[State]
) -> None:
    failing.errors = [NotSaved("disk I/O error")]
    press = maker.note()
    assert writer.submit(press).result(5).seqs == (2,)
    assert failing.reopened == 1
    assert [e.id for e in failing.events(CASE)[1:]] == [press[0].id]
    assert states == []


def test_a_press_that_was_stored_although_an_error_came_back_is_not_doubled(
    failing: FailingLedger, writer: Writer, maker: Maker
) -> None:
    failing.late = [NotSaved("error after the commit")]
    ack = writer.submit(maker.note()).result(5)
    assert ack.again
    assert len(failing.events(CASE)) == 2


def test_a_second_failure_makes_the_writer_read_only_and_keeps_the_press(
    failing: FailingLedger, writer: Writer, maker: Maker, states: list[State], tmp_path: Path
) -> None:
    failing.errors = [NotSaved("first"), NotSaved("second")]
    lost, behind = maker.note("lost"), maker.note("behind")
    with pytest.raises(NotSaved, match="second"):
        writer.submit(lost).result(5)
    with pytest.raises(NotSaved, match="waits behind"):
        writer.submit(behind).result(5)
    assert (writer.state, states) == ("read_only", ["read_only"])
    assert writer.unsaved == (lost, behind)
    assert SideFile(tmp_path).read(CASE) == (*lost, *behind)
    assert failing.head(CASE).seq == 1


def test_what_was_not_saved_is_sent_again_in_order_and_the_side_file_goes(
    failing: FailingLedger, writer: Writer, maker: Maker, states: list[State], tmp_path: Path
) -> None:
    failing.errors = [NotSaved("first"), NotSaved("second")]
    presses = [maker.note("lost"), maker.note("behind")]
    futures = [writer.submit(press) for press in presses]
    for future in futures:
        assert isinstance(future.exception(5), NotSaved)
    assert writer.retry().result(5).seqs == (3,)
    assert (writer.state, writer.unsaved) == ("open", ())
    assert [e.id for e in failing.events(CASE)[1:]] == [press[0].id for press in presses]
    assert not SideFile(tmp_path).path(CASE).exists()
    assert states[-1] == "open"
    assert writer.submit(maker.note()).result(5).seqs == (4,)


def test_saving_one_press_leaves_the_other_unsaved_ones_of_the_case_in_the_side_file(
    failing: FailingLedger, writer: Writer, maker: Maker, tmp_path: Path
) -> None:
    side = SideFile(tmp_path)
    earlier = Maker(start=700).note("of an earlier run")
    side.keep(earlier)
    failing.errors = [NotSaved("first"), NotSaved("second")]
    assert isinstance(writer.submit(maker.note("mine")).exception(5), NotSaved)
    assert writer.retry().result(5).seqs == (2,)
    assert side.read(CASE) == earlier


def test_a_refused_press_stays_in_the_side_file_and_no_later_one_waits_behind_it(
    failing: FailingLedger, writer: Writer, maker: Maker, tmp_path: Path
) -> None:
    refused = [event.model_copy(update={"seq": 9}) for event in maker.note("does not fit")]
    assert isinstance(writer.submit(refused).exception(5), Refused)
    failing.errors = [Busy("a"), Busy("b"), Refused("it came to fit no more")]
    maker.seq -= 1
    held = maker.note("held")
    assert isinstance(writer.submit(held).exception(5), Busy)
    assert isinstance(writer.retry().exception(5), Refused)
    assert (writer.state, writer.unsaved) == ("open", ())
    maker.seq -= 1
    assert writer.submit(maker.note("next")).result(5).seqs == (2,)
    kept = SideFile(tmp_path).presses(CASE)
    assert [(press.events, press.again) for press in kept] == [(tuple(refused), False), (held, False)]


def test_a_console_that_leaves_a_case_it_lost_writes_other_cases(
    failing: FailingLedger, writer: Writer, maker: Maker, tmp_path: Path
) -> None:
    mine = maker.note("from the fenced console")
    maker.seq -= 1
    failing.append(maker.lease())
    assert isinstance(writer.submit(mine).exception(5), StaleEpoch)
    behind = maker.note("pressed behind it")
    writer.keep(behind)
    writer.keep_words(CASE, "Enter", stamp(3).moment())
    writer.let_go(CASE)
    other = Maker(OTHER, start=50)
    assert writer.submit(other.opening()).result(5).seqs == (1,)
    assert (writer.state, writer.unsaved) == ("open", ())
    kept = SideFile(tmp_path).presses(CASE)
    assert [press.events or press.words for press in kept] == [mine, behind, "Enter"]
    assert [press.again for press in kept[:2]] == [False, False]


def test_a_retry_that_fails_in_the_middle_keeps_the_rest(
    failing: FailingLedger, writer: Writer, maker: Maker, states: list[State]
) -> None:
    failing.errors = [NotSaved("1"), NotSaved("2")]
    presses = [maker.note("a"), maker.note("b")]
    for press in presses:
        assert writer.submit(press).exception(5)
    failing.errors = [None, NotSaved("3"), NotSaved("4")]
    with pytest.raises(NotSaved, match="4"):
        writer.retry().result(5)
    assert writer.unsaved == (presses[1],)
    assert states == ["read_only", "held", "read_only"]
    assert writer.retry().result(5).seqs == (3,)


def test_a_retry_with_nothing_waiting_says_so(writer: Writer) -> None:
    with pytest.raises(NotSaved, match="nothing is waiting"):
        writer.retry().result(5)


def test_a_busy_ledger_is_tried_twice_then_the_press_is_held(
    failing: FailingLedger, writer: Writer, maker: Maker
) -> None:
    failing.errors = [Busy("held"), None]
    assert writer.submit(maker.note()).result(5).seqs == (2,)
    failing.errors = [Busy("held"), Busy("still held")]
    with pytest.raises(Busy, match="still held"):
        writer.submit(maker.note()).result(5)
    assert (writer.state, failing.reopened) == ("held", 0)
    assert writer.retry().result(5).seqs == (3,)
    assert writer.state == "open"


def test_a_fenced_console_stays_fenced_and_hands_its_press_out(
    failing: FailingLedger, writer: Writer, maker: Maker
) -> None:
    mine = maker.note("from the fenced console")
    maker.seq -= 1
    failing.append(maker.lease())
    with pytest.raises(StaleEpoch):
        writer.submit(mine).result(5)
    assert writer.state == "fenced"
    assert writer.take_unsaved() == (mine,)
    with pytest.raises(StaleEpoch, match="waits behind"):
        writer.submit(maker.note()).result(5)
    assert writer.state == "fenced"


def test_a_refused_press_is_a_refusal_and_nothing_waits_behind_it(
    failing: FailingLedger, writer: Writer, maker: Maker
) -> None:
    (event,) = maker.note()
    with pytest.raises(Refused):
        writer.submit([event.model_copy(update={"seq": 9})]).result(5)
    assert (writer.state, writer.unsaved) == ("open", ())
    assert writer.submit([event]).result(5).seqs == (2,)


@pytest.mark.parametrize("error", [OSError(5, "I/O error"), Damaged("the file is damaged")])
def test_other_failures_of_the_disk_end_in_not_saved_too(
    failing: FailingLedger, writer: Writer, maker: Maker, error: Exception
) -> None:
    failing.errors = [NotSaved("x"), error]
    with pytest.raises(NotSaved):
        writer.submit(maker.note()).result(5)
    assert writer.state == "read_only"
    assert len(writer.unsaved) == 1


def test_a_console_that_fails_to_repaint_does_not_stop_the_saving(
    failing: FailingLedger, maker: Maker
) -> None:
    def broken(_: State) -> None:
        raise ValueError("no screen")

    writer = Writer(failing, on_state=broken)
    failing.errors = [Busy("a"), Busy("b")]
    with pytest.raises(Busy):
        writer.submit(maker.note()).result(5)
    assert writer.retry().result(5).seqs == (2,)
    writer.close(5)


def test_closing_finishes_what_was_handed_over_and_refuses_the_rest(
    failing: FailingLedger, writer: Writer, maker: Maker
) -> None:
    futures = [writer.submit(maker.note()) for _ in range(5)]
    writer.close(5)
    assert [future.result(0).seqs for future in futures] == [(n,) for n in range(2, 7)]
    assert writer.state == "closed"
    with pytest.raises(NotSaved, match="closed"):
        writer.submit(maker.note()).result(0)


def test_a_side_file_that_cannot_be_written_still_leaves_the_press_in_memory(
    failing: FailingLedger, maker: Maker, tmp_path: Path
) -> None:
    writer = Writer(failing, side_folder=tmp_path / "absent")
    failing.errors = [NotSaved("1"), NotSaved("2")]
    press = maker.note()
    assert isinstance(writer.submit(press).exception(5), LedgerError)
    assert writer.unsaved == (press,)
    writer.close(5)


def test_a_torn_line_in_the_side_file_costs_only_itself(tmp_path: Path, maker: Maker) -> None:
    side = SideFile(tmp_path)
    maker.opening()
    first, second = maker.note("one"), maker.note("two")
    side.keep(first)
    side.keep(second)
    side.path(CASE).write_bytes(side.path(CASE).read_bytes()[:-20])
    assert side.read(CASE) == first


def test_a_press_nobody_waits_for_any_more_is_saved_all_the_same(
    failing: FailingLedger, writer: Writer, maker: Maker
) -> None:
    failing.gate.clear()
    first, second = writer.submit(maker.note()), writer.submit(maker.note())
    assert not first.cancel()
    assert not second.cancel()
    failing.gate.set()
    assert second.result(5).seqs == (3,)


def test_presses_handed_out_for_re_entry_free_a_held_writer(
    failing: FailingLedger, writer: Writer, maker: Maker
) -> None:
    failing.errors = [Busy("a"), Busy("b")]
    press = maker.note()
    assert writer.submit(press).exception(5)
    assert writer.take_unsaved() == (press,)
    assert (writer.state, writer.unsaved) == ("open", ())
    maker.seq -= 1
    assert writer.submit(maker.note()).result(5).seqs == (2,)
