"""The rehearsal in a real pseudo-terminal: played to the end, or handed over at any moment; at three sizes."""

from __future__ import annotations

import json
import re
import subprocess
from contextlib import closing
from pathlib import Path

import pytest

from labcheck.ledger.store import open_ledger
from tests.terminal.harness import Terminal, labcheck
from tests.terminal.nurse import Nurse

pytestmark = pytest.mark.terminal

SIZES = [(80, 24), (120, 40), (200, 60)]


def rehearsal(ledger: Path, *arguments: str, size: tuple[int, int] = (120, 40)) -> Terminal:
    return Terminal(labcheck("rehearse", *arguments, "--ledger", str(ledger)), size=size)


@pytest.mark.parametrize("size", SIZES, ids=lambda s: f"{s[0]}x{s[1]}")
def test_the_shipped_rehearsal_plays_to_its_seal_at_every_size(size: tuple[int, int], tmp_path: Path) -> None:
    with rehearsal(tmp_path / "ledger", "--pace", "1000", size=size) as terminal:
        text = terminal.wait_for("closed and sealed", patience=60)
        assert "REHEARSAL" in text
        assert all(len(line) <= size[0] for line in text.splitlines())
        key = Nurse(terminal).key
    with closing(open_ledger(tmp_path / "ledger", read_only=True)) as ledger:
        line = ledger.cases()[0]
    assert (line.case, line.rehearsal, line.sealed) == (key, True, True)


def test_any_key_hands_the_keys_over_and_records_nothing(tmp_path: Path) -> None:
    with rehearsal(tmp_path / "ledger", "--pace", "200") as terminal:
        nurse = Nurse(terminal)
        terminal.wait_for("STEPS Access", patience=60)
        terminal.press("enter")
        terminal.wait_for("you have the keys")
        terminal.settle()
        stopped = nurse.saved
        terminal.pump(3.0)
        assert nurse.saved == stopped
        nurse.record("f2")
        assert nurse.saved == stopped + 1
        key = nurse.key
    with closing(open_ledger(tmp_path / "ledger", read_only=True)) as ledger:
        events = ledger.events(key)
    assert events[-1].kind == "mark.set"
    before = events[-2]
    assert 0 < events[-1].happened.wall_us - before.happened.wall_us < 3600 * 1_000_000


def test_a_rehearsal_is_exported_under_no_other_name(tmp_path: Path) -> None:
    with rehearsal(tmp_path / "ledger", "--pace", "1000") as terminal:
        terminal.wait_for("closed and sealed", patience=60)
        key = Nurse(terminal).key
    out = tmp_path / "out"
    words = [
        "export",
        key,
        "--profile",
        "hospital",
        "--as",
        "json",
        "--as",
        "csv",
        "--to",
        str(out),
        "--ledger",
        str(tmp_path / "ledger"),
    ]
    done = subprocess.run(labcheck(*words), capture_output=True, text=True, timeout=120, check=False)
    assert done.returncode == 0, done.stderr
    assert {path.name for path in out.iterdir()} == {f"REHEARSAL-{key}.json", f"REHEARSAL-{key}-csv"}
    assert "true" in json.dumps(json.loads((out / f"REHEARSAL-{key}.json").read_bytes())["case"])


def test_a_shipped_rehearsal_may_be_named_without_a_path(tmp_path: Path) -> None:
    with rehearsal(tmp_path / "ledger", "right-then-left-bailout", "--pace", "100") as terminal:
        text = terminal.wait_for("right, then left", patience=60)
        assert "REHEARSAL" in text


def test_without_a_terminal_the_console_says_so() -> None:
    for words in (["rehearse"], []):
        done = subprocess.run(
            labcheck(*words),
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
            timeout=60,
            check=False,
        )
        assert done.returncode == 2
        assert re.fullmatch(r"labcheck: .*needs a terminal.*\n", done.stderr)
