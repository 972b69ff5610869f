"""The session: stamps, order, and what is said about saving."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from concurrent.futures import Future
from types import SimpleNamespace

import pytest

from labcheck.caselog.case import Case
from labcheck.caselog.deciding import Decided, decide
from labcheck.caselog.events import ClockNoticed
from labcheck.caselog.folding import begin, refold
from labcheck.caselog.intents import EnergyOff, EnergyOn, Intent, NoticeClock, SetMark
from labcheck.caselog.stamps import shifted
from labcheck.caselog.telling import clock_words
from labcheck.ledger.errors import Damaged, NotSaved, Refused, StaleEpoch
from tests.console.desk import TestDesk

SAID = ["mark", "energy on, left, attempt 1"]
OFF = "energy off, left, attempt 1, 1.0 s"


def ready(*targets: str) -> TestDesk:
    desk = TestDesk(*targets)
    desk.do("stage.open", stage="cross", cusp="left", reason="test")
    return desk


def test_nothing_counts_before_the_ledger_has_acknowledged_it() -> None:
    desk = ready()
    desk.writer.hold = True
    before = desk.case
    desk.press("f2")
    assert desk.case is before
    assert "saved" not in desk.session.save.words or str(before.head_seq) in desk.session.save.words
    desk.writer.let_go()
    assert desk.kinds() == ["mark.set"]
    assert desk.session.save.state == "saved"
    assert str(desk.case.head_seq) in desk.session.save.words


def test_presses_made_during_a_slow_commit_keep_their_own_times_and_order() -> None:
    desk = ready()
    desk.writer.hold = True
    times = []
    for _ in range(3):
        times.append(desk.now().wall_us)
        desk.press("f2")
    desk.writer.let_go()
    while desk.writer.held:
        desk.writer.let_go()
    marks = desk.case.log[-3:]
    assert [event.happened.wall_us for event in marks] == times
    assert [event.seq for event in marks] == sorted(event.seq for event in marks)


def test_a_switch_pressed_twice_during_one_commit_goes_on_and_off() -> None:
    desk = ready()
    desk.writer.hold = True
    desk.press("space", "space")
    while desk.writer.held:
        desk.writer.let_go()
    assert desk.kinds(3) == ["attempt.opened", "energy.started", "energy.stopped"]


def test_an_unsaved_press_is_said_so_and_sent_again_with_the_same_ids() -> None:
    desk = ready()
    desk.writer.fail_next = NotSaved("disk full")
    desk.press("f2")
    assert desk.session.save.state == "not_saved"
    assert "NOT SAVED" in desk.session.save.words
    assert "disk full" in desk.session.save.words
    assert desk.kinds() != ["mark.set"]
    desk.session.look(desk.now())
    assert desk.kinds() == ["mark.set"]
    assert desk.session.save.state == "saved"
    first, again = desk.writer.sent[-2:]
    assert [event.id for event in first] == [event.id for event in again]


def test_presses_after_an_unsaved_one_wait_behind_it() -> None:
    desk = ready()
    desk.writer.fail_next = NotSaved("disk full")
    desk.press("f2")
    desk.writer.fail_next = NotSaved("disk full")
    desk.press("space")
    assert desk.session.waiting == 2
    desk.session.retry()
    assert desk.kinds(3) == ["mark.set", "attempt.opened", "energy.started"]


def test_a_fenced_console_writes_nothing_more_and_says_so() -> None:
    desk = ready()
    desk.writer.fail_next = StaleEpoch("another console took this case over")
    desk.press("f2")
    sent = len(desk.writer.sent)
    desk.press("f2", "space")
    assert len(desk.writer.sent) == sent
    assert desk.session.save.state == "not_saved"
    assert "another console" in desk.session.save.words


def fenced(desk: TestDesk, *behind: str) -> None:
    """F2 is being written while the other keys are pressed; then it turns out that another console has the case."""
    desk.writer.hold = True
    desk.press("f2", *behind)
    desk.writer.fail_next = StaleEpoch("another console took this case over")
    desk.writer.let_go()


def test_a_fenced_console_names_every_press_with_its_time_and_keeps_what_waited() -> None:
    desk = ready()
    fenced(desk, "space", "f2", "space")
    words = desk.session.save.words
    assert [press.words for press in desk.session.lost] == [*SAID, "mark", OFF.replace("1.0", "2.0")]
    for press in desk.session.lost:
        assert press.named in words
    assert "enter it there" in words
    kept = [[event.kind for event in press] for press in desk.writer.kept]
    assert kept == [["attempt.opened", "energy.started"], ["mark.set"], ["energy.stopped"]]
    assert desk.session.waiting == 0


def test_a_press_after_the_fence_is_named_by_its_own_words_and_kept_too() -> None:
    desk = ready()
    fenced(desk)
    pressed = clock_words(desk.now())
    desk.press("space")
    assert f"NOT SAVED energy on, left, attempt 1 {pressed}:" in desk.session.save.words
    desk.wait(5)
    pressed = clock_words(desk.now())
    desk.press("space")
    assert f"NOT SAVED energy off, left, attempt 1, 6.0 s {pressed}:" in desk.session.save.words
    assert desk.session.waiting == 0
    assert len(desk.session.lost) == 3


def test_a_press_that_would_be_refused_is_named_too_when_another_console_has_the_case() -> None:
    desk = ready()
    fenced(desk)
    pressed = clock_words(desk.now())
    desk.send(EnergyOff(press=desk.press_id()), desk.now())
    assert f"NOT SAVED energy off {pressed}" in desk.session.save.words
    assert desk.writer.kept == ["energy off"]


def test_an_entry_of_the_program_alone_tells_nobody_to_enter_anything() -> None:
    notice = ClockNoticed.model_validate({"notice": "stalled", "amount_us": 5_000_000, "basis": "boot"})
    for failure in (NotSaved("disk full"), Refused("read the case again"), StaleEpoch("taken over")):
        desk = ready()
        desk.writer.fail_next = failure
        desk.send(NoticeClock(press=desk.press_id(), found=notice), desk.now())
        words = desk.session.save.words
        assert not any(told in words for told in ("enter it", "press it", "use paper")), words
        assert ("NOT SAVED" in words) == (not isinstance(failure, Refused))
        assert desk.session.lost == []
        assert desk.writer.kept == []
        assert desk.session.fenced == ("taken over" if isinstance(failure, StaleEpoch) else "")


def test_when_the_ledger_refuses_the_case_is_read_again_and_the_next_press_fits() -> None:
    desk = ready()
    desk.session.reload = lambda: refold(begin(desk.case.key, desk.checklist), desk.ledger.events(desk.case.key))
    elsewhere = decide(desk.case, SetMark(press="f" * 32), desk.now())
    assert isinstance(elsewhere, Decided)
    desk.ledger.append(elsewhere.events)
    behind = desk.case.head_seq
    desk.writer.fail_next = Refused("the next entry is another one; read the case again")
    desk.press("f2")
    assert desk.session.save.state == "not_saved"
    assert desk.case.head_seq == behind + 1
    desk.press("f2")
    assert desk.session.save.state == "saved"
    assert desk.case.head_seq == behind + 2


def test_a_press_that_the_ledger_refused_is_named_until_a_key_that_was_pressed_after_reading_it() -> None:
    desk = ready()
    desk.session.clock = desk.now
    desk.writer.hold = True
    pressed = clock_words(desk.now())
    desk.press("f2", "space")
    desk.writer.fail_next = Refused("read the case again")
    desk.writer.let_go()
    assert desk.session.save.state == "not_saved"
    assert f"NOT SAVED mark {pressed}: press it again" in desk.session.save.words
    assert f"saved {desk.case.head_seq} " in desk.session.save.words
    assert desk.kinds(2) == ["attempt.opened", "energy.started"]
    assert [event.kind for event in desk.writer.kept[0]] == ["mark.set"]
    desk.wait(0.5)
    desk.press("space")
    assert f"NOT SAVED mark {pressed}" in desk.session.save.words
    desk.press("f2")
    assert (desk.session.save.state, desk.kinds()) == ("saved", ["mark.set"])
    assert [press.words for press in desk.session.lost] == ["mark"]


def test_not_saved_is_said_although_the_case_cannot_be_read_again() -> None:
    def gone() -> Case:
        raise Damaged("the file is damaged")

    desk = ready()
    desk.session.reload = gone
    desk.writer.fail_next = Refused("read the case again")
    pressed = clock_words(desk.now())
    desk.press("f2")
    assert desk.session.save.state == "not_saved"
    assert f"NOT SAVED mark {pressed}: use paper" in desk.session.save.words


@pytest.mark.parametrize("what", ["case_changed", "refused"])
def test_a_fault_on_the_screen_does_not_leave_the_presses_behind_it_standing(what: str) -> None:
    desk = ready()
    desk.writer.hold = True
    desk.press("f2")
    desk.send(EnergyOff(press=desk.press_id()), desk.now())
    desk.press("space")

    def broken(*_: object) -> None:
        raise KeyError("made for the test")

    desk.session.listeners.insert(0, SimpleNamespace(**{**NO_EARS, what: broken}))
    faults = guarded(desk)
    desk.writer.let_go()
    assert faults
    assert desk.kinds(3) == ["mark.set", "attempt.opened", "energy.started"]
    assert desk.refusals, "the screen that has no fault hears of it all the same"
    assert (desk.session.waiting, desk.session.save.waiting) == (0, 0)


def guarded(desk: TestDesk) -> list[Exception]:
    """Faults of ours go where the program notes them, and do not come out of the writer."""
    faults: list[Exception] = []

    def deliver(call: Callable[[], None]) -> None:
        try:
            call()
        except Exception as fault:
            faults.append(fault)

    desk.session.deliver = deliver
    return faults


NO_EARS: dict[str, Callable[..., None]] = {
    name: lambda *_: None for name in ("case_changed", "refused", "save_changed")
}


def test_a_press_whose_deciding_breaks_is_named_and_the_next_one_is_written() -> None:
    desk = ready()
    desk.writer.hold = True
    desk.press("f2")

    def broken(_: Case) -> Intent:
        raise KeyError("made for the test")

    pressed = clock_words(desk.now())
    desk.ask(broken, desk.now())
    desk.press("space")
    faults = guarded(desk)
    desk.writer.let_go()
    assert len(faults) == 1
    assert f"NOT SAVED a press {pressed}" in desk.session.save.words
    assert desk.kinds(3) == ["mark.set", "attempt.opened", "energy.started"]


def test_a_refusal_behind_a_press_leaves_nothing_counted_as_waiting() -> None:
    desk = ready()
    desk.writer.hold = True
    desk.press("f2")
    desk.send(EnergyOff(press=desk.press_id()), desk.now())
    assert desk.session.save.waiting == 2
    desk.writer.let_go()
    assert (desk.session.save.state, desk.session.save.waiting) == ("saved", 0)


def test_what_waits_is_named_without_being_recorded() -> None:
    desk = ready()
    desk.writer.hold = True
    first = desk.now()
    desk.press("f2", "space", "space")
    assert [press.named for press in desk.session.pending()] == [
        f"mark {clock_words(first)}",
        f"energy on, left, attempt 1 {clock_words(shifted(first, -1_000_000))}",
        f"energy off, left, attempt 1, 1.0 s {clock_words(shifted(first, -2_000_000))}",
    ]
    assert desk.session.waiting == 3
    desk.writer.let_go()
    assert desk.kinds(2) == ["energy.started", "energy.stopped"]


def test_the_presses_that_wait_when_the_program_ends_are_decided_and_written() -> None:
    desk = ready()
    desk.writer.hold = True
    times = [desk.now().wall_us + second * 1_000_000 for second in range(3)]
    desk.press("f2", "space", "space")
    threading.Timer(0.1, desk.writer.let_go).start()
    assert desk.session.drain(time.monotonic() + 5) == ()
    assert desk.kinds(4) == ["mark.set", "attempt.opened", "energy.started", "energy.stopped"]
    marked, _, on, off = desk.case.log[-4:]
    assert [event.happened.wall_us for event in (marked, on, off)] == times


def test_a_disk_that_fails_while_the_program_ends_is_asked_again_until_the_time_is_up() -> None:
    desk = ready()
    desk.writer.fail_next = NotSaved("disk full")
    desk.press("f2")
    desk.writer.fail_next = NotSaved("disk full")
    desk.press("space")
    assert desk.session.drain(time.monotonic() + 5) == ()
    assert desk.kinds(3) == ["mark.set", "attempt.opened", "energy.started"]


def test_what_is_not_written_when_the_program_ends_comes_back_named_with_its_entries() -> None:
    desk = ready()
    seq = desk.case.head_seq
    desk.writer.hold = True
    desk.press("f2", "space")
    desk.send(EnergyOn(press=desk.press_id()), desk.now())
    desk.send(EnergyOff(press=desk.press_id()), desk.now())
    left = desk.session.drain(time.monotonic() + 0.05)
    assert [press.words for press in left] == [*SAID, "energy on", OFF]
    assert [[event.seq for event in press.events] for press in left] == [[seq + 1], [seq + 2, seq + 3], [], [seq + 4]]


def test_a_press_that_becomes_nothing_while_the_program_ends_is_named() -> None:
    desk = ready()
    desk.writer.hold = True
    desk.press("f2")
    desk.send(EnergyOff(press=desk.press_id()), desk.now())
    threading.Timer(0.05, desk.writer.let_go).start()
    assert [press.words for press in desk.session.drain(time.monotonic() + 5)] == ["energy off"]
    assert desk.kinds() == ["mark.set"]


def test_a_commit_that_takes_long_is_called_slow() -> None:
    desk = ready()
    desk.writer.hold = True
    desk.send(SetMark(press=desk.press_id()), desk.now())
    desk.session.show_writing()
    assert desk.session.save.state == "writing"
    desk.wait(0.5)
    desk.session.look(desk.now())
    assert desk.session.save.state == "slow"


def test_a_refused_press_writes_nothing_and_does_not_stop_the_next() -> None:
    desk = ready()
    sent = len(desk.writer.sent)
    desk.send(EnergyOff(press=desk.press_id()), desk.now())
    assert len(desk.writer.sent) == sent
    assert "off already" in desk.refusals[-1].why.reason
    desk.send(EnergyOn(press=desk.press_id()), desk.now())
    assert desk.kinds() == ["energy.started"]


def test_a_late_answer_for_an_earlier_press_is_not_taken_for_this_one() -> None:
    desk = ready()
    desk.writer.hold = True
    desk.press("f2")
    stranger: Future[object] = Future()
    writing = desk.session._writing
    assert writing is not None
    stranger.set_result(None)
    desk.session._done(writing, stranger)
    assert desk.kinds() != ["mark.set"]
