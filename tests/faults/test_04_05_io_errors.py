"""Faults 4 and 5: the n-th sync fails, the n-th write finds the disk full. Every n until a run goes untouched."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.faults.errors import ENOSPC_AT_WRITE, FAILED_SYNC, sweep
from tests.faults.tracing import needs_strace

pytestmark = needs_strace


@pytest.mark.fault(4)
def test_a_failed_sync_of_the_log_is_mended_by_reopening_and_the_same_ids(tmp_path: Path) -> None:
    tally = sweep(FAILED_SYNC, tmp_path, presses=2, every=2, on="ledger.db-wal")
    assert tally.clean, tally.notes[:5]
    assert tally.extra["errors injected"] >= 2
    assert tally.extra["presses called not saved"] == 0


@pytest.mark.fault(5)
def test_a_full_disk_while_the_log_is_written_is_mended_the_same_way(tmp_path: Path) -> None:
    tally = sweep(ENOSPC_AT_WRITE, tmp_path, presses=2, every=5, on="ledger.db-wal")
    assert tally.clean, tally.notes[:5]
    assert tally.extra["errors injected"] >= 3


@pytest.mark.fault(4, 5)
@pytest.mark.parametrize("fault", [FAILED_SYNC, ENOSPC_AT_WRITE], ids=["sync", "write"])
def test_a_failing_mirror_costs_nothing_that_was_acknowledged(tmp_path: Path, fault: tuple[str, str]) -> None:
    tally = sweep(fault, tmp_path, presses=2, every=1, on="mirror/K7Q2-M4.log")
    assert tally.clean, tally.notes[:5]
    assert tally.extra["errors injected"] >= 2


@pytest.mark.fault(4)
def test_a_disk_that_fails_for_good_is_said_to_have_saved_nothing(tmp_path: Path) -> None:
    tally = sweep(FAILED_SYNC, tmp_path, presses=2, every=3, lasting=True)
    assert tally.clean, tally.notes[:5]
    assert tally.extra["presses called not saved"] > 0


@pytest.mark.fault(4, 5)
@pytest.mark.parametrize("fault", [FAILED_SYNC, ENOSPC_AT_WRITE], ids=["sync", "write"])
def test_a_ledger_that_cannot_be_made_leaves_no_half_file(tmp_path: Path, fault: tuple[str, str]) -> None:
    tally = sweep(fault, tmp_path, presses=0, every=7, first_start=True)
    assert tally.clean, tally.notes[:5]
    assert tally.extra["starts refused"] > 0
