"""The session: stamps, order, and what is said about saving."""

from __future__ import annotations

from concurrent.futures import Future

from labcheck.caselog.deciding import Decided, decide
from labcheck.caselog.folding import begin, refold
from labcheck.caselog.intents import EnergyOff, EnergyOn, SetMark
from labcheck.ledger.errors import NotSaved, Refused, StaleEpoch
from tests.console.desk import TestDesk


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
