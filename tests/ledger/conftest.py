"""Both ledgers, and a maker of presses."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import settings

from labcheck.ledger.contract import Ledger
from labcheck.ledger.memory import MemoryLedger
from labcheck.ledger.store import FileLedger, open_ledger
from tests.ledger.making import CHECKLIST, Maker

# A busy machine is slow, not wrong.
settings.register_profile("unhurried", deadline=None)
settings.load_profile("unhurried")


@pytest.fixture
def maker() -> Maker:
    return Maker()


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path / "ledger"


@pytest.fixture
def file_ledger(folder: Path) -> Iterator[FileLedger]:
    opened = open_ledger(folder)
    yield opened
    opened.close()


@pytest.fixture(params=["file", "memory"])
def ledger(request: pytest.FixtureRequest, folder: Path) -> Iterator[Ledger]:
    """Both ledgers, one after the other: what holds for one must hold for the other."""
    opened: Ledger = open_ledger(folder) if request.param == "file" else MemoryLedger()
    opened.keep_checklist(CHECKLIST)
    yield opened
    opened.close()
