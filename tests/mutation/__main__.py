"""``python -m tests.mutation FILE... --tests PATH...``: change the program a little and see which test notices.

Works in a copy of the tree, tries one mutant at a time, and changes no file. ``--sample N`` tries N of each file,
drawn by ``--seed``; tests longer than ``--longest`` seconds are not asked. Prints each mutant that no test noticed,
then a table. A mutant that survives is either the same program in other words, or a fact that no test states.
"""

from __future__ import annotations

import argparse
import json
import os
import shutil
import subprocess
import sys
import tempfile
from collections import Counter
from pathlib import Path
from typing import Any

TOP = Path(__file__).resolve().parents[2]
COPIED = ("labcheck", "tests", "checklists", "exports", "pyproject.toml", "README.md", "DEVELOPERS.md")


def main() -> None:
    """Copy, try, tell."""
    asked = argparse.ArgumentParser(prog="python -m tests.mutation", description=__doc__)
    asked.add_argument("files", nargs="+", help="files of labcheck, as paths from the top of the tree")
    asked.add_argument("--tests", nargs="+", required=True, help="what pytest is to run")
    asked.add_argument("--sample", default="0", help="mutants per file, 0 for all")
    asked.add_argument("--seed", default="1")
    asked.add_argument("--longest", default="1.0", help="seconds (traced) of the longest test that is asked")
    asked.add_argument("--budget", default="30.0", help="seconds (traced) of tests asked about one mutant")
    asked.add_argument("--part", choices=("inside", "outside", "both"), default="both", help="of functions")
    chosen = asked.parse_args()
    with tempfile.TemporaryDirectory() as temporary:
        copy = Path(temporary) / "copy"
        _copy_to(copy)
        options = [f"--{name}={getattr(chosen, name)}" for name in ("sample", "seed", "longest", "budget", "part")]
        command = [sys.executable, "-m", "tests.mutation.trial", *chosen.files, *options, "--tests", *chosen.tests]
        told = copy / "trials.jsonl"
        told.touch()
        subprocess.run(
            command, cwd=copy, env={**os.environ, "PYTHONPATH": str(copy)}, stdout=subprocess.DEVNULL, check=True
        )
        tell([json.loads(line) for line in told.read_text().splitlines()])


def _copy_to(copy: Path) -> None:
    copy.mkdir()
    for name in COPIED:
        source = TOP / name
        if source.is_dir():
            shutil.copytree(source, copy / name, ignore=shutil.ignore_patterns("__pycache__", "node_modules"))
        elif source.exists():
            shutil.copy(source, copy / name)


def tell(trials: list[dict[str, Any]]) -> None:
    """The survivors, and how many there were of each kind in each file."""
    for trial in trials:
        if trial["verdict"] != "killed":
            print(f"{trial['file']}:{trial['line']}: {trial['verdict']}: {trial['what']}  {trial['by']}".rstrip())
    counted = Counter((trial["file"], trial["verdict"]) for trial in trials)
    print(f"\n{'file':50}{'mutants':>9}{'killed':>9}{'survived':>9}")
    for file in dict.fromkeys(trial["file"] for trial in trials):
        killed, survived = counted[file, "killed"], counted[file, "survived"]
        print(f"{file:50}{killed + survived:9}{killed:9}{survived:9}")


if __name__ == "__main__":
    main()
