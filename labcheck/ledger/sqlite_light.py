"""sqlite-utils without the number libraries that it loads wherever it finds them installed.

It looks for pandas and numpy when it is imported, to store their kinds of numbers. A ledger holds none, and the
third of a second they cost would come before the first screen of every start.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager

UNWANTED = ("pandas", "numpy")


@contextmanager
def _as_if_absent() -> Iterator[None]:
    """Inside, a library not loaded yet cannot be imported; ``None`` in the table of modules says so to Python."""
    hidden = [name for name in UNWANTED if name not in sys.modules]
    sys.modules.update(dict.fromkeys(hidden))  # type: ignore[arg-type]
    try:
        yield
    finally:
        for name in hidden:
            del sys.modules[name]


with _as_if_absent():
    from sqlite_utils import Database

__all__ = ["Database"]
