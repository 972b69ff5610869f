"""A reader of XES that is not ours: a port of the standard's reference implementation (a test tool, never shipped).

It refuses what is not XML, a time that is not in the calendar, text in a number, and events outside a trace. It
takes a time without an offset for UTC, and an event without a time for an event: both are for our own checker,
and for whoever counts the times it gives back.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

Attributes = dict[str, Any]


def need_reader() -> None:
    """Skip where the reader is not installed; in CI it is."""
    pytest.importorskip("opyenxes", reason="not installed: pip install -r tests/registry/requirements.txt")


def read(path: Path) -> list[list[Attributes]]:
    """Every event of every trace, as the reader understands them. Raises ``ValueError`` where it refuses the file."""
    need_reader()
    from opyenxes.data_in.XUniversalParser import XUniversalParser

    try:
        with path.open(encoding="utf-8") as file:
            (log,) = XUniversalParser().parse(file)
    except Exception as fault:
        raise ValueError(f"{path.name}: {fault}") from None
    return [[_values(event) for event in trace] for trace in log]


def _values(event: Any) -> Attributes:
    return {key: attribute.get_value() for key, attribute in event.get_attributes().items()}
