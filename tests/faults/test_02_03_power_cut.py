"""Faults 2 and 3: the power goes at any moment, also while the ledger is being made."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from tests.faults.powercut import Disk, Operation, record, sweep
from tests.faults.tracing import needs_strace


@needs_strace
@pytest.mark.fault(2)
def test_a_power_cut_at_any_moment_loses_nothing_acknowledged(tmp_path: Path) -> None:
    operations = record(tmp_path / "ledger", tmp_path / "trace", presses=6)
    tally = sweep(operations, every=5, torn=1)
    assert tally.clean, tally.notes[:5]
    assert tally.acknowledged > 300
    # The sweep reached the moments that matter: before the first save, and between commit and acknowledgement.
    assert tally.extra["nothing acknowledged yet"] > 0
    assert tally.extra["one press committed and not yet acknowledged"] > 0


@needs_strace
@pytest.mark.fault(3)
def test_a_power_cut_while_the_ledger_is_made_leaves_it_whole_or_not_there(tmp_path: Path) -> None:
    operations = record(tmp_path / "ledger", tmp_path / "trace", presses=0)
    first = next(number for number, op in enumerate(operations) if op.name == "say")
    # Whatever is found afterwards, a ledger opens there, keeps the case, and no half-made file stays beside it.
    tally = sweep(operations[: first + 1], every=1, torn=1)
    assert tally.clean, tally.notes[:5]
    assert tally.extra["nothing acknowledged yet"] > 40


@needs_strace
@pytest.mark.fault(2)
def test_the_replay_notices_a_ledger_that_does_not_sync(tmp_path: Path) -> None:
    # The test of the test: without the syncs of the log the same sweep must find losses.
    operations = record(tmp_path / "ledger", tmp_path / "trace", presses=4)
    careless = [op for op in operations if not (op.name == "sync" and op.path.endswith("-wal"))]
    assert not sweep(careless, every=50, torn=0).clean


def test_a_write_is_uncertain_until_its_file_is_synced(tmp_path: Path) -> None:
    disk = Disk()
    for op in (
        Operation("create", "a"),
        Operation("sync", "."),
        Operation("write", "a", b"one"),
        Operation("sync", "a"),
        Operation("write", "a", b"two", at=3),
        Operation("create", "b"),
    ):
        disk.do(op)
    disk.cut(tmp_path / "dropped", "dropped", random.Random(1))
    disk.cut(tmp_path / "kept", "kept", random.Random(1))
    assert (tmp_path / "dropped" / "a").read_bytes() == b"one"
    assert not (tmp_path / "dropped" / "b").exists()
    assert (tmp_path / "kept" / "a").read_bytes() == b"onetwo"
    assert (tmp_path / "kept" / "b").exists()
