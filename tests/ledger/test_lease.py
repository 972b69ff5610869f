"""Who holds a case, as far as the locks can say."""

from __future__ import annotations

import stat
from pathlib import Path

import pytest

from labcheck.ledger.lease import UNKNOWN, Lease
from tests.ledger.making import CASE, OTHER


@pytest.fixture
def one(tmp_path: Path) -> Lease:
    return Lease(tmp_path, "desk one")


@pytest.fixture
def two(tmp_path: Path) -> Lease:
    return Lease(tmp_path, "desk two")


def test_one_console_holds_a_case_and_the_other_sees_who(one: Lease, two: Lease) -> None:
    assert two.held_by(CASE, 1) is None
    assert one.acquire(CASE, 1, since_us=123)
    holder = two.held_by(CASE, 1)
    assert holder is not None
    assert (holder.console, holder.since_us) == ("desk one", 123)
    assert not two.acquire(CASE, 1, since_us=456)
    assert two.acquire(OTHER, 1, since_us=456)
    assert one.acquire(CASE, 1, since_us=789)


def test_a_case_let_go_is_free(one: Lease, two: Lease) -> None:
    one.acquire(CASE, 1, since_us=1)
    one.let_go(CASE)
    one.let_go(CASE)
    assert two.held_by(CASE, 1) is None
    assert two.acquire(CASE, 1, since_us=2)
    two.close()
    assert one.acquire(CASE, 1, since_us=3)


def test_a_new_case_and_its_first_epoch_are_the_same_lock(one: Lease, two: Lease) -> None:
    assert one.acquire(CASE, 0, since_us=1)
    assert not two.acquire(CASE, 1, since_us=2)


def test_a_takeover_takes_the_next_epoch_and_leaves_the_old_lock_alone(one: Lease, two: Lease) -> None:
    one.acquire(CASE, 1, since_us=1)
    assert two.take_over(CASE, 1, since_us=2)
    holder = one.held_by(CASE, 2)
    assert holder is not None
    assert holder.console == "desk two"
    assert one.held_by(CASE, 1) is not None
    assert not one.take_over(CASE, 1, since_us=3)
    assert one.take_over(CASE, 2, since_us=4)


def test_a_holder_that_left_no_note_is_still_a_holder(one: Lease, two: Lease, tmp_path: Path) -> None:
    one.acquire(CASE, 1, since_us=1)
    (lock,) = (tmp_path / "lease").iterdir()
    lock.write_text("{half")
    assert two.held_by(CASE, 1) == UNKNOWN


def test_locks_are_private(one: Lease, tmp_path: Path) -> None:
    one.acquire(CASE, 1, since_us=1)
    for path in (tmp_path / "lease", *(tmp_path / "lease").iterdir()):
        assert stat.S_IMODE(path.stat().st_mode) & 0o077 == 0


def test_a_case_not_yet_opened_is_asked_for_and_taken_over_as_in_its_first_epoch(one: Lease, two: Lease) -> None:
    one.acquire(CASE, 1, since_us=1)
    holder = two.held_by(CASE, 0)
    assert holder is not None
    assert holder.console == "desk one"
    assert two.take_over(CASE, 0, since_us=2)
    assert one.held_by(CASE, 2) is not None


def test_holding_a_newer_epoch_lets_the_older_one_go(one: Lease, two: Lease) -> None:
    one.acquire(CASE, 1, since_us=1)
    assert one.take_over(CASE, 1, since_us=2)
    assert two.held_by(CASE, 1) is None
    one.close()
    assert two.held_by(CASE, 2) is None
