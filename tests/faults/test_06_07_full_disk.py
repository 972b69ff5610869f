"""Faults 6 and 7: no room at the start, none left in mid-case, none for a file that is to leave."""

from __future__ import annotations

import json
import resource
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from tests.faults.invariants import Tally, acks, judge
from tests.faults.tracing import ROOT, command, environment


def _may_mount() -> bool:
    unshare = shutil.which("unshare")
    trial = [str(unshare), "--mount", "mount", "-t", "tmpfs", "tmpfs", "/mnt"]
    return unshare is not None and subprocess.run(trial, capture_output=True, check=False).returncode == 0


needs_mount = pytest.mark.skipif(
    not _may_mount(), reason="only on Linux with leave to mount a tmpfs (root): a really full disk"
)


def told(folder: Path, mebibytes: int, story: str = "saving") -> dict[str, Any]:
    """The story of a small disk."""
    folder.mkdir()
    run = subprocess.run(
        [
            "unshare",
            "--mount",
            sys.executable,
            "-m",
            "tests.faults.full_disk",
            str(folder),
            str(mebibytes),
            story,
        ],
        capture_output=True,
        text=True,
        check=False,
        cwd=ROOT,
        env=environment(),
    )
    assert run.returncode == 0, run.stderr
    found: dict[str, Any] = json.loads(run.stdout)
    return found


@needs_mount
def test_a_disk_with_no_room_is_refused_at_the_start_with_a_word_about_paper(tmp_path: Path) -> None:
    found = told(tmp_path / "small", 10)
    assert "MiB free, 16 needed" in found["refused"]
    assert "paper" in found["refused"]
    assert found["left"] == []


@needs_mount
def test_a_disk_that_fills_in_mid_case_says_not_saved_and_saves_when_there_is_room(tmp_path: Path) -> None:
    found = told(tmp_path / "small", 18)
    assert "not saved" in found["said"]
    assert (found["state"], found["unsaved"]) == ("read_only", 1)
    assert found["readable"] == found["saved"] + 1
    assert found["again"] == [found["saved"] + 2]
    assert found["faults"] == []
    # An archive that found no room left nothing half-written.
    assert "cannot be written" in found["archived"]
    assert found["left"] == ["filler", "ledger"]


@needs_mount
def test_an_export_that_finds_no_room_leaves_the_old_one_intact_and_no_partial_name(tmp_path: Path) -> None:
    found = told(tmp_path / "small", 20, "leaving")
    assert found["worked"] == [0, 0, 0]
    assert found["files"] > 5
    assert found["full"] != 0
    assert found["said"].count("\n") == 1, found["said"]
    assert found["intact"]
    assert found["same_names"]


def test_a_limit_on_file_size_stands_in_for_a_full_disk_without_root(tmp_path: Path) -> None:
    folder = tmp_path / "ledger"

    def limit() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (90_000, 90_000))

    run = subprocess.run(
        command(folder, "threaded", 60),
        capture_output=True,
        text=True,
        check=False,
        cwd=ROOT,
        env=environment(),
        preexec_fn=limit,
    )
    assert "not-saved" in run.stdout
    assert "read_only" in run.stdout
    acknowledged = acks(run.stdout)
    assert len(acknowledged) > 3
    tally = Tally()
    judge(folder, acknowledged, tally, "file size limit")
    assert tally.clean, tally.notes
    assert list(folder.glob("unsaved-*.jsonl"))
