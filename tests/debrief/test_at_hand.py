"""Own history for the console: from kept figures alone, and honest about those that are not there."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from labcheck.caselog.folding import begin, refold
from labcheck.checklist.reading import read_checklist
from labcheck.debrief import kept
from labcheck.debrief.at_hand import history_at_hand
from labcheck.debrief.rereading import reread
from labcheck.ledger.resume import load
from labcheck.ledger.store import FileLedger, open_ledger
from tests.bench.debriefing import fill
from tests.debrief.cases import TWO, key, put

CASES = 4


@pytest.fixture(scope="module")
def shelf(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Four real cases of two cusps, a rehearsal of two, and no kept figures."""
    made = tmp_path_factory.mktemp("hand") / "ledger"
    fill(made, CASES, 0)
    put(made, TWO, "RRRR-RR")
    return made


@pytest.fixture
def folder(shelf: Path, tmp_path: Path) -> Path:
    """A copy of its own."""
    return Path(shutil.copytree(shelf, tmp_path / "ledger"))


def at_hand(folder: Path, ledger: FileLedger) -> tuple[list[str], int]:
    loaded = load(ledger, key(CASES - 1))
    case = refold(begin(key(CASES - 1), read_checklist(loaded.checklist, "x")), loaded.events)
    found, without = history_at_hand(ledger, folder, case, ledger.head(case.key).hash_hex)
    return [one.case for one in found.earlier], without


def test_only_kept_figures_are_used_and_the_others_counted(folder: Path) -> None:
    ledger = open_ledger(folder, read_only=True)
    assert at_hand(folder, ledger) == ([], CASES - 1)
    assert not (folder / kept.NAME).exists()
    heads = {key(n): ledger.head(key(n)).hash_hex for n in range(2)}
    kept.keep(folder, map(kept.written, reread(folder, heads).values()))
    assert at_hand(folder, ledger) == ([key(0), key(1)], CASES - 3)
    ledger.close()


def test_a_faulty_agreement_does_not_keep_the_screen_away(folder: Path) -> None:
    ledger = open_ledger(folder, read_only=True)
    heads = {key(n): ledger.head(key(n)).hash_hex for n in range(CASES)}
    kept.keep(folder, map(kept.written, reread(folder, heads).values()))
    (folder / "debrief.toml").write_text("surprise = 1\n")
    assert at_hand(folder, ledger) == ([key(n) for n in range(CASES - 1)], 0)
    ledger.close()
