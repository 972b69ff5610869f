"""The shipped checklists, read once for all tests of a run."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from labcheck.checklist.model import Checklist
from labcheck.checklist.reading import read_checklist

FOLDER = Path(__file__).parents[2] / "checklists"
NAMES = tuple(sorted(path.stem for path in FOLDER.glob("*.toml")))


@cache
def shipped(name: str) -> Checklist:
    """The shipped checklist of that name."""
    path = FOLDER / f"{name}.toml"
    return read_checklist(path.read_bytes(), path.name)
