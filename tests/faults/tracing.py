"""Running the workload under strace: to record its operations, or to make one of them fail."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
STRACE = shutil.which("strace")


def _why_not() -> str:
    """Why nothing can be traced here; empty if it can."""
    if STRACE is None:
        return "needs the program strace"
    trial = subprocess.run([STRACE, "-o", os.devnull, "true"], capture_output=True, check=False)
    return "only on a machine where one process may trace another (ptrace)" if trial.returncode else ""


needs_strace = pytest.mark.skipif(bool(_why_not()), reason=_why_not() or "strace works here")


def command(folder: Path, how: str, presses: int, *more: str) -> list[str]:
    """The workload's command line."""
    return [sys.executable, "-m", "tests.faults.workload", str(folder), how, str(presses), *more]


def environment() -> dict[str, str]:
    """Nothing that writes files of its own."""
    return {**os.environ, "PYTHONDONTWRITEBYTECODE": "1", "PYTHONPATH": str(ROOT)}


def traced(
    folder: Path, how: str, presses: int, log: Path, *options: str
) -> subprocess.CompletedProcess[str]:
    """Run the workload under strace with these options."""
    assert STRACE is not None
    return subprocess.run(
        [STRACE, "-f", "--seccomp-bpf", "-o", str(log), *options, *command(folder, how, presses)],
        capture_output=True,
        text=True,
        check=False,
        cwd=ROOT,
        env=environment(),
        timeout=300,
    )
