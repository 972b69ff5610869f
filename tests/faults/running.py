"""Running commands of the program in this process, as a shell would, and looking at every byte they print."""

from __future__ import annotations

import contextlib
import io
from dataclasses import dataclass
from pathlib import Path

from labcheck.cli import main
from tests.faults.planting import steering


@dataclass(frozen=True, slots=True)
class Ran:
    """What a command came to."""

    status: int
    out: str
    err: str


def run(folder: Path, *words: str) -> Ran:
    """One command on a ledger. Fails if a byte it prints could act on the terminal, or if it says a fault of ours."""
    out, err = io.TextIOWrapper(io.BytesIO(), "utf-8"), io.TextIOWrapper(io.BytesIO(), "utf-8")
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        status = main([words[0], "--ledger", str(folder), *words[1:]])
    for stream in (out, err):
        stream.flush()
    said = [stream.buffer.getvalue().decode("utf-8") for stream in (out, err)]
    for text in said:
        assert steering(text) == [], words
    assert "fault in the program" not in said[1], said[1]
    return Ran(status, *said)
