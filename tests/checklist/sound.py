"""The sound little checklist, and ways to break it."""

from __future__ import annotations

from pathlib import Path

import pytest

from labcheck.checklist.complaint import ChecklistError
from labcheck.checklist.model import Checklist
from labcheck.checklist.reading import read_checklist

SOUND = (Path(__file__).parent / "sound.toml").read_text(encoding="utf-8")
NAME = "local.toml"


def broken(old: str, new: str) -> str:
    """The sound text with the first ``old`` replaced; the test is wrong where there is none."""
    assert old in SOUND, old
    return SOUND.replace(old, new, 1)


def sound() -> Checklist:
    return read_checklist(SOUND, NAME)


def complaint_lines(text: str | bytes) -> list[str]:
    """What the reader says about a text that it must refuse."""
    with pytest.raises(ChecklistError) as caught:
        read_checklist(text, NAME)
    return [str(complaint) for complaint in caught.value.complaints]


def only_complaint(text: str | bytes) -> str:
    lines = complaint_lines(text)
    assert len(lines) == 1, lines
    return lines[0]
