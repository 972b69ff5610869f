"""The five promises by number, and which of them the present test has looked at. Imports nothing, on purpose.

I1 what was acknowledged is there. I2 the chain, the mirror and the file prove themselves. I3 nothing was called
saved that is not what is stored. I4 intervals are right. I5 nothing was rewritten or doubled.
"""

from __future__ import annotations

PROMISES = ("I1", "I2", "I3", "I4", "I5")
LOOKED_AT: set[str] = set()
"""Emptied before each test by ``tests/conftest.py``, which wants all five of every test of a row of the matrix."""
