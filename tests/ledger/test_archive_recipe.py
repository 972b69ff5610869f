"""The recipe for proving an archive without labcheck, carried out as written, with the standard library only."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

from labcheck.ledger.archive import archive
from labcheck.ledger.store import open_ledger
from tests.faults.flips import make_plain
from tests.faults.tampering import CHAIN_SHOWS, ONLY_A_HEAD_SHOWS, Change, unguarded
from tests.ledger.making import CASE

RECIPE = Path(__file__).parents[2] / "exports" / "archive-recipe.md"


@pytest.fixture
def archived(tmp_path: Path) -> Path:
    """An archive of a finished case, alone in a folder."""
    make_plain(tmp_path / "ledger")
    ledger = open_ledger(tmp_path / "ledger")
    (tmp_path / "alone").mkdir()
    archive(ledger, CASE, tmp_path / "alone" / "case.db")
    ledger.close()
    return tmp_path / "alone" / "case.db"


def carried_out(file: Path) -> subprocess.CompletedProcess[str]:
    """Run the recipe's program; -I and -S keep every installed package away."""
    (program,) = re.findall(r"```python\n(.*?)```", RECIPE.read_text(encoding="utf-8"), re.DOTALL)
    path = file.parent / "prove.py"
    path.write_text(program, encoding="utf-8")
    return subprocess.run(
        [sys.executable, "-I", "-S", str(path), str(file)],
        capture_output=True,
        text=True,
        check=False,
        cwd=file.parent,
    )


def test_the_recipe_proves_an_archive_and_prints_the_head_on_paper(archived: Path, tmp_path: Path) -> None:
    ledger = open_ledger(tmp_path / "ledger")
    head = ledger.head(CASE)
    ledger.close()
    run = carried_out(archived)
    assert run.returncode == 0, run.stderr
    assert run.stdout.splitlines() == [
        f"sealed after 11 entries, head {head.short}",
        f"{CASE}: 12 entries, head {head.short}",
    ]


@pytest.mark.parametrize("change", CHAIN_SHOWS, ids=lambda change: change.__name__)
def test_the_recipe_finds_tampering(archived: Path, change: Change) -> None:
    with unguarded(archived) as connection:
        change(connection)
    run = carried_out(archived)
    assert run.returncode != 0
    assert "does not prove itself" in run.stderr


@pytest.mark.parametrize("change", ONLY_A_HEAD_SHOWS, ids=lambda change: change.__name__)
def test_the_recipe_shows_another_head_where_only_the_head_can_tell(archived: Path, change: Change) -> None:
    before = carried_out(archived).stdout
    with unguarded(archived) as connection:
        change(connection)
    run = carried_out(archived)
    assert run.returncode == 0
    assert run.stdout.splitlines()[-1] != before.splitlines()[-1]


def test_the_recipe_says_that_an_archive_is_empty(archived: Path) -> None:
    with unguarded(archived) as connection:
        connection.execute("DELETE FROM event")
    assert carried_out(archived).stderr == "the file holds no entry\n"


def test_the_recipe_finds_another_checklist(archived: Path) -> None:
    with unguarded(archived) as connection:
        connection.execute("UPDATE checklist SET text = x'00'")
    assert "checklist" in carried_out(archived).stderr
