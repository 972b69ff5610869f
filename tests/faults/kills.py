"""Killing the workload at random moments, again and again on the same ledger."""

from __future__ import annotations

import random
import subprocess
import time
from pathlib import Path

from tests.faults.invariants import Tally, acks, judge
from tests.faults.tracing import ROOT, command, environment

PRESSES = 100_000
A_CASE = 50
"""Kills on one ledger before a fresh one is begun: a case of a few hundred entries, as in life."""


def sweep(scratch: Path, kills: int, seed: int = 1) -> Tally:
    """Let the workload save, kill it with SIGKILL after a random number of acknowledgements, look, go on."""
    tally = Tally()
    chance = random.Random(seed)
    known: dict[int, str] = {}
    for number in range(kills):
        if number % A_CASE == 0:
            folder, known = scratch / f"ledger-{number}", {}
        child = subprocess.Popen(
            command(folder, "endless", PRESSES, str(number * PRESSES)),
            stdout=subprocess.PIPE,
            text=True,
            cwd=ROOT,
            env=environment(),
        )
        assert child.stdout is not None
        lines = [child.stdout.readline() for _ in range(chance.randint(1, 12))]
        time.sleep(chance.random() * 0.003)
        child.kill()
        said = "".join(lines) + child.stdout.read()
        child.stdout.close()
        child.wait()
        # A line cut off by the kill was never whole on the screen either.
        known.update(acks(said if said.endswith("\n") else said[: said.rfind("\n") + 1]))
        judge(folder, known, tally, f"kill {number + 1}", extra=1)
    return tally
