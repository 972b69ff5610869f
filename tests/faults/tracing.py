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


def _may_trace() -> bool:
    if STRACE is None:
        return False
    return (
        subprocess.run([STRACE, "-o", os.devnull, "true"], capture_output=True, check=False).returncode == 0
    )


needs_strace = pytest.mark.skipif(
    not _may_trace(), reason="needs the program strace and leave to trace (ptrace)"
)


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
