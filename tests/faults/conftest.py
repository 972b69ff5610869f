"""The planted ledger, made once for all tests of fault 25."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from tests.faults import planted_ledger


@pytest.fixture(scope="session")
def planted_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The planted ledger; tests that write get a copy of their own."""
    folder = tmp_path_factory.mktemp("planted") / "ledger"
    planted_ledger.make(folder)
    return folder


@pytest.fixture
def planted(planted_once: Path, tmp_path: Path) -> Path:
    """A copy of the planted ledger."""
    return Path(shutil.copytree(planted_once, tmp_path / "ledger"))
