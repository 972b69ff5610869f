"""The matrix itself: twenty-five faults, each with tests that look at all five promises.

``tests/conftest.py`` fails a test that is marked for a fault and has not looked at I1 to I5. Here: no row is without
a test that runs in the short form, and none is marked for a fault that is not in the list.
"""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOMS = (Path(__file__).parent, Path(__file__).parents[1] / "terminal")
FAULTS = {
    1: "killed at random",
    2: "power cut at each operation",
    3: "power cut during the first creation",
    4: "the n-th sync fails",
    5: "the n-th write finds the disk full",
    6: "no room at the start",
    7: "no room for what leaves",
    8: "a sync takes two seconds",
    9: "a second console on the same case",
    10: "a takeover while the first console is stopped",
    11: "the lock file is deleted",
    12: "another program holds the file",
    13: "a key pressed twice within 300 ms",
    14: "the wall clock is set in mid-case",
    15: "summer time begins or ends in mid-case",
    16: "the machine sleeps",
    17: "the machine restarts in mid-case",
    18: "the console is stopped",
    19: "the log file is deleted after a crash",
    20: "flipped bits",
    21: "tampering",
    22: "a guard is missing",
    23: "a network file system, or a folder that cannot be written",
    24: "a hostile checklist",
    25: "text that acts, in every field",
}


def marked(path: Path) -> Iterator[tuple[int, bool]]:
    """Every row that a test of this file is marked for, and whether that test runs in the short form."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    whole = rows_in(*(node.value for node in tree.body if isinstance(node, ast.Assign)))
    for test in tree.body:
        if isinstance(test, ast.FunctionDef) and test.name.startswith("test_"):
            named = [ast.unparse(mark) for mark in test.decorator_list]
            for row in {*whole, *rows_in(*test.decorator_list)}:
                yield row, "long_only" not in named


def rows_in(*nodes: ast.expr) -> set[int]:
    """The numbers in every ``pytest.mark.fault(...)`` below."""
    return {
        argument.value
        for node in nodes
        for call in ast.walk(node)
        if isinstance(call, ast.Call) and ast.unparse(call.func) == "pytest.mark.fault"
        for argument in call.args
        if isinstance(argument, ast.Constant) and isinstance(argument.value, int)
    }


def test_every_fault_has_a_test_in_the_short_form_and_no_other_is_named() -> None:
    found = [mark for room in ROOMS for path in sorted(room.glob("test_*.py")) for mark in marked(path)]
    assert {row for row, short in found if short} == FAULTS.keys()
    assert {row for row, _ in found} == FAULTS.keys()


def test_a_row_that_does_not_look_at_every_promise_is_failed(tmp_path: Path) -> None:
    """The guard of ``tests/conftest.py`` itself, in a run of its own."""
    root = Path(__file__).parents[2]
    (tmp_path / "tests").mkdir()
    (tmp_path / "tests" / "conftest.py").write_bytes((root / "tests" / "conftest.py").read_bytes())
    (tmp_path / "tests" / "test_lazy.py").write_text(
        "import pytest\n@pytest.mark.fault(1)\ndef test_lazy() -> None:\n    pass\n", encoding="utf-8"
    )
    done = subprocess.run(
        [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", f"--rootdir={tmp_path}", str(tmp_path)],
        capture_output=True,
        text=True,
        check=False,
        cwd=tmp_path,
        env={"PYTHONPATH": str(root), "PATH": ""},
    )
    assert done.returncode == 1
    assert "does not look at I1, I2, I3, I4, I5" in done.stdout


@pytest.mark.parametrize("row", FAULTS)
def test_the_files_are_named_after_their_faults(row: int) -> None:
    names = [path.name for path in ROOMS[0].glob("test_*.py")]
    assert any(
        int(parts[1]) <= row <= int(parts[2] if parts[2].isdigit() else parts[1])
        for parts in (name.removesuffix(".py").split("_") for name in names)
        if parts[1].isdigit()
    )
