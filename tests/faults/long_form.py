"""Which form of the tests runs: the short one with all other tests, the long one on demand."""

from __future__ import annotations

import os

import pytest

LONG = bool(os.environ.get("LABCHECK_LONG"))
long_only = pytest.mark.skipif(
    not LONG, reason="only on demand, in the long form: python -m tests.faults.full screens"
)


def short(values: object, *kept: object) -> list[object]:
    """Parameters of which the short form runs only ``kept``, by their names."""
    return [
        value if value in kept else pytest.param(value, marks=long_only)
        for value in values  # type: ignore[attr-defined]
    ]
