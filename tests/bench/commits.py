"""A durable commit against the least a durable write can cost: append a line to a file and fsync it."""

from __future__ import annotations

import os
import time
from pathlib import Path

from labcheck.commands import shelf
from labcheck.ledger.store import open_ledger
from tests.bench.ledgers import long_presses

ROUNDS = 400


def measure(folder: Path) -> tuple[list[float], list[float]]:
    """Seconds of each append+fsync and of each ledger append, taken in turns."""
    _, text, _ = shelf.checklist("electrosurgical")
    with_mirror = open_ledger(folder / "commits")
    with_mirror.keep_checklist(text)
    presses = long_presses(with_mirror, ROUNDS)
    line = b"x" * 420 + b"\n"
    plain: list[float] = []
    ours: list[float] = []
    descriptor = os.open(folder / "plain", os.O_CREAT | os.O_WRONLY | os.O_APPEND, 0o600)
    for press in presses:
        start = time.perf_counter()
        os.write(descriptor, line)
        os.fsync(descriptor)
        plain.append(time.perf_counter() - start)
        start = time.perf_counter()
        with_mirror.append(press)
        ours.append(time.perf_counter() - start)
    os.close(descriptor)
    with_mirror.close()
    return plain, ours
