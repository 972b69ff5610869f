"""What the export tests share."""

from __future__ import annotations

import pytest

from labcheck.caselog.case import Case
from labcheck.registry.stored import StoredCase
from tests.registry.telling import everything


@pytest.fixture(scope="session")
def everything_case() -> tuple[Case, StoredCase]:
    """A case with a little of everything, real, with texts that spreadsheets mistake."""
    return everything()
