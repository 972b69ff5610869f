"""``labcheck transcribe``: a paper record goes in whole or not at all, and says that it came from paper."""

from __future__ import annotations

import stat
from pathlib import Path

import pytest

from labcheck.cli import main
from labcheck.commands import shelf
from labcheck.debrief.kept import read_line, read_lines
from labcheck.debrief.rereading import reread_one
from labcheck.ledger import store
from labcheck.ledger.errors import NotSaved
from labcheck.ledger.store import open_ledger

PAPER = Path(__file__).parents[2] / "checklists" / "rehearsals" / "paper-record.toml"


def transcribe(script: Path, ledger: Path) -> int:
    return main(["transcribe", str(script), "--ledger", str(ledger)])


def test_every_entry_is_marked_transcribed_and_keeps_the_paper_s_time(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert transcribe(PAPER, tmp_path / "ledger") == 0
    key = capsys.readouterr().out.split(":")[0]
    ledger = open_ledger(tmp_path / "ledger", read_only=True)
    events = ledger.events(key)
    ledger.close()
    assert {event.mode for event in events} == {"transcribed"}
    assert all(event.happened.boot_us is None and event.happened.off_s == 7200 for event in events)
    assert all(event.entered.boot_us > 0 for event in events)
    assert events[-1].kind == "case.sealed"


def test_a_transcribed_case_is_listed_and_marked_as_rehearsal(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    transcribe(PAPER, tmp_path / "ledger")
    key = capsys.readouterr().out.split(":")[0]
    assert main(["cases", "--ledger", str(tmp_path / "ledger")]) == 0
    line = capsys.readouterr().out
    assert line.startswith(key)
    assert "2024-04-10 07:55 +0200" in line
    assert "REHEARSAL" in line
    assert "sealed" in line


def test_a_refused_entry_leaves_nothing_of_the_others(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = PAPER.read_text(encoding="utf-8").replace('step = "counts" }', 'step = "count" }')
    wrong = tmp_path / "wrong.toml"
    wrong.write_text(text, encoding="utf-8")
    assert transcribe(wrong, tmp_path / "ledger") == 2
    err = capsys.readouterr().err
    assert "wrong.toml: entry 40 (09:02)" in err
    assert err.count("\n") == 1
    ledger = open_ledger(tmp_path / "ledger")
    assert ledger.cases() == []
    ledger.close()


def test_a_script_that_cannot_be_read_makes_no_ledger(tmp_path: Path) -> None:
    wrong = tmp_path / "wrong.toml"
    wrong.write_text("format = 1\nentry = 3\n")
    assert transcribe(wrong, tmp_path / "ledger") == 2
    assert not (tmp_path / "ledger").exists()


def test_a_disk_that_fails_half_way_leaves_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    insert = store._insert

    def failing(database, records, *, first):  # type: ignore[no-untyped-def]
        if first.seq > 30:
            raise NotSaved("disk full")
        insert(database, records, first=first)

    monkeypatch.setattr(store, "_insert", failing)
    assert transcribe(PAPER, tmp_path / "ledger") == 2
    assert "disk full" in capsys.readouterr().err
    monkeypatch.undo()
    ledger = open_ledger(tmp_path / "ledger")
    assert ledger.cases() == []
    ledger.close()


def test_a_time_still_to_come_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    later = tmp_path / "later.toml"
    later.write_text(PAPER.read_text(encoding="utf-8").replace("2024-04-10", "2198-04-10"), encoding="utf-8")
    assert transcribe(later, tmp_path / "ledger") == 2
    assert "still to come" in capsys.readouterr().err


def test_the_ledger_and_all_its_files_are_ours_alone(tmp_path: Path) -> None:
    transcribe(PAPER, tmp_path / "ledger")
    for path in [tmp_path / "ledger", *(tmp_path / "ledger").rglob("*")]:
        assert stat.S_IMODE(path.stat().st_mode) & 0o077 == 0, path


def test_two_transcriptions_of_one_script_are_two_cases(tmp_path: Path) -> None:
    transcribe(PAPER, tmp_path / "ledger")
    transcribe(PAPER, tmp_path / "ledger")
    ledger = open_ledger(tmp_path / "ledger", read_only=True)
    assert len({line.case for line in ledger.cases()}) == 2
    ledger.close()


def test_cases_of_a_folder_without_a_ledger_is_wrong_use(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["cases", "--ledger", str(tmp_path)]) == 2
    assert "--ledger" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_the_shelf_knows_what_is_shipped() -> None:
    assert "electrosurgical" in shelf.checklist_names()
    assert shelf.DEFAULT_REHEARSAL in shelf.rehearsal_names()
    with pytest.raises(Exception, match="there are: "):
        shelf.checklist_text("../pyproject")


def test_a_transcribed_case_that_was_sealed_has_its_figures_kept_for_the_next_debrief(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    transcribe(PAPER, tmp_path / "ledger")
    key = capsys.readouterr().out.split(":")[0]
    ledger = open_ledger(tmp_path / "ledger", read_only=True)
    head = ledger.head(key).hash_hex
    ledger.close()
    kept = read_line(read_lines(tmp_path / "ledger")[key], key, head)
    assert kept is not None
    assert kept == reread_one(tmp_path / "ledger", key, head)
