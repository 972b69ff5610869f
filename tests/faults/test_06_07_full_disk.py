"""Faults 6 and 7: no room at the start, none left in mid-case, none for a file that is to leave."""

from __future__ import annotations

import json
import resource
import shutil
import subprocess
import sys
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from labcheck.ledger import place
from labcheck.ledger.errors import UnsafePlace
from labcheck.ledger.store import open_ledger
from tests.faults import flips
from tests.faults.full_disk import NEVER_REPLACED, WAYS_OUT, contents, placed, transcribed
from tests.faults.invariants import acks, heads, hold
from tests.faults.promises import LOOKED_AT, PROMISES
from tests.faults.running import run
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
    done = subprocess.run(
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
    assert done.returncode == 0, done.stderr
    found: dict[str, Any] = json.loads(done.stdout)
    return found


@pytest.mark.fault(6)
@needs_mount
def test_a_disk_with_no_room_is_refused_at_the_start_with_a_word_about_paper(tmp_path: Path) -> None:
    found = told(tmp_path / "small", 10)
    assert "MiB free, 16 needed" in found["refused"]
    assert "paper" in found["refused"]
    assert found["left"] == []
    hold(tmp_path / "never", {}, "nothing begun")


@pytest.mark.fault(6)
def test_an_old_ledger_on_a_full_disk_is_refused_for_writing_and_still_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "ledger"
    flips.make_plain(folder)
    before, stood = heads(folder), contents(folder)
    with monkeypatch.context() as patched:
        patched.setattr(place, "free_bytes", lambda _folder: place.ROOM_NEEDED - 1)
        with pytest.raises(UnsafePlace, match=r"only 15 MiB free, 16 needed; make room, use paper"):
            open_ledger(folder)
        assert run(folder, "transcribe", str(ROOT / "checklists" / "rehearsals" / "paper-record.toml")).status == 2
        assert run(folder, "verify").status == 0
    assert contents(folder) == stood
    hold(folder, before, "refused", extra=0)


@pytest.mark.fault(5)
@needs_mount
def test_a_disk_that_fills_in_mid_case_says_not_saved_and_saves_when_there_is_room(tmp_path: Path) -> None:
    found = told(tmp_path / "small", 18)
    assert "not saved" in found["said"]
    assert (found["state"], found["unsaved"]) == ("read_only", 1)
    assert found["readable"] == found["saved"] + 1
    assert found["again"] == [found["saved"] + 2]
    assert found["faults"] == []
    assert found["promises"] == []
    LOOKED_AT.update(PROMISES)  # in the child: the disk goes with its mount namespace
    # An archive that found no room left nothing half-written.
    assert "cannot be written" in found["archived"]
    assert found["left"] == ["filler", "ledger"]


@pytest.mark.fault(7)
@needs_mount
def test_whatever_leaves_and_finds_no_room_leaves_the_old_one_intact_and_no_partial_name(tmp_path: Path) -> None:
    found = told(tmp_path / "small", 24, "leaving")
    assert found["promises"] == []
    LOOKED_AT.update(PROMISES)
    assert found.pop("files") > 15
    for name, out in found["exports"].items():
        assert out["worked"] == 0, (name, out)
        assert out["full"] == 2, (name, out)
        assert out["said"].count("\n") == 1, (name, out["said"])
        assert out["intact"], name


class Limited:
    """No file may grow beyond so many bytes while this is held: a full disk without root."""

    def __init__(self, most: int) -> None:
        self.most = most

    def __enter__(self) -> None:
        self.before = resource.getrlimit(resource.RLIMIT_FSIZE)
        resource.setrlimit(resource.RLIMIT_FSIZE, (self.most, self.before[1]))

    def __exit__(self, *_: object) -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, self.before)


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    """A ledger with one transcribed case, and its key."""
    folder = tmp_path_factory.mktemp("filled") / "ledger"
    return folder, transcribed(folder)


@pytest.mark.fault(7)
@pytest.mark.parametrize(
    ("name", "most"),
    [
        *((name, 0) for name in WAYS_OUT),
        ("csv", 3_000),
        ("archive", 30_000),
        ("rebuild", 60_000),
    ],
)
def test_a_limit_on_file_size_leaves_the_old_files_intact_and_no_partial_name(
    filled: tuple[Path, str], tmp_path: Path, name: str, most: int
) -> None:
    ledger, key = filled
    before = heads(ledger, key)
    to = tmp_path / "out"
    to.mkdir()
    words = placed(WAYS_OUT[name], key, to)
    if name not in NEVER_REPLACED:
        assert run(ledger, *words).status == 0
    stood = contents(to)
    # A console is open on it, so that reading needs no new file of SQLite's own, which could not grow either.
    with closing(open_ledger(ledger)), Limited(most):
        ran = run(ledger, *words)
    assert (ran.status, ran.err.count("\n")) == (2, 1), ran
    assert "ledger/ledger.db" not in ran.err, ran
    assert contents(to) == stood
    assert run(ledger, *words).status == 0
    assert contents(to).keys() >= stood.keys()
    hold(ledger, before, name, case=key, made=False, extra=0)


@pytest.mark.fault(5)
def test_a_limit_on_file_size_stands_in_for_a_full_disk_without_root(tmp_path: Path) -> None:
    folder = tmp_path / "ledger"

    def limit() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (90_000, 90_000))

    done = subprocess.run(
        command(folder, "threaded", 60),
        capture_output=True,
        text=True,
        check=False,
        cwd=ROOT,
        env=environment(),
        preexec_fn=limit,
    )
    assert "not-saved" in done.stdout
    assert "read_only" in done.stdout
    acknowledged = acks(done.stdout)
    assert len(acknowledged) > 3
    hold(folder, acknowledged, "file size limit")
    assert list(folder.glob("unsaved-*.jsonl"))
