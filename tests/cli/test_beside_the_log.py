"""What stands beside the log: debrief notes in verify, archive and rebuild; and all stored rows in one CSV."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from labcheck.cli import main
from labcheck.debrief.notebook import NAME, read_notes

PAPER = Path(__file__).parents[2] / "checklists" / "rehearsals" / "paper-record.toml"


@pytest.fixture
def ledger(tmp_path: Path) -> Path:
    return tmp_path / "ledger"


@pytest.fixture
def key(ledger: Path, capsys: pytest.CaptureFixture[str]) -> str:
    """A case with one debrief note."""
    assert main(["transcribe", str(PAPER), "--ledger", str(ledger)]) == 0
    key = capsys.readouterr().out.split(":")[0]
    assert main(["debrief", key, "--learned", "the second wire was ready late", "--ledger", str(ledger)]) == 0
    capsys.readouterr()
    return key


def test_verify_proves_the_debrief_notes_apart_from_the_log(
    ledger: Path, key: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["verify", "--ledger", str(ledger)]) == 0
    assert "1 debrief notes, their own trail proved" in capsys.readouterr().out
    notes = ledger / NAME
    notes.write_bytes(notes.read_bytes().replace(b"second", b"first"))
    assert main(["verify", "--ledger", str(ledger)]) == 1
    told = capsys.readouterr()
    assert "debrief notes: " in told.err
    assert f"{key} " in told.out


def test_an_archive_says_that_the_debrief_notes_are_not_in_it(
    ledger: Path, key: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["archive", key, "--to", str(tmp_path / "one.case"), "--ledger", str(ledger)]) == 0
    assert (
        f"not in it: 1 debrief notes of this case, which stay in {ledger / NAME}" in capsys.readouterr().out
    )


def test_a_rebuilt_ledger_keeps_what_people_wrote_beside_the_old_one(
    ledger: Path, key: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (ledger / "debrief.toml").write_text("# agreed\n")
    (ledger / "debrief-summaries.jsonl").write_text("figures\n")
    (ledger / f"unsaved-{key}.jsonl").write_text("{}\n")
    new = tmp_path / "new"
    assert main(["rebuild", "--to", str(new), "--ledger", str(ledger)]) == 0
    assert read_notes(new) == read_notes(ledger)
    told = capsys.readouterr().out
    for name in (NAME, "debrief.toml", "debrief-summaries.jsonl", f"unsaved-{key}.jsonl"):
        assert f"{name}: taken over as it was" in told
        assert (new / name).read_bytes() == (ledger / name).read_bytes()
        assert (new / name).stat().st_mode & 0o777 == 0o600


def test_all_rows_leave_in_one_csv_under_a_name_that_says_what_they_are(
    ledger: Path, key: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "out"
    words = ["events", "--profile", "hospital", "--to", str(out), "--ledger", str(ledger)]
    assert main([*words, "--rehearsals"]) == 0
    assert "1 case, " in capsys.readouterr().out
    with (out / "REHEARSAL-events.csv").open(newline="") as file:
        assert {row["case"] for row in csv.DictReader(file)} == {key}
    assert [path.name for path in out.iterdir()] == ["REHEARSAL-events.csv"]
    assert main(words) == 0
    with (out / "events.csv").open(newline="") as file:
        assert list(csv.DictReader(file)) == []


def test_a_case_that_does_not_prove_itself_is_left_out_of_the_csv(
    ledger: Path, key: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    log = ledger / "mirror" / f"{key}.log"
    log.write_bytes(log.read_bytes().replace(b"live", b"late", 1))
    words = ["events", "--profile", "hospital", "--to", str(tmp_path / "out"), "--ledger", str(ledger)]
    assert main([*words, "--rehearsals"]) == 1
    assert f"left out: case {key}" in capsys.readouterr().err


def test_the_csv_of_all_rows_is_never_written_without_naming_the_profile(
    ledger: Path, key: str, tmp_path: Path
) -> None:
    assert main(["events", "--to", str(tmp_path / "out"), "--ledger", str(ledger)]) == 2
    assert not (tmp_path / "out").exists()
