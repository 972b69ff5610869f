"""Fault 1: SIGKILL at random moments."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.faults.kills import sweep


@pytest.mark.fault(1)
def test_a_killed_console_loses_nothing_acknowledged(tmp_path: Path) -> None:
    tally = sweep(tmp_path, kills=12)
    assert tally.clean, tally.notes[:5]
    assert tally.tried == 12
    assert tally.acknowledged > 100
